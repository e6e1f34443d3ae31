"""The restore sheet: what to do and what to enter, in order, to bring a machine's upgrades back.

A code is put into a step only when it is live (made for the machine ID that the machine shows now) and the only
one on record for its product key. All others are listed as not to be used, with what to do instead.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from counterfoil.answers.guides import EntryGuide as EntryGuide
from counterfoil.answers.guides import UpgradeGuide as UpgradeGuide
from counterfoil.answers.guides import guide_for, version_key
from counterfoil.answers.masking import mask
from counterfoil.answers.restore_giving import NOT_STATED, KnownBy, allow, mismatches
from counterfoil.answers.steps import CAUTIONS as CAUTIONS
from counterfoil.answers.steps import SheetUpgrade, Step, cautions_for, is_enough, list_steps
from counterfoil.errors import NeedsALook, UsageProblem
from counterfoil.model import FirmwareNote, Kind, MachineProfile, Noted, Upgrade, board_now

if TYPE_CHECKING:
    from counterfoil.records.store import Store
    from counterfoil.records.versions import VersionKey

#: Action written to the journal when codes are shown.
REVEAL_ACTION = "reveal"


@dataclass(frozen=True, slots=True)
class Revealed:
    """Who had codes shown and why, and the id of the journal entry that says so, with its time (ISO 8601, UTC).

    ``asked_by`` is who asked, empty where nobody said, ``known_by`` how that person was known, in words. ``mismatch``
    is what does not agree with the records about it, ``override`` why the codes are shown all the same; both empty
    where all agrees.
    """

    who: str
    reason: str
    journal: str
    at: str = ""
    asked_by: str = ""
    known_by: str = NOT_STATED
    mismatch: tuple[str, ...] = ()
    override: str = ""


@dataclass(frozen=True, slots=True)
class RestoreSheet:
    """All that a restore sheet says, for the terminal, the page, the PDF and JSON.

    ``customer`` is the id of who has the machine now, ``holder`` that customer's name; both None where nobody has.
    ``firmware`` is the version noted last, ``needs_firmware`` the highest that a usable upgrade needs.
    ``revealed`` says to whom and why codes are shown; None where they are masked.
    """

    machine: str
    customer: str | None
    holder: str | None
    maker: str | None
    model: str | None
    serial_number: str | None
    machine_id: str | None
    firmware: FirmwareNote | None
    needs_firmware: str | None
    upgrades: tuple[SheetUpgrade, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...] = CAUTIONS
    revealed: Revealed | None = None
    sources: tuple[str, ...] = field(default=())
    """The messages the usable codes were read from, in order, each once."""
    withheld: tuple[str, ...] = field(default=())
    """Messages that carry codes of this machine but belong to another customer: never handed out with the sheet."""

    @property
    def shown_to(self) -> str:
        """The person the codes are shown to; empty where they are masked."""
        return self.revealed.who if self.revealed else ""

    @property
    def reason(self) -> str:
        """Why the codes are shown; empty where they are masked."""
        return self.revealed.reason if self.revealed else ""

    @property
    def journal(self) -> str | None:
        """The journal entry that says so; None where codes are masked."""
        return self.revealed.journal if self.revealed else None

    def to_json(self) -> dict[str, object]:
        """Return the sheet with the keys of the machine-readable contract."""
        keys = ("name", "product_key", "activation_code", "live", "message")
        return {
            "machine": self.machine,
            "customer": self.customer,
            "machine_id": self.machine_id,
            "upgrades": [{key: getattr(upgrade, key) for key in keys} for upgrade in self.upgrades],
            "steps": [str(step) for step in self.steps],
        }


def held_machines(store: Store, customer_id: str) -> tuple[str, ...]:
    """Return the ids of the machines that a customer has now.

    Raises:
        RecordUnknown: there is no such customer.
    """
    held: dict[str, None] = {}
    for holding in store.customer(customer_id).holdings:
        if holding.until is None and store.machine(holding.machine).holder == customer_id:
            held[holding.machine] = None
    return tuple(held)


def restore(
    store: Store,
    ref: str,
    guides: Iterable[EntryGuide] = (),
    *,
    customer: str | None = None,
    reveal: bool = False,
    who: str = "",
    reason: str = "",
    known_by: KnownBy | None = None,
    override: str = "",
) -> RestoreSheet:
    """Make the restore sheet of a machine.

    Args:
        store: the records.
        ref: a machine (M7), or a customer (C12) who has exactly one machine now.
        guides: what the makers say about entering codes.
        customer: who asks for it; refused unless this customer has the machine now.
        reveal: show codes in full; ``who`` and ``reason`` are then needed and go into the journal first.
        who: the person at the desk.
        reason: why the codes are shown.
        known_by: how the caller was known; None where nobody says. A contact must be on file of the present holder.
        override: why codes are shown although the caller does not agree with the records.

    Raises:
        RecordUnknown: there is no such record.
        NeedsALook: the customer has no machine now or several, or the caller does not agree with the records.
        UsageProblem: codes are to be shown without who or why.
    """
    if ref.upper().startswith("C"):
        customer = store.customer(ref).id
        ref = only_machine(store, customer)
    machine = store.machine(ref)
    customer = None if customer is None else store.customer(customer).id
    found = mismatches(store, machine, customer, known_by)
    allow(found, override)
    if reveal and not (who.strip() and reason.strip()):
        raise UsageProblem("Codes are shown only to a named person and for a reason.", "Add --reason TEXT.")
    withheld = _withheld(store, machine)
    holder = None if machine.holder is None else store.customer(machine.holder).name
    revealed = None
    if reveal:
        # Who asked is known where a customer was named, or somebody said how the caller was known.
        asked = customer or (machine.holder if known_by is not None else None)
        asked_by = "" if asked is None else f"{store.customer(asked).name} ({asked})"
        said = NOT_STATED if known_by is None else str(known_by)
        revealed = _noted(store, machine, Revealed(who, reason, "", "", asked_by, said, found, override.strip()), asked)
    return assemble(machine, guides, holder=holder, withheld=withheld, revealed=revealed)


def _withheld(store: Store, machine: MachineProfile) -> tuple[str, ...]:
    """Return the messages with codes of a machine that belong to another customer than its present holder."""
    messages = {ref: store.message(ref) for ref in dict.fromkeys(u.source for u in machine.upgrades) if ref[:1] == "E"}
    return tuple(ref for ref, m in messages.items() if m.customer is not None and m.customer != machine.holder)


def _noted(store: Store, machine: MachineProfile, shown: Revealed, asked: str | None) -> Revealed:
    """Write into the journal that codes are shown, to whom and how that person was known; return it with its line."""
    detail: dict[str, object] = {"answer": "restore", "sources": [upgrade.source for upgrade in machine.upgrades]}
    detail |= {"asked_by": asked, "known_by": shown.known_by}
    if shown.mismatch:
        detail |= {"mismatch": list(shown.mismatch), "override": shown.override}
    line = store.note(shown.who, REVEAL_ACTION, machine.id, shown.reason, detail)
    at = next((e.at for e in reversed(store.journal(subject=machine.id, limit=10)) if e.id == line), "")
    return replace(shown, journal=line, at=at)


def assemble(
    machine: MachineProfile,
    guides: Iterable[EntryGuide] = (),
    *,
    holder: str | None = None,
    withheld: tuple[str, ...] = (),
    revealed: Revealed | None = None,
) -> RestoreSheet:
    """Put a sheet together from a profile; see :func:`restore`, which writes the journal first.

    Args:
        machine: the profile.
        guides: what the makers say about entering codes.
        holder: the name of who has the machine now.
        withheld: messages that belong to another customer.
        revealed: the journal entry under which codes are shown; None masks them.
    """
    guide, reveal = guide_for(_value(machine, Kind.MAKER), guides), revealed is not None
    firmware = latest_firmware(machine)
    upgrades = tuple(_upgrade(machine, upgrade, guide, firmware, reveal) for upgrade in _ordered(machine, guide))
    usable = [upgrade for upgrade in upgrades if upgrade.usable]
    needs = max((u.needs_firmware for u in usable if u.needs_firmware), key=version_key, default=None)
    sources = tuple(dict.fromkeys(u.message for u in usable if u.message[:1] == "E" and u.message not in withheld))
    current = current_machine_id(machine)
    machine_id = None if current is None else current.fact.value
    return RestoreSheet(
        machine=machine.id,
        customer=machine.holder,
        holder=holder,
        maker=_value(machine, Kind.MAKER),
        model=_value(machine, Kind.MODEL),
        serial_number=_value(machine, Kind.SERIAL_NUMBER),
        machine_id=machine_id,
        firmware=firmware,
        needs_firmware=needs,
        upgrades=upgrades,
        steps=list_steps(machine_id, guide, upgrades, firmware, needs),
        cautions=cautions_for(guide),
        revealed=revealed,
        sources=sources,
        withheld=withheld,
    )


def latest_firmware(machine: MachineProfile) -> FirmwareNote | None:
    """Return the firmware noted last; of two notes of one day, the one after an update, then the higher version.

    Its ``version`` is as written: 3.10 beta is older than 3.10.
    """
    notes = [replace(n, version=" ".join(n.written.split())) if n.written else n for n in machine.firmware]

    def age(note: FirmwareNote) -> tuple[str, int, VersionKey]:
        return note.noted, {"before": 0, None: 1, "after": 2}.get(note.when, 1), version_key(note.version)

    return max(notes, key=age, default=None)


def current_machine_id(machine: MachineProfile) -> Noted | None:
    """Return the machine ID that counts now, after a swap also over an older one that a person confirmed before it."""
    found = [noted for noted in machine.facts if noted.fact.kind is Kind.MACHINE_ID and noted.chosen]
    now, _ = board_now((noted.fact.normal, noted.at, noted.id, noted.confirmed) for noted in found)
    found = [noted for noted in found if noted.fact.normal == now]
    return max(found, key=lambda noted: (noted.at, noted.id), default=None)


def _upgrade(
    machine: MachineProfile, upgrade: Upgrade, guide: EntryGuide, firmware: FirmwareNote | None, reveal: bool
) -> SheetUpgrade:
    key = None if upgrade.product_key is None else upgrade.product_key.fact.value
    code = None if upgrade.activation_code is None else upgrade.activation_code.fact.value
    live = _live(machine, upgrade)
    instead, ask = _instead(machine, upgrade, live)
    known = _known(guide, upgrade)
    told = "Upgrade without a name on record" if known is None else f"{known.name} (told by its product key)"
    return SheetUpgrade(
        name=upgrade.name,
        product_key=key if reveal or key is None else mask(key),
        activation_code=code if reveal or code is None else mask(code),
        live=live,
        message=upgrade.source,
        usable=not instead,
        title=upgrade.name or told,
        instead=instead,
        ask=ask,
        needs_firmware=None if known is None else known.needs_firmware,
        enough=None if known is None else is_enough(firmware, known.needs_firmware),
        steps=() if known is None else known.steps,
    )


def _known(guide: EntryGuide, upgrade: Upgrade) -> UpgradeGuide | None:
    return guide.upgrade(upgrade.name, "" if upgrade.product_key is None else upgrade.product_key.fact.normal)


def _live(machine: MachineProfile, upgrade: Upgrade) -> bool:
    """Tell whether a code is for the machine ID on the sheet: the records' word, checked against the profile."""
    shown = current_machine_id(machine)
    return upgrade.live and (shown is None or upgrade.machine_id in (None, shown.fact.normal))


