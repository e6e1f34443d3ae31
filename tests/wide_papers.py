"""Thirteen ways to lay labels and values out on a page, drawn with reportlab."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfgen.canvas import Canvas

Row = tuple[str, str]
_TOP, _STEP, _LEFT, _VALUES = 720, 20, 60, 260
_JAPANESE = "HeiseiKakuGo-W5"


class Page:
    """A page with one font that has the letters of the language."""

    def __init__(self, canvas: Canvas, font: str) -> None:
        self.canvas, self.font = canvas, font

    def put(self, x: float, y: float, text: str, size: float = 10) -> None:
        """Draw a text at its left edge."""
        self.canvas.setFont(self.font, size)
        self.canvas.drawString(x, y, text)

    def put_right(self, x: float, y: float, text: str) -> None:
        """Draw a text at its right edge."""
        self.canvas.setFont(self.font, 10)
        self.canvas.drawRightString(x, y, text)


Layout = Callable[[Page, Sequence[Row]], None]


def _y(n: int) -> float:
    return _TOP - _STEP * n


def one_string(page: Page, rows: Sequence[Row]) -> None:
    """Label and value in one string."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _y(n), f"{label}: {value}")


def beside(page: Page, rows: Sequence[Row]) -> None:
    """Label, colon, value in a second column."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _y(n), f"{label}:")
        page.put(_VALUES, _y(n), value)


def labels_first(page: Page, rows: Sequence[Row]) -> None:
    """All labels are drawn before all values."""
    for n, (label, _) in enumerate(rows):
        page.put(_LEFT, _y(n), label)
    for n, (_, value) in enumerate(rows):
        page.put(_VALUES, _y(n), value)


def backwards(page: Page, rows: Sequence[Row]) -> None:
    """Drawn from the bottom up, values first."""
    for n, (label, value) in reversed(list(enumerate(rows))):
        page.put(_VALUES, _y(n), value)
        page.put(_LEFT, _y(n), label)


def right_aligned(page: Page, rows: Sequence[Row]) -> None:
    """Values set flush right."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _y(n), label)
        page.put_right(530, _y(n), value)


def labels_right(page: Page, rows: Sequence[Row]) -> None:
    """Labels flush right against their values."""
    for n, (label, value) in enumerate(rows):
        page.put_right(240, _y(n), label)
        page.put(256, _y(n), value)


def leaders(page: Page, rows: Sequence[Row]) -> None:
    """Dots between label and value."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _y(n), f"{label} {'.' * 30}")
        page.put(360, _y(n), value)


def big_values(page: Page, rows: Sequence[Row]) -> None:
    """Values in larger type on the same base line."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _y(n), label, 9)
        page.put(_VALUES, _y(n), value, 13)


def ruled(page: Page, rows: Sequence[Row]) -> None:
    """A ruled table."""
    for n, (label, value) in enumerate(rows):
        page.canvas.rect(_LEFT - 5, _y(n) - 6, 195, _STEP)
        page.canvas.rect(_VALUES - 10, _y(n) - 6, 260, _STEP)
        page.put(_LEFT, _y(n), label)
        page.put(_VALUES, _y(n), value)


def under(page: Page, rows: Sequence[Row]) -> None:
    """The value stands under its label."""
    for n, (label, value) in enumerate(rows):
        page.put(_LEFT, _TOP - 34 * n, label, 8)
        page.put(_LEFT, _TOP - 34 * n - 12, value)


def two_columns(page: Page, rows: Sequence[Row]) -> None:
    """Two pairs side by side, values under labels."""
    for n, (label, value) in enumerate(rows):
        x, y = _LEFT + 260 * (n % 2), _TOP - 36 * (n // 2)
        page.put(x, y, label, 8)
        page.put(x, y - 12, value)


def two_pairs(page: Page, rows: Sequence[Row]) -> None:
    """Two pairs in a line, each value beside its label."""
    for n, (label, value) in enumerate(rows):
        x, y = 30 + 280 * (n % 2), _y(n // 2)
        page.put(x, y, f"{label}:", 8)
        page.put(x + 140, y, value, 8)


def broken_code(page: Page, rows: Sequence[Row]) -> None:
    """Long codes go on in the next line behind a hyphen."""
    y = float(_TOP)
    for label, value in rows:
        page.put(_LEFT, y, label)
        if value.count("-") >= 2 and len(value) > 14 and not value.startswith("20"):
            head, _, tail = value.rpartition("-")
            page.put(_VALUES, y, f"{head}-")
            y -= 13
            page.put(_VALUES, y, tail)
        else:
            page.put(_VALUES, y, value)
        y -= _STEP


LAYOUTS: tuple[Layout, ...] = (
    one_string, beside, labels_first, backwards, right_aligned, labels_right, leaders, big_values, ruled, under,
    two_columns, two_pairs, broken_code,
)  # fmt: skip


def paper(title: str, rows: Sequence[Row], layout: Layout, language: str) -> bytes:
    """Return a one-page PDF.

    Czech and Polish letters are printed without their marks, as makers do whose fonts lack them; so do ours.
    """
    font = "Helvetica"
    if language == "ja":
        pdfmetrics.registerFont(UnicodeCIDFont(_JAPANESE))
        font = _JAPANESE
    if language in ("cs", "pl"):
        title, rows = _plain(title), [(_plain(label), _plain(value)) for label, value in rows]
    out = BytesIO()
    canvas = Canvas(out, pagesize=(595, 842), invariant=1)
    page = Page(canvas, font)
    page.put(_LEFT, 780, title, 15)
    layout(page, rows)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text.replace("ł", "l").replace("Ł", "L"))
    return "".join(c for c in folded if not unicodedata.combining(c))
