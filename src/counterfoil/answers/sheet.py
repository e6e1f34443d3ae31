"""The restore sheet on paper: A4, black on white, one tick box a step, codes large enough to be typed from.

Every character of a code stands in a column of its own; digits that look like letters are underlined once, letters
that look like digits (or like other letters) twice, and a line below says which is which. The same codes are spelled
by the ITU/ICAO words, to be read out by telephone. A sheet made twice on one day has the same bytes.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache, partial
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.colors import black
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageTemplate, Paragraph, Spacer, Table

from counterfoil.answers import aloud
from counterfoil.answers.lettering import MARK, marked
from counterfoil.answers.masking import BULLET
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.restore import RestoreSheet
from counterfoil.answers.steps import Entry, Step

MARGIN = 18 * mm
WIDTH = A4[0] - 2 * MARGIN
#: Size of codes in points: read at arm's length beside the machine.
CODE_POINTS = 19.0
_COLUMN = 0.78 * CODE_POINTS
#: Longer groups are set with gaps after every four characters.
LONGEST_GROUP = 8
_GAP = 0.62 * CODE_POINTS
_ROW = 1.5 * CODE_POINTS
_NUMBER, _BOX = 9 * mm, 8 * mm

_LOOKALIKE_LEGEND = (
    "In codes, characters that can be taken for others are underlined: digits once, letters twice. Separators stand as "
    "in the confirmation; the machine may set them by itself. Gaps are for the eye only."
)
_LETTERS_NOTE = f"{MARK} Written here without letters that this sheet's type lacks; the profile has the right spelling."
_MASKED_NOTE = "Codes are masked on this sheet. Print it with --reveal and a reason to have them in full."


def make_pdf(sheet: RestoreSheet, *, shop_name: str, printed: date) -> bytes:
    """Set the restore sheet.

    Args:
        sheet: what to print; its codes are printed as they are in it, masked or not.
        shop_name: stands at the head of every page.
        printed: the day, at the foot of every page.

    Returns:
        The bytes of a PDF, A4.
    """
    glyphs()
    buffer = BytesIO()
    story = _story(sheet)
    document = BaseDocTemplate(
        buffer,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=24 * mm,
        bottomMargin=18.5 * mm,
        title=_shown(f"Restore sheet {sheet.machine}"),
        author=_shown(shop_name),
        invariant=1,
        initialFontName="Vera",
    )
    frame = Frame(MARGIN, document.bottomMargin, WIDTH, document.height, 0, 0, 0, 0)
    dress = partial(_dress, sheet=sheet, shop_name=shop_name, printed=printed)
    document.addPageTemplates([PageTemplate("sheet", [frame], onPage=dress)])
    document.build(story, canvasmaker=_NumberedCanvas)
    return buffer.getvalue()


class _NumberedCanvas(Canvas):  # type: ignore[misc]  # reportlab has no types
    """A canvas that knows the number of pages when it writes their numbers."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._pages: list[dict[str, object]] = []

    def showPage(self) -> None:  # noqa: N802 - the name is reportlab's
        """Keep the page until the number of pages is known."""
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write the pages kept, each with its number."""
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self.setFont("Vera", 8)
            self.drawRightString(A4[0] - MARGIN, 11 * mm, f"Page {number} of {len(self._pages)}")
            super().showPage()
        super().save()


class CodeBlock(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A code in large characters of one width, broken between groups only where a line is full."""

    def __init__(self, code: str) -> None:
        super().__init__()
        self._code = code
        self._laid: list[list[tuple[float, str]]] = []

    def wrap(self, available: float, _height: float) -> tuple[float, float]:
        """Lay the code out; return its width and height."""
        self._laid = _rows(self._code, available)
        return available, len(self._laid) * _ROW + 2

    def draw(self) -> None:
        """Draw every character and the lines under look-alikes."""
        for number, row in enumerate(self._laid, start=1):
            y = 2 + (len(self._laid) - number) * _ROW + CODE_POINTS * 0.42
            for x, character in row:
                self._character(self.canv, x, y, character)

    def _character(self, canvas: Canvas, x: float, y: float, character: str) -> None:
        if character == BULLET:
            canvas.circle(x + _COLUMN / 2, y + CODE_POINTS * 0.3, CODE_POINTS * 0.13, stroke=0, fill=1)
            return
        if ord(character) < 128:
            canvas.setFont("Courier-Bold", CODE_POINTS)
        else:
            canvas.setFont("VeraBd", CODE_POINTS * 0.8)
        canvas.drawCentredString(x + _COLUMN / 2, y, character)
        if not aloud.is_lookalike(character):
            return
        canvas.setLineWidth(0.9)
        for line in range(1 if character.isdigit() else 2):
            below = y - CODE_POINTS * (0.16 + 0.12 * line)
            canvas.line(x + 1.5, below, x + _COLUMN - 1.5, below)