def _instead(machine: MachineProfile, upgrade: Upgrade, live: bool) -> tuple[str, bool]:
    """Say why an activation code must not be entered and what to do, and whether that is to ask the maker.

    Returns:
        An empty text where the code may be entered.
    """
    others = [other for other in machine.upgrades if other is not upgrade and _contradicts(upgrade, other)]
    alive = [other for other in others if _live(machine, other)]
    current = [other.source for other in alive]
    # A person's word stands against what was only read, not against another person's.
    rivals = alive if not _confirmed(upgrade) else [other for other in alive if _confirmed(other)]
    if not live and current:
        what = f"Do not enter the older activation code of {upgrade.source}: it was made for another machine ID"
        return f"{what} and is replaced by that of {current[0]}.", False
    if not live:
        what = "Do not enter: this activation code was made for another machine ID (the main board was swapped)."
        return f"{what} Ask the maker for a new code with the new machine ID and the product key.", True
    if upgrade.activation_code is None:
        return "No activation code is on record. Ask the maker for it with the machine ID and the product key.", True
    if rivals:
        what = "Do not enter: the records hold another activation code for the same product key and machine ID"
        listed = ", ".join(dict.fromkeys(rival.source for rival in rivals))
        return f"{what} ({listed}). Compare the originals and settle which one is right.", False
    return "", False


