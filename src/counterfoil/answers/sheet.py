"""The restore sheet on paper, A4 or Letter: black on white, one tick box a step, codes large enough to be typed from.

The head says which machine, whose, who asked and who gave; then the cautions, all upgrades at a glance, and the steps.
Each code stands in large characters of one width with its look-alikes marked, as a QR symbol, and in the words of the
ITU/ICAO spelling alphabet, to be read out by telephone. The same sheet has the same bytes each time.
"""

from __future__ import annotations

from datetime import date
from functools import partial
from io import BytesIO

from reportlab.lib.colors import black
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageTemplate, Paragraph, Spacer, Table

from counterfoil.answers import aloud
from counterfoil.answers.lettering import MARK
from counterfoil.answers.masking import BULLET
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.restore import RestoreSheet
from counterfoil.answers.restore_giving import NOT_STATED
from counterfoil.answers.sheet_code import (
    QR_EDGE,
    Blank,
    CodeBlock,
    Legend,
    TickBox,
    WarningSign,
    qr_square,
)
from counterfoil.answers.sheet_type import (
    BOLD,
    MARGIN,
    MONO,
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
    with_bold,
)
from counterfoil.answers.steps import Entry, SheetUpgrade, Step

_NUMBER, _BOX, _SIGN = 7.5 * mm, 7 * mm, 10 * mm
_HEAD, _FOOT = 19 * mm, 15.5 * mm

_CODES_NOTE = (
    "The square beside a code holds the code as printed. The machine may set separators itself; gaps are for the eye."
)
_LETTERS_NOTE = f"{MARK} Written here without letters that this sheet's type lacks; the profile has the right spelling."
_MASKED_NOTE = "Codes are masked on this sheet. Print it with --reveal and a reason to have them in full."
_KEEP_NOTE = "This sheet holds codes: hand it to the holder of the machine only, or destroy it after use."

#: Characters of a step's text that are printed: three times what a maker file says in one.
_LONGEST_STEP = 1_000

Commands = list[tuple[object, ...]]


