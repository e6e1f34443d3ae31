"""Which firmware the machines have: those below a version, with whom to write to; how many machines have which."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterfoil.answers.charts import Chart, Series
from counterfoil.answers.lists import (
    CONTACT_COLUMNS,
    MACHINE_COLUMNS,
    Listing,
    Part,
    People,
    Row,
    counted,
    machine_cells,
    selected,
)
from counterfoil.errors import UsageProblem
from counterfoil.model import Kind, MachineProfile
from counterfoil.records.listing import ListedMachine, Version, listed_machines
from counterfoil.records.versions import VersionKey, version_key

if TYPE_CHECKING:
    from counterfoil.records.store import Store

COLUMNS = (*CONTACT_COLUMNS, *MACHINE_COLUMNS, "firmware", "noted_on", "noted_in")
SHOWN = ("machine", "model", "serial_number", "firmware", "noted_on", "customer", "name", "email", "phone")
UNKNOWN = "not known"
#: Of two notes of one day the one after an update counts, then the higher version; as on the restore sheet.
_STAGES = {"before": 0, None: 1, "after": 2}
CAUTION = (
    "A firmware update must not be interrupted: power and memory stick stay as they are until the machine says that it "
    "has finished. The maker's manual comes first: say both in the mailing."
)
_LEAST: VersionKey = ((), ())


@dataclass(frozen=True, slots=True)
class Firmware:
    """The firmware noted last of a machine: as written, by what it is compared, the day it was noted, and where."""

    written: str
    key: VersionKey
    noted: str
    source: str


def latest_firmware(machine: MachineProfile) -> Firmware | None:
    """Return the firmware noted last; None where none was, or none with a number in it."""
    facts = [n.fact for n in machine.facts if n.fact.kind is Kind.FIRMWARE_VERSION]
    # A note has the version in its normal form, digits and dots; its fact, in the same order, has letters as well.
    pairs = zip(facts, machine.firmware, strict=True)
    return last_noted(Version(fact.value, note.noted, note.when, note.source) for fact, note in pairs)


def last_noted(versions: Iterable[Version]) -> Firmware | None:
    """Return the version noted last; None where there is none with a number in it."""
    known = [(v, key) for v in versions if (key := version_key(v.written)) is not None]
    last = max(known, key=lambda item: (item[0].at[:10], _STAGES.get(item[0].stage, 1), item[1]), default=None)
    if last is None:
        return None
    version, key = last
    return Firmware(" ".join(version.written.split()), key, version.at[:10], version.source)


def firmware(store: Store, *, model: str | None = None, maker: str | None = None, below: str | None = None) -> Listing:
    """List machines by the firmware noted last, with the contacts of who has them now.

    Machines without a version on record are listed apart, whatever is asked for. Versions are compared by the rule of
    :mod:`counterfoil.records.versions`.

    Args:
        store: the records.
        model: only this model, whole, its maker may stand in front; upper and lower case, accents, signs aside.
        maker: only this maker.
        below: only machines below this version; needs a model, for versions of two models say nothing to each other.

    Raises:
        UsageProblem: ``below`` is no version, or no model is named with it.
    """
    bound = _bound(below, model)
    machines = listed_machines(store)
    chosen = [(last_noted(machine.firmware), machine) for machine in selected(machines, maker, model)]
    people = People(store)
    known = [(found, machine) for found, machine in chosen if found is not None]
    listed = [(f, m) for f, m in known if bound is None or f.key < bound]
    listed.sort(key=lambda item: (*_what(item[1]), item[0].key, int(item[1].id[1:])))
    unknown = [m for found, m in chosen if found is None]
    what = " ".join(word for word in (maker, model) if word) or "all makers and models"
    below_what = f"below {below}" if below else "noted"
    parts = (
        Part(below_what, f"{what}: firmware {below_what}", tuple(_row(people, m, f) for f, m in listed)),
        Part(
            UNKNOWN,
            f"{what}: no firmware on record; ask or look at the machine",
            tuple(_row(people, m, None) for m in unknown),
        ),
    )
    return Listing(
        name="firmware",
        columns=COLUMNS,
        shown=SHOWN,
        parts=parts,
        empty=_empty(machines, bool(chosen), what, below),
        notes=(*_notes(machines, model, [m for _, m in listed], people), *((CAUTION,) if below and listed else ())),
        chart=_chart(known, len(unknown), below, bound, what),
    )


def versions(store: Store, *, model: str | None = None, maker: str | None = None) -> Listing:
    """Count machines by maker, model and the firmware noted last.

    Args:
        store: the records.
        model: only this model.
        maker: only this maker.
    """
    count: Counter[tuple[str, str, str]] = Counter()
    order: dict[str, VersionKey] = {}
    for machine in selected(listed_machines(store), maker, model):
        found = last_noted(machine.firmware)
        written = UNKNOWN if found is None else _plain(found.written)
        order.setdefault(written, _LEAST if found is None else found.key)
        count[(*_what(machine), written)] += 1
    keys = sorted(count, key=lambda k: (*k[:2], k[2] == UNKNOWN, order[k[2]], k[2]))
    rows = tuple(dict(zip(("maker", "model", "firmware"), key, strict=True)) | {"machines": count[key]} for key in keys)
    names = tuple(f"{' '.join(key[:2]).strip() or 'model not known'}: {key[2]}" for key in keys)
    series = Series("machines", tuple(count[key] for key in keys))
    columns = ("maker", "model", "firmware", "machines")
    return Listing(
        name="versions",
        columns=columns,
        shown=columns,
        parts=(Part("", "Machines by the firmware noted last", rows),),
        empty="No machine like this is on record.",
        chart=Chart("Firmware noted last", "model and version", "machines", names, (series,), sideways=True),
    )


def _bound(below: str | None, model: str | None) -> VersionKey | None:
    if below is None:
        return None
    key = version_key(below)
    if key is None:
        raise UsageProblem(f"{below!r} is no firmware version.", "Give it with digits, as 2.10.")
    if model is None:
        raise UsageProblem("Versions can be compared within one model only.", 'Add --model, as in --model "Aria 500".')
    return key


def _what(machine: ListedMachine) -> tuple[str, str]:
    return machine.maker, machine.model


def _row(people: People, machine: ListedMachine, found: Firmware | None) -> Row:
    noted = {"firmware": "", "noted_on": "", "noted_in": ""}
    if found is not None:
        noted = {"firmware": found.written, "noted_on": found.noted, "noted_in": found.source}
    return people.contact(machine.holder) | machine_cells(machine) | noted


def _empty(machines: Iterable[ListedMachine], chosen: bool, what: str, below: str | None) -> str:
    if chosen:
        return f"No {what} on record has firmware below {below}." if below else f"No firmware of {what} is on record."
    models = sorted({" ".join(_what(m)).strip() for m in machines} - {""})
    some = f" Models on record: {', '.join(models)}." if models else ""
    return f"No machine of {what} is on record.{some}"


def _notes(
    machines: Iterable[ListedMachine], model: str | None, listed: list[ListedMachine], people: People
) -> Iterable[str]:
    """Say what the list does not have: machines in nobody's hands, holders without an address, unknown models."""
    contacts = [people.contact(m.holder) for m in listed]
    nobody = sum(not c["customer"] for c in contacts)
    without = sum(bool(c["customer"]) and not c["email"] for c in contacts)
    if nobody:
        yield f"{counted(nobody, 'machine')} of these {'is' if nobody == 1 else 'are'} in nobody's hands."
    if without:
        yield f"{counted(without, 'holder')} of these {'has' if without == 1 else 'have'} no e-mail address on record."
    if model is not None:
        unnamed = [m.id for m in machines if not m.model]
        if unnamed:
            some = ", ".join(unnamed[:10]) + (" and more" if len(unnamed) > 10 else "")
            yield f"Not looked at, as no model is on record: {counted(len(unnamed), 'machine')} ({some})."