class _TickBox(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A square to be ticked by hand."""

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return _BOX, 5 * mm

    def draw(self) -> None:
        """Draw the square."""
        self.canv.setLineWidth(1)
        self.canv.rect(0, 0.4 * mm, 4.2 * mm, 4.2 * mm, stroke=1, fill=0)


def _rows(code: str, available: float) -> list[list[tuple[float, str]]]:
    """Lay a code out: pieces stay whole, a separator stands at the end of its group."""
    rows: list[list[tuple[float, str]]] = [[]]
    x = 0.0
    for piece in _pieces(code):
        width = sum(_step_width(c) for c in piece.rstrip())
        if rows[-1] and x + width > available:
            rows.append([])
            x = 0.0
        for character in piece:
            step = _step_width(character)
            if not character.isspace():
                rows[-1].append((x - (_COLUMN - step) / 2, character))
            x += step
    return rows


def _step_width(character: str) -> float:
    return _COLUMN if character.isalnum() or character == BULLET else _GAP


def _pieces(code: str) -> list[str]:
    """Cut a code behind each separator, and groups too long for the eye into fours with a gap."""
    pieces: list[str] = []
    for group, separator in re.findall(r"([^\W_]*(?:•[^\W_]*)*)([^\w•]|_|$)", code):
        fours = [group[at : at + 4] for at in range(0, len(group), 4)] if len(group) > LONGEST_GROUP else [group]
        pieces += [f"{four} " for four in fours[:-1]] + [fours[-1] + separator]
    return [piece for piece in pieces if piece.strip()]


def _story(sheet: RestoreSheet) -> list[Flowable]:
    story: list[Flowable] = [
        Paragraph("Restore sheet", _style("title")),
        _facts(sheet),
        Spacer(0, 4 * mm),
        _cautions(sheet),
    ]
    if sheet.revealed is None and sheet.upgrades:
        story += [Spacer(0, 3 * mm), Paragraph(_MASKED_NOTE, _style("strong"))]
    story += [Spacer(0, 3.5 * mm), Paragraph("Steps", _style("head")), Paragraph(_LOOKALIKE_LEGEND, _style("small"))]
    story.append(Spacer(0, 2 * mm))
    for number, step in enumerate(sheet.steps, start=1):
        if step.barred and not (number > 1 and sheet.steps[number - 2].barred):
            story += [Spacer(0, 3 * mm), Paragraph("Not to be entered", _style("head"))]
        story += [_step(number, step), Spacer(0, 1.8 * mm)]
    story += [Spacer(0, 2 * mm), KeepTogether(_closing(sheet))]
    return story


def _facts(sheet: RestoreSheet) -> Table:
    """The head of the sheet: which machine, whose, which firmware."""
    firmware = "none noted"
    if sheet.firmware is not None:
        firmware = f"{sheet.firmware.version}, noted on {sheet.firmware.noted[:10]}"
    if sheet.needs_firmware is not None:
        firmware += f"; the upgrades need {sheet.needs_firmware} or newer"
    name = " ".join(text for text in (sheet.maker, sheet.model) if text) or "not on record"
    holder = "nobody on record"
    if sheet.customer is not None:
        holder = f"{_shown(sheet.holder or '')} ({sheet.customer})"
    serial = f"serial number {sheet.serial_number or 'not on record'}"
    rows = [
        ("Machine", f"<font name='VeraBd'>{_text(name)}</font> ({sheet.machine}), {_text(serial)}"),
        ("Who has it now", escape(holder)),
        ("Machine ID", f"<font name='VeraBd'>{_text(sheet.machine_id or 'not on record')}</font>"),
        ("Firmware", _text(firmware)),
    ]
    cells = [[Paragraph(label, _style("label")), Paragraph(text, _style("body"))] for label, text in rows]
    style = [("LINEBELOW", (0, 0), (-1, -1), 0.4, black), ("LEFTPADDING", (0, 0), (0, -1), 0), *_padding(2.5, 3.5)]
    return Table(cells, colWidths=[34 * mm, WIDTH - 34 * mm], style=style)


def _cautions(sheet: RestoreSheet) -> Table:
    lines = [Paragraph("Caution", _style("head"))]
    lines += [Paragraph(_text(text), _style("bullet"), bulletText="–") for text in sheet.cautions]
    style = [("BOX", (0, 0), (-1, -1), 1.4, black), ("LEFTPADDING", (0, 0), (-1, -1), 10), *_padding(6, 7)]
    return Table([[lines]], colWidths=[WIDTH], style=style)


def _step(number: int, step: Step) -> Table:
    """One step: tick box, number, what to do, and the codes; rows never split from their box."""
    said = [
        Paragraph(f"{number}.", _style("strong")),
        Paragraph(_text(step.text), _style("strong" if step.barred else "body")),
    ]
    rows: list[list[object]] = [[_TickBox(), *said]]
    rows += [["", "", _entry(entry)] for entry in step.entries]
    style: list[tuple[object, ...]] = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0)]
    style += [("NOSPLIT", (0, row), (-1, row + 1)) for row in range(len(rows) - 1)]
    return Table(rows, colWidths=[_BOX, _NUMBER, WIDTH - _BOX - _NUMBER], style=[*style, *_padding(1.5, 1.5)])


def _padding(above: float, below: float) -> list[tuple[object, ...]]:
    """Return the table commands for space inside every cell, in points; texts stand at the top."""
    whole = (0, 0), (-1, -1)
    return [("TOPPADDING", *whole, above), ("BOTTOMPADDING", *whole, below), ("VALIGN", *whole, "TOP")]


def _entry(entry: Entry) -> list[Flowable]:
    """A code to enter: what it is, its characters, its look-alikes, its spelling words."""
    parts: list[Flowable] = [Paragraph(_capital(KIND_WORDS[entry.kind]), _style("label")), CodeBlock(entry.code)]
    if BULLET in entry.code:
        return parts
    alike = aloud.named_lookalikes(entry.code)
    if alike:
        parts.append(Paragraph(_text(f"Look-alikes: {alike}"), _style("small")))
    parts.append(Paragraph(_text("Read aloud: " + aloud.spelled(entry.code)), _style("small")))
    return parts


def _closing(sheet: RestoreSheet) -> list[Flowable]:
    """What stands at the end: where the codes come from, who had them shown, notes."""
    lines = [f"Codes read from: {', '.join(sheet.sources)}."] if sheet.sources else []
    revealed = sheet.revealed
    if revealed is not None:
        lines.append(f"Codes shown to {_shown(revealed.who)} ({revealed.journal}): {_shown(revealed.reason)}.")
    lines.append("This sheet holds codes: hand it to the holder of the machine only, or destroy it after use.")
    texts = [sheet.holder, sheet.maker, sheet.model, *lines, *(step.text for step in sheet.steps)]
    if any(text and (MARK in text or _shown(text) != text) for text in texts):
        lines.append(_LETTERS_NOTE)
    return [Paragraph(escape(line), _style("small")) for line in lines]


def _dress(canvas: Canvas, _document: BaseDocTemplate, *, sheet: RestoreSheet, shop_name: str, printed: date) -> None:
    """Write head and foot of a page."""
    canvas.saveState()
    canvas.setFillColor(black)
    top = A4[1] - 16 * mm
    canvas.setFont("VeraBd", 12)
    canvas.drawString(MARGIN, top, _shown(shop_name))
    canvas.setFont("Vera", 9)
    canvas.drawRightString(A4[0] - MARGIN, top, f"Restore sheet {sheet.machine}")
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 3 * mm, A4[0] - MARGIN, top - 3 * mm)
    canvas.setLineWidth(0.4)
    canvas.line(MARGIN, 15.5 * mm, A4[0] - MARGIN, 15.5 * mm)
    canvas.setFont("Vera", 8)
    canvas.drawString(MARGIN, 11 * mm, f"Printed on {printed.isoformat()}")
    canvas.restoreState()


@cache
def glyphs() -> frozenset[int]:
    """Register the type of the sheet, once; return the code points it can show."""
    for name in ("Vera", "VeraBd"):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    return frozenset(pdfmetrics.getFont("Vera").face.charToGlyph)


@cache
def _style(name: str) -> ParagraphStyle:
    base = {"fontName": "Vera", "fontSize": 9.5, "leading": 13.5, "textColor": black, "backColor": None}
    special: dict[str, dict[str, object]] = {
        "body": {},
        "title": {"fontName": "VeraBd", "fontSize": 19, "leading": 23, "spaceAfter": 4},
        "head": {"fontName": "VeraBd", "fontSize": 11.5, "leading": 16, "spaceAfter": 2},
        "strong": {"fontName": "VeraBd"},
        "label": {"fontSize": 8.5},
        "small": {"fontSize": 8, "leading": 11.5},
        "bullet": {"leftIndent": 11, "bulletIndent": 1, "bulletFontName": "Vera", "bulletFontSize": 9.5},
    }
    return ParagraphStyle(name, **(base | special[name]))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _shown(text: str) -> str:
    return marked(text, glyphs())


def _text(text: str) -> str:
    """Return a text as a paragraph takes it: in letters the type has, with its markup signs escaped."""
    return escape(_shown(text))