def _confirmed(upgrade: Upgrade) -> bool:
    return upgrade.activation_code is not None and upgrade.activation_code.confirmed


def _contradicts(one: Upgrade, other: Upgrade) -> bool:
    """Tell whether two upgrades give the same product key different activation codes."""
    if one.product_key is None or other.product_key is None or other.activation_code is None:
        return False
    if one.product_key.fact.normal != other.product_key.fact.normal:
        return False
    return one.activation_code is None or one.activation_code.fact.normal != other.activation_code.fact.normal


def _ordered(machine: MachineProfile, guide: EntryGuide) -> list[Upgrade]:
    """Sort upgrades: those that can be used first, each group in the maker's order, then as on record."""

    last = max((known.order for known in guide.upgrades), default=0) + 1

    def place(upgrade: Upgrade) -> tuple[bool, int]:
        known = _known(guide, upgrade)
        return not _live(machine, upgrade), last if known is None else known.order

    return sorted(machine.upgrades, key=place)


def _value(machine: MachineProfile, kind: Kind) -> str | None:
    noted = machine.latest(kind)
    return None if noted is None else noted.fact.value


def only_machine(store: Store, customer: str) -> str:
    """Return the one machine that a customer has now.

    Raises:
        RecordUnknown: there is no such customer.
        NeedsALook: there is none, or several.
    """
    held = held_machines(store, customer)
    if len(held) == 1:
        return held[0]
    if not held:
        before = {h.machine: h.until for h in store.customer(customer).holdings if h.until is not None}
        had = f" ({'; '.join(f'had {ref} until {until}' for ref, until in before.items())})" if before else ""
        raise NeedsALook(f"{customer} has no machine now{had}.", "Name the machine to see who has it now.")
    raise NeedsALook(f"{customer} has {len(held)} machines now: {', '.join(held)}.")
