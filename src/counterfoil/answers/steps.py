"""The steps of a restore sheet: what is compared, saved, updated, entered and asked for, in order, with its cautions.

The cautions are common practice of the trade, no source; on each machine the maker's manual comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterfoil.answers.guides import EntryGuide, version_key
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.model import FirmwareNote, Kind

#: The last caution, before and after the place in the maker's manual.
_MANUAL = ("Follow the maker's manual", " and local rules; work inside is for qualified technicians.")
CAUTIONS = (
    "Mains power: before opening the machine, switch it off and unplug it.",
    "Save own stitches and settings to a memory stick first: an update or a reset can erase them.",
    "Never interrupt a firmware update: no switching off, no unplugging, no pulling out of the stick until the machine "
    "says that it is done. An interrupted update can leave the machine dead.",
    "Keep hands clear of the needle while the machine is on.",
    "".join(_MANUAL),
)
UPDATE_CAUTION = "Do not cut the power and do not pull out the stick until the machine says that the update is done."
SAVE_CAUTION = "An update or a reset can erase what is not saved."


@dataclass(frozen=True, slots=True)
class SheetUpgrade:
    """One upgrade on the sheet; ``product_key`` and ``activation_code`` as written, masked unless revealed.

    ``usable`` is True where the activation code may be entered; ``instead`` says otherwise what to do, ``ask`` whether
    the maker must be asked. ``title`` is the name, or what the product key tells of it; ``message`` is the message
    (E5) or journal entry (J9) the code was read from. ``enough`` tells whether the firmware noted last is new enough
    for it; None where it needs none or none is noted. ``steps`` are what the maker says is done once it is entered.
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
    enough: bool | None = None
    steps: tuple[str, ...] = ()

    @property
    def state(self) -> str:
        """Whether its code is to be entered, in a word or two."""
        if self.usable:
            return "enter"
        return "ask the maker" if self.ask else "do not enter"


@dataclass(frozen=True, slots=True)
class Entry:
    """A code to be entered in a step: what it is, and the code as written (masked unless revealed)."""

    kind: Kind
    code: str


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, a sentence or two, and the codes that go with it, in this order.

    ``barred`` marks what to do about an upgrade whose activation code must not be entered; ``caution`` is what can go
    wrong in this step, empty where nothing can; ``title`` the upgrade it is about, as it stands in the text.
    """

    text: str
    entries: tuple[Entry, ...] = ()
    barred: bool = False
    caution: str = ""
    title: str = ""

    def __str__(self) -> str:
        said = f"{self.text} Caution: {self.caution}" if self.caution else self.text
        codes = ", ".join(f"{KIND_WORDS[entry.kind]} {entry.code}" for entry in self.entries)
        return f"{said} [{codes}]" if codes else said


def cautions_for(guide: EntryGuide) -> tuple[str, ...]:
    """Return the cautions, the last one with the place in the maker's manual where the maker file names it."""
    if not guide.manual:
        return CAUTIONS
    return (*CAUTIONS[:-1], f"{_MANUAL[0]} ({guide.manual}){_MANUAL[1]}")


def is_enough(firmware: FirmwareNote | None, needs: str | None) -> bool | None:
    """Tell whether the firmware noted is new enough; None where none is noted or none is needed."""
    if firmware is None or needs is None:
        return None
    return version_key(firmware.version) >= version_key(needs)


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
    usable = [upgrade for upgrade in upgrades if upgrade.usable]
    steps: list[Step] = []
    if usable:
        steps += _before(machine_id, guide, firmware, needs)
        for upgrade in usable:
            steps += _enter(machine_id, guide, upgrade, firmware)
        steps += [Step(text) for text in guide.after]
        steps.append(
            Step("Switch the machine off and on again, check each upgrade, and note the firmware in the profile.")
        )
    for upgrade in upgrades:
        if not upgrade.usable:
            entries = _entries((Kind.MACHINE_ID, Kind.PRODUCT_KEY), machine_id, upgrade) if upgrade.ask else ()
            steps.append(Step(f"{upgrade.title}: {upgrade.instead}", entries, barred=True, title=upgrade.title))
    return tuple(steps) or (Step("No upgrade of this machine is on record: there is nothing to enter."),)


def _before(
    machine_id: str | None, guide: EntryGuide, firmware: FirmwareNote | None, needs: str | None
) -> tuple[Step, ...]:
    """What comes before the first code: compare the machine ID, save what the owner made, bring firmware up."""
    compare = "Let the machine show its machine ID and compare it with the one below."
    if machine_id is None:
        compare = "No machine ID is on record: compare the one that the machine shows with the original confirmation."
    stop = "If it is another one, stop: the activation codes on this sheet belong to another main board."
    save = "Save own stitches and settings to a memory stick"
    save += f" ({guide.where_save})." if guide.where_save else " (see the maker's manual)."
    return (
        Step(f"{compare} {stop}", () if machine_id is None else (Entry(Kind.MACHINE_ID, machine_id),)),
        Step(save, caution=SAVE_CAUTION),
        _firmware_step(guide, firmware, needs),
        *(Step(text) for text in guide.before),
    )


def _enter(
    machine_id: str | None, guide: EntryGuide, upgrade: SheetUpgrade, firmware: FirmwareNote | None
) -> tuple[Step, ...]:
    """The codes of one upgrade, and what the maker says is done once they are entered."""
    where = f"open {guide.where}" if guide.where else "open the menu for upgrades (see the maker's manual)"
    order = guide.enter if Kind.ACTIVATION_CODE in guide.enter else (*guide.enter, Kind.ACTIVATION_CODE)
    text = f"On the machine, {where} and enter for {upgrade.title}{_needed(upgrade, firmware)}:"
    step = Step(text, _entries(order, machine_id, upgrade), title=upgrade.title)
    return step, *(Step(f"{upgrade.title}: {further}", title=upgrade.title) for further in upgrade.steps)


def _needed(upgrade: SheetUpgrade, firmware: FirmwareNote | None) -> str:
    """What firmware an upgrade needs, against what was noted last."""
    if upgrade.needs_firmware is None:
        return ""
    noted = "" if firmware is None else f"; {firmware.version} was noted"
    return f" (needs firmware {upgrade.needs_firmware}{noted})"


def _entries(order: Sequence[Kind], machine_id: str | None, upgrade: SheetUpgrade) -> tuple[Entry, ...]:
    """Return the codes of an upgrade that are on record, in the order asked for."""
    codes = {
        Kind.MACHINE_ID: machine_id,
        Kind.PRODUCT_KEY: upgrade.product_key,
        Kind.ACTIVATION_CODE: upgrade.activation_code,
    }
    return tuple(Entry(kind, code) for kind in order if (code := codes.get(kind)) is not None)


def _firmware_step(guide: EntryGuide, firmware: FirmwareNote | None, needs: str | None) -> Step:
    """Compare the firmware needed with the firmware noted."""
    noted = "none is noted" if firmware is None else f"{firmware.version} was noted on {firmware.noted[:10]}"
    if needs is None:
        return Step(f"Look at the firmware version on the machine ({noted}) and note it in the profile.")
    if is_enough(firmware, needs):
        return Step(f"Check that the machine shows firmware {needs} or newer ({noted}).")
    where = f" ({guide.where_update})" if guide.where_update else ""
    return Step(
        f"The upgrades need firmware {needs} or newer ({noted}): update the machine first{where} if it shows less.",
        caution=UPDATE_CAUTION,
    )
