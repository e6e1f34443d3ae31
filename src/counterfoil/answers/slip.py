"""The slip of a bench entry, for the customer or the machine's tray: A5, black on white, no code in clear."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, cast
from xml.sax.saxutils import escape

from counterfoil.answers.lettering import MARK, marked
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.restore import CAUTIONS
from counterfoil.errors import SettlementRefused
from counterfoil.model import CUSTOMER_KINDS, JournalEntry, Kind
from counterfoil.records.holders import CORRECT_ACTION, RECORD_ACTION

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

    from counterfoil.records.store import Store

_RECORD_ONLY = (
    "This slip says what the shop has on record. Whether a warranty covers something is the maker's decision: keep the "
    "invoice and the maker's confirmation."
)
_LETTERS_NOTE = f"{MARK} Written here without letters that this slip's type lacks; the profile has the right spelling."
#: In the order in which they stand on the slip; what is not named comes last, in the order of its kinds.
_FIRST = (
    Kind.MAKER,
    Kind.MODEL,
    Kind.SERIAL_NUMBER,
    Kind.MACHINE_ID,
    Kind.FIRMWARE_VERSION,
    Kind.UPGRADE_NAME,
    Kind.PRODUCT_KEY,
    Kind.ACTIVATION_CODE,
)
_ORDER = {kind: n for n, kind in enumerate((*_FIRST, *(k for k in Kind if k not in _FIRST)))}
_STAGES = {"before": "firmware before the update", "after": "firmware after the update"}
#: Left and right of what stands in a frame, in points; reportlab's own.
_FRAME_PADDING = 6


@dataclass(frozen=True, slots=True)
class Slip:
    """What a slip says: the line of the journal, when and by whom, whose machine, the values entered (codes masked)."""

    entry: str
    at: str
    who: str
    machine: str
    customer: str
    name: str
    corrects: str | None
    values: tuple[tuple[str, str], ...]

    @property
    def title(self) -> str:
        """What the slip is called."""
        return f"Bench slip {self.entry}"


def slip_of(store: Store, entry_id: str) -> Slip:
    """Return the slip of an entry at the bench, or of its correction.

    Args:
        store: the records.
        entry_id: the line of the journal, J9.

    Raises:
        SettlementRefused: it is no line of an entry at the bench, or it was undone.
    """
    wanted = entry_id.strip().upper()
    found = next((line for line in store.journal(about=[wanted]) if line.id == wanted), None)
    if found is None or found.action not in (RECORD_ACTION, CORRECT_ACTION):
        raise SettlementRefused(f"{wanted} is no entry at the bench.", "Find it with `counterfoil journal M7`.")
    if found.undone_by is not None:
        raise SettlementRefused(f"{wanted} was undone by {found.undone_by}.", "Enter it anew, then print its slip.")
    customer = store.customer(str(found.detail["customer"]))
    corrects = found.detail.get("corrects")
    return Slip(
        entry=found.id,
        at=f"{found.at[:10]} {found.at[11:16]} UTC",
        who=found.who,
        machine=found.subject,
        customer=customer.id,
        name=customer.name,
        corrects=None if corrects is None else str(corrects),
        values=tuple(_values(store, found)),
    )


def _values(store: Store, entry: JournalEntry) -> list[tuple[str, str]]:
    """Return labels and values: what the machine is called where the entry does not say, then what was entered."""
    entered = cast("list[dict[str, str]]", entry.detail["values"])
    kinds = {value["kind"] for value in entered}
    machine = store.machine(entry.subject)
    rows: list[tuple[Kind, str, str]] = []
    for kind in _FIRST[:4]:
        noted = machine.latest(kind)
        if noted is not None and kind.value not in kinds:
            rows.append((kind, KIND_WORDS[kind], noted.fact.value))
    for value in entered:
        kind = Kind(value["kind"])
        if kind not in CUSTOMER_KINDS:
            rows.append((kind, _STAGES.get(value.get("when", ""), KIND_WORDS[kind]), value["value"]))
    # The sort keeps firmware before ahead of firmware after, as they were entered.
    return [(label, value) for _, label, value in sorted(rows, key=lambda row: _ORDER[row[0]])]


def make_slip(slip: Slip, *, shop_name: str) -> bytes:
    """Set the slip.

    Args:
        slip: what it says.
        shop_name: stands at its head.

    Returns:
        The bytes of a PDF, A5; the same for the same slip.
    """
    from reportlab.lib.pagesizes import A5
    from reportlab.lib.units import mm
    from reportlab.platypus import SimpleDocTemplate

    from counterfoil.answers.sheet_type import TEXT, glyphs

    # Registers the type.
    glyphs()
    buffer = BytesIO()
    margin = 12 * mm
    document = SimpleDocTemplate(
        buffer,
        pagesize=A5,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin,
        title=_shown(slip.title),
        author=_shown(shop_name),
        invariant=1,
        initialFontName=TEXT,
    )
    document.build(_story(slip, shop_name, A5[0] - 2 * (margin + _FRAME_PADDING)))
    return buffer.getvalue()


def _story(slip: Slip, shop_name: str, width: float) -> list[Flowable]:
    from reportlab.lib.colors import black
    from reportlab.lib.units import mm
    from reportlab.platypus import Paragraph, Spacer, Table

    from counterfoil.answers.sheet_type import style

    entered = f"{slip.at}, {slip.who}" + (f"; corrects {slip.corrects}" if slip.corrects else "")
    rows = [("Customer", f"{slip.name} ({slip.customer})"), ("Machine", slip.machine), ("Entered", entered)]
    rows += [(f"{label[:1].upper()}{label[1:]}", value) for label, value in slip.values]
    cells = [[_paragraph(label, "cell"), _paragraph(value, "cell strong")] for label, value in rows]
    lines = [("LINEBELOW", (0, 0), (-1, -1), 0.3, black), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    tight = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 1.5)]
    label_width = 46 * mm
    table = Table(cells, colWidths=[label_width, width - label_width], style=[*lines, *tight])
    cautions = [Paragraph("Caution", style("head"))]
    cautions += [Paragraph(f"– {escape(caution)}", style("caution")) for caution in CAUTIONS]
    box = Table([[cautions]], colWidths=[width], style=[("BOX", (0, 0), (-1, -1), 1, black)])
    notes = [_RECORD_ONLY]
    if any(_shown(part) != part for part in (shop_name, *(value for _, value in rows))):
        notes.append(_LETTERS_NOTE)
    head = [_paragraph(shop_name, "strong"), _paragraph(slip.title, "title")]
    closing = [Paragraph(escape(note), style("small")) for note in notes]
    return [*head, Spacer(0, 2 * mm), table, Spacer(0, 4 * mm), box, Spacer(0, 3 * mm), *closing]


def _paragraph(text: str, style_name: str) -> Flowable:
    from reportlab.platypus import Paragraph

    from counterfoil.answers.sheet_type import style

    return Paragraph(escape(_shown(text)), style(style_name))


def _shown(text: str) -> str:
    from counterfoil.answers.sheet_type import glyphs

    return marked(text, glyphs())