def make_pdf(sheet: RestoreSheet, *, shop_name: str, printed: date, paper: str = "a4") -> bytes:
    """Set the restore sheet.

    Args:
        sheet: what to print; its codes are printed as they are in it, masked or not.
        shop_name: stands at the head of every page.
        printed: the day, at the foot of every page.
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
        title=shown(f"Restore sheet {sheet.machine}"),
        author=shown(shop_name),
        invariant=1,
        initialFontName=TEXT,
    )
    frame = Frame(MARGIN, _FOOT, document.width, document.height, 0, 0, 0, 0)
    dress = partial(_dress, sheet=sheet, shop_name=shop_name, printed=printed)
    document.addPageTemplates([PageTemplate("sheet", [frame], onPage=dress)])
    document.build(_story(sheet, document.width), canvasmaker=NumberedCanvas)
    return buffer.getvalue()


def _dress(canvas: Canvas, document: BaseDocTemplate, *, sheet: RestoreSheet, shop_name: str, printed: date) -> None:
    """Write head and foot of a page."""
    width, height = document.pagesize
    right, top = width - MARGIN, height - 12.8 * mm
    canvas.saveState()
    what = f"Restore sheet {sheet.machine}"
    room = width - 2 * MARGIN - canvas.stringWidth(what, TEXT, 9) - 8 * mm
    name, points = fitted(shown(shop_name), BOLD, 12, room)
    canvas.setFont(BOLD, points)
    canvas.drawString(MARGIN, top, name)
    canvas.setFont(TEXT, 9)
    canvas.drawRightString(right, top, what)
    canvas.setLineWidth(1)
    canvas.line(MARGIN, top - 2.6 * mm, right, top - 2.6 * mm)
    canvas.setLineWidth(0.4)
    canvas.line(MARGIN, 13 * mm, right, 13 * mm)
    canvas.setFont(TEXT, 8)
    canvas.drawString(MARGIN, 9 * mm, f"Printed on {printed.isoformat()}")
    if sheet.revealed is not None:
        canvas.drawCentredString(width / 2, 9 * mm, "Holds codes: keep it like a key")
    canvas.restoreState()


def _story(sheet: RestoreSheet, width: float) -> list[Flowable]:
    name = " ".join(text for text in (sheet.maker, sheet.model) if text) or "Maker and model not on record"
    serial = f"serial number {sheet.serial_number}" if sheet.serial_number else "serial number not on record"
    story: list[Flowable] = [
        Paragraph(markup(name), style("title")),
        Paragraph(markup(f"Restore sheet for machine {sheet.machine}, {serial}"), style("value")),
        Spacer(0, 2.5 * mm),
        _facts(sheet, width),
        Spacer(0, 2.5 * mm),
        _cautions(sheet, width),
        Spacer(0, 2.5 * mm),
    ]
    if sheet.upgrades:
        story += [*_overview(sheet, width), Spacer(0, 3 * mm)]
    if sheet.revealed is None and sheet.upgrades:
        story += [Paragraph(_MASKED_NOTE, style("strong")), Spacer(0, 3 * mm)]
    *steps, last = _steps(sheet, width)
    # The lines at the end never stand alone on a page.
    return [*story, *map(KeepTogether, steps), KeepTogether([*last, *_closing(sheet)])]


def _facts(sheet: RestoreSheet, width: float) -> Table:
    """The head of the sheet in two columns: the machine and its holder; who asked, who gave, when and why."""
    holder = "nobody on record" if sheet.customer is None else f"{sheet.holder or ''} ({sheet.customer})"
    noted = "none noted" if sheet.firmware is None else f"{sheet.firmware.version}, noted {sheet.firmware.noted[:10]}"
    needed = "" if sheet.needs_firmware is None else f"; {sheet.needs_firmware} or newer is needed"
    machine_id = f"<font name='{MONO}' size='11'>{markup(sheet.machine_id or 'not on record')}</font>"
    left = [("Who has it now", markup(holder)), ("Machine ID", machine_id), ("Firmware", markup(noted + needed))]
    right = [(label, markup(text)) for label, text in _given(sheet)]
    label_width = 27 * mm
    text_width = (width - 2 * label_width - 5 * mm) / 2
    columns = [_pairs(rows, label_width, text_width) for rows in (left, right)]
    commands: Commands = [("LINEABOVE", (0, 0), (-1, 0), 0.5, RULE), *_padding(1, 0)]
    half = label_width + text_width
    return Table([[columns[0], "", columns[1]]], colWidths=[half, 5 * mm, half], style=commands)


def _pairs(rows: list[tuple[str, str]], label_width: float, text_width: float) -> Table:
    cells = [[Paragraph(label, style("label")), Paragraph(text, style("value"))] for label, text in rows]
    commands: Commands = [("LINEBELOW", (0, 0), (-1, -1), 0.5, RULE), *_padding(2, 2.5)]
    return Table(cells, colWidths=[label_width, text_width], style=commands)


def _given(sheet: RestoreSheet) -> list[tuple[str, str]]:
    """Who asked and how that person was known, who gave, when, why; that nothing was given where codes are masked."""
    given = sheet.revealed
    if given is None:
        return [("Codes", "masked: not given out"), ("Asked by", ""), ("Given by", "")]
    known = "how the caller was known is not stated" if given.known_by == NOT_STATED else given.known_by
    asked = f"{given.asked_by}; {known}" if given.asked_by else NOT_STATED
    when = f", {given.at[:16].replace('T', ' ')} UTC" if given.at else ""
    rows = [("Asked by", asked), ("Given by", f"{given.who}{when} ({given.journal})"), ("Why", given.reason)]
    if given.mismatch:
        rows.append(("Given although", f"{' '.join(given.mismatch)} Reason: {given.override}"))
    return rows


def _cautions(sheet: RestoreSheet, width: float) -> Table:
    lines = [Paragraph(markup(text), style("caution")) for text in sheet.cautions]
    commands: Commands = [
        ("BOX", (0, 0), (-1, -1), 1.3, black),
        ("SPAN", (0, 0), (0, -1)),
        ("LEFTPADDING", (0, 0), (0, -1), 8),
        *_padding(1, 1, sides=False),
        ("VALIGN", (0, 0), (0, -1), "MIDDLE"),
        ("TOPPADDING", (0, 0), (-1, 0), 4),
        ("BOTTOMPADDING", (0, -1), (-1, -1), 5),
    ]
    rows = [[WarningSign(_SIGN) if number == 0 else "", line] for number, line in enumerate(lines)]
    return Table(rows, colWidths=[_SIGN + 14, width - _SIGN - 14], style=commands)


def _overview(sheet: RestoreSheet, width: float) -> list[Flowable]:
    """All upgrades at a glance: what to do with each, and its firmware against what was noted last."""
    head = [Paragraph(text, style("label")) for text in ("Upgrade", "Code", "Needs firmware", "Noted last", "From")]
    rows = [head, *(_overview_row(sheet, upgrade) for upgrade in sheet.upgrades)]
    fixed = (34 * mm, 27 * mm, 33 * mm, 13 * mm)
    commands: Commands = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, RULE),
        ("BACKGROUND", (0, 0), (-1, 0), TINT),
        *_padding(2, 2.5, sides=False),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ]
    return [Table(rows, colWidths=[width - sum(fixed), *fixed], style=commands, repeatRows=1)]


def _overview_row(sheet: RestoreSheet, upgrade: SheetUpgrade) -> list[Paragraph]:
    firmware = "" if sheet.firmware is None else sheet.firmware.version
    against = {True: f"{firmware}: new enough", False: f"{firmware}: update first", None: firmware or "none noted"}
    needs = "none on record" if upgrade.needs_firmware is None else f"{upgrade.needs_firmware} or newer"
    state = f"{'live' if upgrade.live else 'dead'}: {upgrade.state}"
    kind = "cell" if upgrade.usable else "cell strong"
    noted = against[upgrade.enough]
    cells = [(upgrade.title, "cell strong"), (state, kind), (needs, "cell")]
    cells += [(noted, "cell strong" if upgrade.enough is False else "cell"), (upgrade.message, "cell")]
    return [Paragraph(markup(text), style(name)) for text, name in cells]


def _steps(sheet: RestoreSheet, width: float) -> list[list[Flowable]]:
    """The steps, each with its heading; those about codes that must not be entered have one of their own."""
    legend: list[Flowable] = [Legend()] if any(step.entries for step in sheet.steps) else []
    if sheet.revealed is not None and legend:
        legend.append(Paragraph(_CODES_NOTE, style("small")))
    steps = [_step(number, step, width) for number, step in enumerate(sheet.steps, start=1)]
    story: list[list[Flowable]] = []
    barred = False
    for number, (step, table) in enumerate(zip(sheet.steps, steps, strict=True)):
        heading: list[Flowable] = []
        if number == 0 and not step.barred:
            heading = [Paragraph("Steps", style("head")), *legend, Spacer(0, 1 * mm)]
        elif step.barred and not barred:
            heading = [Spacer(0, 1.5 * mm), Paragraph("Not to be entered", style("head")), Spacer(0, 0.5 * mm)]
        barred = step.barred
        story.append([*heading, table, Spacer(0, 0.8 * mm)])
    return story


def _step(number: int, step: Step, width: float) -> Table:
    """One step: tick box, number, what to do, its caution, and the codes."""
    room = width - _BOX - _NUMBER
    text = with_bold(step.text, step.title, _LONGEST_STEP)
    if step.caution:
        text += f" <font name='{BOLD}'>Caution: {markup(step.caution)}</font>"
    said = Paragraph(text, style("body"))
    rows: list[list[object]] = [[TickBox(), Paragraph(f"{number}.", style("strong")), said]]
    rows += [["", "", _entry(entry, room, square=number > 1)] for entry in step.entries]
    commands: Commands = [
        *_padding(2, 1.5),
        *(("NOSPLIT", (0, row), (-1, row + 1)) for row in range(len(rows) - 1)),
        ("LINEABOVE", (0, 0), (-1, 0), 0.5, RULE),
    ]
    return Table(rows, colWidths=[_BOX, _NUMBER, room], style=commands)


def _entry(entry: Entry, room: float, *, square: bool) -> Table:
    """A code: what it is, its characters, its spelling words, and the same code as a QR symbol."""
    label = f"{KIND_WORDS[entry.kind][:1].upper()}{KIND_WORDS[entry.kind][1:]}, {_counted(entry.code)}"
    left: list[Flowable] = [Paragraph(label, style("label")), CodeBlock(entry.code)]
    if BULLET not in entry.code:
        left.append(Paragraph(markup(aloud.spelled(entry.code)), style("small")))
    symbol = qr_square(entry.code) if square else None
    commands: Commands = [*_padding(0, 1), ("VALIGN", (1, 0), (1, 0), "MIDDLE")]
    if symbol is None:
        return Table([[left, ""]], colWidths=[room - 1, 1], style=commands)
    edge = max(QR_EDGE, symbol.edge)
    return Table([[left, symbol]], colWidths=[room - edge, edge], style=commands)


def _counted(code: str) -> str:
    """Say how many characters a code has and of which kind: `20 digits`, `14 letters and digits`."""
    signs = [c for c in code if c.isalnum() or c == BULLET]
    if BULLET in code:
        return f"{len(signs)} characters"
    digits = sum(c.isdigit() for c in signs)
    kind = "digits" if digits == len(signs) else "letters" if digits == 0 else "letters and digits"
    return f"{len(signs)} {kind}"


def _closing(sheet: RestoreSheet) -> list[Flowable]:
    """What stands at the end: lines for the bench, where the codes come from, notes."""
    notes = [f"Codes read from: {', '.join(sheet.sources)}."] if sheet.sources else []
    if sheet.revealed is not None:
        notes.append(_KEEP_NOTE)
    lines = list(notes)
    given = [text for _, text in _given(sheet)]
    texts = [sheet.holder, sheet.maker, sheet.model, *given, *lines, *(str(step) for step in sheet.steps)]
    if any(text and (MARK in text or shown(text) != " ".join(text.split())) for text in texts):
        lines.append(_LETTERS_NOTE)
    blank = Blank(("Firmware the machine shows now", "Done by", "On"))
    return [blank, Spacer(0, 1.5 * mm), *(Paragraph(markup(line, _LONGEST_STEP), style("small")) for line in lines)]


def _padding(above: float, below: float, *, sides: bool = True) -> Commands:
    """Return the table commands for space inside every cell, in points; texts stand at the top."""
    whole = (0, 0), (-1, -1)
    commands: Commands = [("TOPPADDING", *whole, above), ("BOTTOMPADDING", *whole, below), ("VALIGN", *whole, "TOP")]
    if sides:
        commands += [("LEFTPADDING", *whole, 0), ("RIGHTPADDING", *whole, 0)]
    return commands
