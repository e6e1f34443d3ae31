"""Tables on a page in which what stands in a cell is wrapped, centred, stacked or close to its neighbour."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from reportlab.pdfbase.pdfmetrics import stringWidth
from wide_papers import Layout, Page, Row

_TOP, _LEFT, _SIZE, _LEADING, _PAD = 740.0, 50.0, 9.0, 11.0, 3.0
#: What stands in a cell: blocks one above the other, each wrapped by itself.
Blocks = tuple[str, ...]
#: Draws what marks a row off: the page, the row's number, left, bottom, width and height.
Drawn = Callable[[Page, int, tuple[float, float, float, float]], None]


def wrapped_values(page: Page, rows: Sequence[Row]) -> None:
    """Values wrapped in a narrow column, behind a hyphen or space where there is one."""
    _table(page, [[(label,), (value,)] for label, value in rows], (170, 62))


def values_cut(page: Page, rows: Sequence[Row]) -> None:
    """Values wrapped wherever the column ends."""
    _table(page, [[(label,), (value,)] for label, value in rows], (170, 62), anywhere=True)


def wrapped_labels(page: Page, rows: Sequence[Row]) -> None:
    """Labels wrapped in a narrow column, values in the middle of their height."""
    _table(page, [[(label,), (value,)] for label, value in rows], (48, 200), middle=True)


def both_wrapped(page: Page, rows: Sequence[Row]) -> None:
    """Labels and values wrapped, each in the middle of the height."""
    _table(page, [[(label,), (value,)] for label, value in rows], (48, 62), middle=True)


def close(page: Page, rows: Sequence[Row]) -> None:
    """Columns parted by a rule and next to no space; the label's column is as wide as the longest label."""
    width = max(stringWidth(label, page.font, _SIZE) for label, _ in rows) + 3
    _table(page, [[(label,), (value,)] for label, value in rows], (width, 200), pad=1.5)


def pairs(page: Page, rows: Sequence[Row]) -> None:
    """Two pairs of label and value in each row."""
    cells = [[(text,) for row in pair for text in row] for pair in _by(rows, 2)]
    _table(page, cells, (90, 75, 90, 75), middle=True)


def header_row(page: Page, rows: Sequence[Row]) -> None:
    """A row of labels over a row of values, four columns a table."""
    top = _TOP
    for some in _by(rows, 4):
        heads: list[Blocks] = [(label,) for label, _ in some]
        values: list[Blocks] = [(value,) for _, value in some]
        top = _table(page, [heads, values], (80,) * len(some), top=top) - 14


def boxes(page: Page, rows: Sequence[Row]) -> None:
    """Label and value above each other in a box, three boxes a row."""
    _table(page, [[(label, value) for label, value in some] for some in _by(rows, 3)], (110, 110, 110))


def narrow_boxes(page: Page, rows: Sequence[Row]) -> None:
    """The same, so narrow that both are wrapped."""
    _table(page, [[(label, value) for label, value in some] for some in _by(rows, 5)], (66,) * 5)


def level_rules(page: Page, rows: Sequence[Row]) -> None:
    """Rows parted by level rules only, values wrapped in a narrow column."""
    _table(page, [[(label,), (value,)] for label, value in rows], (170, 62), draw=_rule_under)


def shaded_rows(page: Page, rows: Sequence[Row]) -> None:
    """Every other row shaded, no rules; labels and values wrapped."""
    _table(page, [[(label,), (value,)] for label, value in rows], (70, 62), draw=_shade)


def unruled(page: Page, rows: Sequence[Row]) -> None:
    """Labels and values wrapped, and neither rules nor shading: rows stand apart by a little more room only."""
    _table(page, [[(label,), (value,)] for label, value in rows], (70, 62), draw=_nothing)


RULED: tuple[Layout, ...] = (
    wrapped_values, values_cut, wrapped_labels, both_wrapped, close, pairs, header_row, boxes, narrow_boxes,
    level_rules, shaded_rows, unruled,
)  # fmt: skip


def _by(rows: Sequence[Row], number: int) -> Iterator[Sequence[Row]]:
    for start in range(0, len(rows), number):
        yield rows[start : start + number]


def _table(
    page: Page, rows: Sequence[Sequence[Blocks]], widths: Sequence[float], *, top: float = _TOP,
    anywhere: bool = False, middle: bool = False, pad: float = _PAD, draw: Drawn | None = None,
) -> float:  # fmt: skip
    """Draw a table, with a rule around each cell where nothing else is said; return where it ends."""
    for number, row in enumerate(rows):
        room = [width - 2 * pad for width in widths]
        cells = [
            [line for block in cell for line in _wrap(page.font, block, room[n], anywhere)]
            for n, cell in enumerate(row)
        ]
        height = max(map(len, cells)) * _LEADING + 2 * pad
        left = _LEFT
        if draw is not None:
            draw(page, number, (left, top - height, sum(widths), height))
        for width, lines in zip(widths, cells, strict=False):
            if draw is None:
                page.canvas.rect(left, top - height, width, height)
            start = (height - 2 * pad - len(lines) * _LEADING) / 2 if middle else 0
            for n, line in enumerate(lines):
                page.put(left + pad, top - pad - start - _LEADING * n - _SIZE, line, _SIZE)
            left += width
        top -= height
    return top


def _rule_under(page: Page, number: int, box: tuple[float, float, float, float]) -> None:
    left, bottom, width, height = box
    for y in (bottom, bottom + height) if not number else (bottom,):
        page.canvas.line(left, y, left + width, y)


def _nothing(page: Page, number: int, box: tuple[float, float, float, float]) -> None:
    """Mark a row off by nothing."""


def _shade(page: Page, number: int, box: tuple[float, float, float, float]) -> None:
    if number % 2:
        page.canvas.setFillGray(0.9)
        page.canvas.rect(*box, stroke=0, fill=1)
        page.canvas.setFillGray(0)


def _wrap(font: str, text: str, room: float, anywhere: bool) -> list[str]:
    """Wrap behind spaces and hyphens, in the middle of a word only where it is too long for a line."""
    lines, line = [], ""
    for char in text:
        if line and stringWidth(line + char, font, _SIZE) > room:
            at = -1 if anywhere else max(line.rfind(" "), line.rfind("-"))
            at = at if at > 0 else len(line) - 1
            lines.append(line[: at + 1].strip())
            line = line[at + 1 :]
        line += char
    return [*lines, line.strip()]
