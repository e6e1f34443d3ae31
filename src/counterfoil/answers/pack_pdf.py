"""The summary in a pack for the maker, A4 or Letter: what is covered, what it rests on, the evidence as pictures.

The first pages say it in words; every further page shows one piece of evidence with its facts framed and numbered. The
same summary has the same bytes each time.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from io import BytesIO

from reportlab.lib.colors import black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from counterfoil.answers.coverage import counted
from counterfoil.answers.pack_evidence import Exhibit
from counterfoil.answers.pack_exhibits import FRAME_HEX, Commands, cell, exhibit_page, padding
from counterfoil.answers.provenance import KIND_WORDS, is_message, origin
from counterfoil.answers.sheet_type import (
    BOLD,
    GREY,
    MARGIN,
    RULE,
    TEXT,
    TINT,
    NumberedCanvas,
    fitted,
    glyphs,
    markup,
    paper_size,
    shown,
    style,
)
from counterfoil.answers.warranty import STANDING_NOTE, Cover, WarrantyAnswer
from counterfoil.answers.warranty_dates import readings
from counterfoil.answers.warranty_words import answer_words
from counterfoil.model import DATE_KINDS, CustomerProfile, Kind, MachineProfile, Noted

_HEAD, _FOOT = 25 * mm, 18 * mm
_STATES = {True: "covered", False: "not covered", None: "cannot be told"}
_HASH_SHOWN = 16
_PILL = 42 * mm
#: Characters of one sentence that are printed, and answers: no row may be higher than a page.
_LONG, _MOST_ANSWERS = 1_200, 8
_HANGING = ParagraphStyle("answer", parent=style("cell"), leftIndent=10, bulletIndent=0)


@dataclass(frozen=True, slots=True)
class Summary:
    """All that a summary says. ``files`` maps the names in the pack to their SHA-256."""

    machine: MachineProfile
    holder: CustomerProfile
    answer: WarrantyAnswer
    facts: tuple[Noted, ...]
    exhibits: tuple[Exhibit, ...]
    left_out: tuple[str, ...]
    files: Mapping[str, str]
    shop_name: str
    made: date


def make_summary(summary: Summary, paper: str = "a4") -> bytes:
    """Set the summary.

    Args:
        summary: what to print; codes in its exhibits are printed as they are in them, masked or not.
        paper: ``a4`` or ``letter``.

    Returns:
        The bytes of a PDF.

    Raises:
        UsageProblem: there is no such paper.
    """
    size = paper_size(paper)
    glyphs()
    buffer = BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=size,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=_HEAD,
        bottomMargin=_FOOT,
        title=shown(f"Warranty summary {summary.answer.machine}, {summary.answer.on}"),
        author=shown(summary.shop_name),
        invariant=1,
        initialFontName=TEXT,
    )
    frame = Frame(MARGIN, _FOOT, document.width, document.height, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("page", [frame], onPage=partial(_dress, summary=summary))])
    document.build(_story(summary, document.width, document.height), canvasmaker=NumberedCanvas)
    return buffer.getvalue()


def _dress(canvas: Canvas, document: BaseDocTemplate, *, summary: Summary) -> None:
    """Write head and foot of a page."""
    width, height = document.pagesize
    canvas.saveState()
    top = height - 14 * mm
    right = f"Warranty summary {summary.answer.machine}"
    canvas.setFillColor(GREY)
    canvas.setFont(TEXT, 9)
    canvas.drawRightString(width - MARGIN, top, right)
    name, points = fitted(shown(summary.shop_name), BOLD, 11, document.width - 55 * mm)
    canvas.setFillColor(black)
    canvas.setFont(BOLD, points)
    canvas.drawString(MARGIN, top, name)
    canvas.setStrokeColor(black)
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 3 * mm, width - MARGIN, top - 3 * mm)
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.4)
    canvas.line(MARGIN, 15 * mm, width - MARGIN, 15 * mm)
    canvas.setFillColor(GREY)
    note, points = fitted(f"{STANDING_NOTE} Made on {summary.made}.", TEXT, 8, document.width - 26 * mm, least=6.0)
    canvas.setFont(TEXT, points)
    canvas.drawString(MARGIN, 11 * mm, note)
    canvas.restoreState()


def _story(summary: Summary, width: float, height: float) -> list[Flowable]:
    answer = summary.answer
    story: list[Flowable] = [
        Paragraph("Warranty summary", style("title")),
        Spacer(0, 1 * mm),
        _facts(summary, width),
        Spacer(0, 4 * mm),
        _note(answer.note, width),
        Spacer(0, 5 * mm),
        Paragraph(f"Cover on {answer.on}", style("head")),
        Spacer(0, 1.5 * mm),
    ]
    for cover in answer.coverage:
        story += [_cover(summary, cover, width), Spacer(0, 2.5 * mm)]
    story += [Spacer(0, 2 * mm), *_rests_on(summary, width)]
    for number, exhibit in enumerate(summary.exhibits):
        # A page has a page of its own; texts follow each other where there is room.
        own_page = exhibit.picture is not None or number == 0 or summary.exhibits[number - 1].picture is not None
        story += [PageBreak()] if own_page else [Spacer(0, 8 * mm), CondPageBreak(90 * mm)]
        story += exhibit_page(exhibit, width, height)
    return [*story, Spacer(0, 6 * mm), *_contents(summary, width)]


def _facts(summary: Summary, width: float) -> Table:
    """The head: which machine, whose, the day asked for; labels above their values, in two columns."""
    machine = summary.machine

    def value(kind: Kind) -> str:
        noted = machine.latest(kind)
        return "not on record" if noted is None else noted.fact.value

    name = " ".join(n.fact.value for k in (Kind.MAKER, Kind.MODEL) if (n := machine.latest(k)) is not None)
    pairs = [
        ("Machine", f"{name or 'maker and model not on record'} ({machine.id})"),
        ("Held by", f"{summary.holder.name} ({summary.holder.id})"),
        ("Serial number", value(Kind.SERIAL_NUMBER)),
        ("Machine ID", value(Kind.MACHINE_ID)),
        ("Asked for the day", summary.answer.on.isoformat()),
        ("Purchase and invoice", f"{_first_sale(summary)}; invoice {value(Kind.INVOICE_NUMBER)}"),
    ]
    cells = [
        [
            [Paragraph(label, style("label")), Paragraph(markup(text), style("strong" if row == 0 else "body"))]
            for label, text in pairs[row * 2 : row * 2 + 2]
        ]
        for row in range(3)
    ]
    commands: Commands = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("RIGHTPADDING", (1, 0), (1, -1), 0),
        *padding(3, 4),
    ]
    return Table(cells, colWidths=[width / 2, width / 2], style=commands)


def _first_sale(summary: Summary) -> str:
    dates = [n for n in summary.facts if n.fact.kind is Kind.PURCHASE_DATE]
    days = sorted({day.isoformat() for noted in dates for day in readings(noted)})
    return f"bought {' or '.join(days)}" if days else "purchase date not on record"


def _note(note: str, width: float) -> Table:
    commands: Commands = [("BACKGROUND", (0, 0), (-1, -1), TINT), ("LEFTPADDING", (0, 0), (-1, -1), 9), *padding(6, 7)]
    return Table([[Paragraph(markup(note), style("strong"))]], colWidths=[width], style=commands)


class _State(Flowable):  # type: ignore[misc]  # reportlab has no types
    """What holds, in a box told apart without colour: filled, filled grey where assumed, outlined, or a broken line."""

    def __init__(self, covered: bool | None, assumed: bool) -> None:
        super().__init__()
        self._covered, self._assumed = covered, assumed and covered is not None

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return _PILL, 5.6 * mm

    def draw(self) -> None:
        """Draw the box and its word."""
        canvas = self.canv
        canvas.setLineWidth(0.9)
        canvas.setStrokeColor(black)
        filled = bool(self._covered) and not self._assumed
        canvas.setFillColor(black if filled else TINT if self._covered else white)
        if self._covered is None:
            canvas.setDash(2, 1.6)
        canvas.roundRect(0.4, 0, _PILL - 0.8, 5.6 * mm, 2, stroke=1, fill=1)
        canvas.setFillColor(white if filled else black)
        canvas.setFont(BOLD, 8.5)
        word = _STATES[self._covered] + (", assumed" if self._assumed else "")
        canvas.drawCentredString(_PILL / 2, 1.75 * mm, word.upper())


def _cover(summary: Summary, cover: Cover, width: float) -> Flowable:
    """One part class: its name, what holds, the last day and the days left, and below the rule and the reasons."""
    last = "none" if cover.ends is None else cover.ends.isoformat()
    if cover.latest_ends is not None and cover.latest_ends != cover.ends:
        last = f"{last} or {cover.latest_ends}"
    left = "" if cover.days_left is None else counted(cover.days_left, "day")
    head = [
        Paragraph(markup(cover.part[:1].upper() + cover.part[1:]), style("head")),
        _State(cover.covered, cover.assumed),
        [Paragraph("Last day", style("label")), Paragraph(markup(last), style("value"))],
        [Paragraph("Days left", style("label")), Paragraph(left or "cannot be told", style("value"))],
    ]
    lines = [
        Paragraph(f"<font name='{BOLD}'>Rule.</font> {markup(cover.rule, _LONG)}", style("cell")),
        Paragraph(markup(_places(summary, cover.why), _LONG), style("cell")),
    ]
    if len(cover.answers) > 1:
        lines += [Paragraph(markup(words), _HANGING, bulletText="–") for words in _answers(cover)]
    if cover.missing:
        lines.append(
            Paragraph(f"<font name='{BOLD}'>Missing.</font> {markup(' '.join(cover.missing), _LONG)}", style("cell"))
        )
    widths = [width - 112 * mm, _PILL + 5 * mm, 40 * mm, 25 * mm]
    commands: Commands = [
        ("LINEABOVE", (0, 0), (-1, 0), 0.8, black),
        ("SPAN", (0, 1), (-1, 1)),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        *padding(3, 2),
    ]
    return KeepTogether([Table([head, [lines, "", "", ""]], colWidths=widths, style=commands)])


def _answers(cover: Cover) -> list[str]:
    """Return the answers in words: where there are too many for a page, the first ones and the last."""
    words = [answer_words(answer) for answer in cover.answers]
    if len(words) <= _MOST_ANSWERS:
        return words
    between = counted(len(words) - _MOST_ANSWERS + 1, "more answer")
    return [*words[: _MOST_ANSWERS - 2], f"{between} between these, on record in the shop.", words[-1]]


def _rests_on(summary: Summary, width: float) -> list[Flowable]:
    """The facts, each with the place it was read from and its number on the pages of evidence."""
    numbers: dict[tuple[str, Kind], list[int]] = {}
    for exhibit in summary.exhibits:
        for mark in exhibit.marks:
            numbers.setdefault((exhibit.message, mark.kind), []).append(mark.number)
    rows: list[list[object]] = [[cell(text, "label") for text in ("", "What", "Value", "Read from")]]
    for noted in summary.facts:
        fact = noted.fact
        framed = numbers.get((noted.source, fact.kind), [])
        written = (
            f"{fact.normal}, written {fact.value}"
            if fact.kind in DATE_KINDS and fact.value != fact.normal
            else fact.value
        )
        number = f"<font name='{BOLD}' color='{FRAME_HEX}'>{', '.join(map(str, framed))}</font>"
        what = cell(KIND_WORDS[fact.kind]), cell(written), cell(_places(summary, origin(noted)))
        rows.append([Paragraph(number, style("cell")), *what])
    commands: Commands = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        *padding(2, 3),
    ]
    widths = [12 * mm, 33 * mm, (width - 45 * mm) * 0.45, (width - 45 * mm) * 0.55]
    left_out = [Paragraph(markup(sentence), style("small")) for sentence in summary.left_out]
    table = Table(rows, colWidths=widths, style=commands, repeatRows=1)
    head = Paragraph("What it rests on", style("head"))
    lead = Paragraph("The numbers are those of the frames on the pages of evidence.", style("small"))
    return [CondPageBreak(40 * mm), head, lead, Spacer(0, 1 * mm), table, Spacer(0, 1.5 * mm), *left_out]


def _contents(summary: Summary, width: float) -> list[Flowable]:
    """The files of the pack, with the beginning of their hashes."""
    rows = [[cell(name), cell(f"{digest[:_HASH_SHOWN]}…")] for name, digest in summary.files.items()]
    commands: Commands = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        *padding(2, 3),
    ]
    lead = (
        "Byte for byte as received, with the attached files beside them. The list SHA256SUMS has the whole SHA-256 of "
        "every file; READ-ME.txt says how to compare them."
    )
    parts = [Paragraph("Originals in this pack", style("head")), Paragraph(lead, style("small")), Spacer(0, 1 * mm)]
    return [KeepTogether([*parts, Table(rows, colWidths=[width - 48 * mm, 48 * mm], style=commands)])]


def _places(summary: Summary, text: str) -> str:
    """Return a sentence with the names of documents as a reader outside the shop understands them.

    Names of documents in messages that are not in the pack may name a former holder: they are left out.
    """
    inside = {exhibit.message for exhibit in summary.exhibits} | {_ref(name) for name in summary.files}
    for noted in summary.machine.facts:
        if is_message(noted.source) and noted.source not in inside:
            text = text.replace(origin(noted), f"{noted.source}, not in this pack")
    text = re.sub(r"\battached:\d+", "attached message", re.sub(r"\bforward:\d+", "forwarded text", text))
    return re.sub(r"\b(?:pdf|file):(?=\S)", "", re.sub(r"\bheaders:\d+", "header", text))


def _ref(name: str) -> str:
    """Return the message that a file of the pack is or came with."""
    return re.split(r"[-.]", name.rpartition("/")[2])[0]