def _plain(written: str) -> str:
    """Return a version without what stands ahead of its first digit, so that V2.10 and 2.10 are counted as one."""
    first = next(n for n, character in enumerate(written) if character.isdigit())
    return written[first:]


def _chart(
    known: list[tuple[Firmware, ListedMachine]], unknown: int, below: str | None, bound: VersionKey | None, what: str
) -> Chart:
    """Draw how many machines have which version; those below the bound in a colour of their own."""
    count: Counter[VersionKey] = Counter(found.key for found, _ in known)
    name = {found.key: _plain(found.written) for found, _ in known}
    keys = sorted(count)
    names = (*(name[key] for key in keys), *((UNKNOWN,) if unknown else ()))
    none = (0,) if unknown else ()
    if bound is None:
        series = [Series("noted", (*(count[key] for key in keys), *none))]
    else:
        older = tuple(count[key] if key < bound else 0 for key in keys)
        series = [Series(f"below {below}", older + none)]
        series.append(Series(f"{below} or newer", tuple(count[k] if k >= bound else 0 for k in keys) + none))
    if unknown:
        series.append(Series(UNKNOWN, (*(0 for _ in keys), unknown)))
    return Chart(f"Firmware noted last: {what}", "version", "machines", names, tuple(series), sideways=True)
