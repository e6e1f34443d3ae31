"""The steps of a restore sheet: what is compared, updated, entered and asked for, in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterfoil.answers.guides import EntryGuide, version_key
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.model import FirmwareNote, Kind


@dataclass(frozen=True, slots=True)
class SheetUpgrade:
    """One upgrade on the sheet; ``product_key`` and ``activation_code`` as written, masked unless revealed.

    ``usable`` is True where the activation code may be entered; ``instead`` says otherwise what to do, ``ask`` whether
    the maker must be asked. ``title`` is the name, or what the product key tells of it; ``message`` is the message
    (E5) or journal entry (J9) the code was read from.
    """

    name: str | None
    product_key: str | None
    activation_code: str | None
    live: bool
    message: str
    usable: bool
    title: str
    instead: str = ""
    ask: bool = False
    needs_firmware: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A code to be entered in a step: what it is, and the code as written (masked unless revealed)."""

    kind: Kind
    code: str


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, a sentence or two, and the codes that go with it, in this order.

    ``barred`` marks what to do about an upgrade whose activation code must not be entered.
    """

    text: str
    entries: tuple[Entry, ...] = ()
    barred: bool = False

    def __str__(self) -> str:
        codes = ", ".join(f"{KIND_WORDS[entry.kind]} {entry.code}" for entry in self.entries)
        return f"{self.text} [{codes}]" if codes else self.text


def list_steps(
    machine_id: str | None,
    guide: EntryGuide,
    upgrades: Sequence[SheetUpgrade],
    firmware: FirmwareNote | None,
    needs: str | None,
) -> tuple[Step, ...]:
    """List what to do, in order: first what can be entered, then what must be asked for.

    Args:
        machine_id: as the machine shows it, None where it is not on record.
        guide: what the maker says about entering codes.
        upgrades: in the order of entry.
        firmware: the version noted last.
        needs: the highest version that a usable upgrade needs.
    """
    steps: list[Step] = []
    usable = [upgrade for upgrade in upgrades if upgrade.usable]
    if usable:
        compare = "Let the machine show its machine ID and compare it with the one below."
        if machine_id is None:
            compare = (
                "No machine ID is on record: compare the one that the machine shows with the original confirmation."
            )
        stop = "If it is another one, stop: the activation codes on this sheet belong to another main board."
        steps.append(Step(f"{compare} {stop}", () if machine_id is None else (Entry(Kind.MACHINE_ID, machine_id),)))
        steps.append(_firmware_step(firmware, needs))
    where = f"open {guide.where}" if guide.where else "open the menu for upgrades (see the maker's manual)"
    order = guide.enter if Kind.ACTIVATION_CODE in guide.enter else (*guide.enter, Kind.ACTIVATION_CODE)
    for upgrade in usable:
        entries = _entries(order, machine_id, upgrade)
        steps.append(Step(f"On the machine, {where} and enter for {upgrade.title}:", entries))
    if usable:
        steps.append(Step("Switch the machine off and on again and check that each upgrade is there."))
    for upgrade in upgrades:
        if not upgrade.usable:
            entries = _entries((Kind.MACHINE_ID, Kind.PRODUCT_KEY), machine_id, upgrade) if upgrade.ask else ()
            steps.append(Step(f"{upgrade.title}: {upgrade.instead}", entries, barred=True))
    return tuple(steps) or (Step("No upgrade of this machine is on record: there is nothing to enter."),)


def _entries(order: Sequence[Kind], machine_id: str | None, upgrade: SheetUpgrade) -> tuple[Entry, ...]:
    """Return the codes of an upgrade that are on record, in the order asked for."""
    codes = {
        Kind.MACHINE_ID: machine_id,
        Kind.PRODUCT_KEY: upgrade.product_key,
        Kind.ACTIVATION_CODE: upgrade.activation_code,
    }
    return tuple(Entry(kind, code) for kind in order if (code := codes.get(kind)) is not None)


def _firmware_step(firmware: FirmwareNote | None, needs: str | None) -> Step:
    """Compare the firmware needed with the firmware noted."""
    noted = "none is noted" if firmware is None else f"{firmware.version} was noted on {firmware.noted[:10]}"
    if needs is None:
        return Step(f"Look at the firmware version on the machine ({noted}) and note it in the profile.")
    if firmware is not None and version_key(firmware.version) >= version_key(needs):
        return Step(f"Check that the machine shows firmware {needs} or newer ({noted}).")
    return Step(f"The upgrades need firmware {needs} or newer ({noted}): update the machine first if it shows less.")
