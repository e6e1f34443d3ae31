"""The pages of evidence in a summary: a page as a picture with its facts framed, or the lines of a text around them."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from counterfoil.answers.pack_evidence import Exhibit, Pieces
from counterfoil.answers.pack_picture import FRAME_COLOUR, Callout, PictureWithFrames
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.sheet_type import BOLD, RULE, markup, shown, style

FRAME_HEX, _MARKED_HEX = FRAME_COLOUR.hexval(), "#FBE3DC"
#: Left free below a picture: for its title, and for the list of files behind the last one.
_BESIDE_PICTURE = 62 * mm
#: Blanks at the begin of a line that are kept.
_MOST_BLANKS = 8

Commands = list[tuple[object, ...]]


def exhibit_page(exhibit: Exhibit, width: float, height: float) -> list[Flowable]:
    """Set one piece of evidence: its title, the picture or the excerpt, and what each number is.

    Args:
        exhibit: what to show.
        width: of the text on the page, in points.
        height: of the text on the page, in points.
    """
    about = ", ".join(text for text in (exhibit.subject, exhibit.received and f"received {exhibit.received}") if text)
    head: list[Flowable] = [
        Paragraph(f"Evidence: {markup(exhibit.title)}", style("head")),
        Paragraph(markup(about), style("label")),
        Spacer(0, 3 * mm),
    ]
    marks = [Callout(mark.number, KIND_WORDS[mark.kind], shown(mark.value)) for mark in exhibit.marks]
    if exhibit.picture is not None:
        return [*head, PictureWithFrames(exhibit.picture, marks, width, height - _BESIDE_PICTURE)]
    lines = [_excerpt_line(pieces) for pieces in exhibit.lines]
    bar: Commands = [
        ("LINEBEFORE", (0, 0), (0, -1), 1.2, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 9),
        *padding(0.5, 0.5),
    ]
    text = Table([[line] for line in lines], colWidths=[width], style=bar)
    return [*head, text, Spacer(0, 4 * mm), _legend(marks, width)]


def _excerpt_line(pieces: Pieces | None) -> Paragraph:
    if pieces is None:
        return Paragraph("…", style("label"))
    said = ""
    for text, number in pieces:
        plain = _kept(text)
        if number is None:
            said += plain
        else:
            raised = f"<super><font name='{BOLD}' color='{FRAME_HEX}' size='6.5'> {number}</font></super>"
            said += f"<font name='{BOLD}' backColor='{_MARKED_HEX}'>{plain}</font>{raised}"
    return Paragraph(said or "&nbsp;", style("value"))


def _kept(text: str) -> str:
    """Return a piece of a line as a paragraph takes it, its blanks at both ends kept."""
    wide = text.replace("\t", "    ")
    left, right = len(wide) - len(wide.lstrip()), len(wide) - len(wide.rstrip())
    middle = markup(wide)
    return f"{'&nbsp;' * min(left, 8)}{middle}{' ' * bool(middle and right)}"


def _legend(marks: Sequence[Callout], width: float) -> Table:
    """What the numbers are, three beside each other."""
    cells: list[list[object]] = []
    for n, mark in enumerate(marks):
        label = Paragraph(f"<font name='{BOLD}' color='{FRAME_HEX}'>{mark.number}</font>  {mark.label}", style("label"))
        if n % 3 == 0:
            cells.append(["", "", ""])
        cells[-1][n % 3] = [label, Paragraph(markup(mark.value), style("value"))]
    commands: Commands = [
        ("LINEABOVE", (0, 0), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        *padding(2, 4),
    ]
    return Table(cells, colWidths=[width / 3] * 3, style=commands)


def cell(text: str, name: str = "cell") -> Paragraph:
    """Return a text for the cell of a table."""
    return Paragraph(markup(text), style(name))


def padding(above: float, below: float) -> Commands:
    """Return the table commands for space inside every cell, in points; texts stand at the top."""
    whole = (0, 0), (-1, -1)
    return [("TOPPADDING", *whole, above), ("BOTTOMPADDING", *whole, below), ("VALIGN", *whole, "TOP")]
