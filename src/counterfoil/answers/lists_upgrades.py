"""Whose machine lacks an upgrade its maker sells: the current one, or any other by name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterfoil.answers.charts import Chart, Series
from counterfoil.answers.guides import EntryGuide, UpgradeGuide, guide_for
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
from counterfoil.answers.lists_firmware import last_noted
from counterfoil.errors import UsageProblem
from counterfoil.model import Upgrade
from counterfoil.records.listing import ListedMachine, listed_machines, upgrades_by_machine

if TYPE_CHECKING:
    from counterfoil.records.store import Store

COLUMNS = (*CONTACT_COLUMNS, *MACHINE_COLUMNS, "upgrade", "has", "firmware", "needs_firmware")
SHOWN = ("machine", "model", "serial_number", "upgrade", "has", "firmware", "needs_firmware", "name", "email")

_DOUBTFUL = "An upgrade of theirs has a name that no maker file knows: it may be this one"


@dataclass(frozen=True, slots=True)
class _Owned:
    """What a machine has of its maker's upgrades; ``unnamed``: an upgrade that the maker file cannot tell."""

    machine: ListedMachine
    guide: EntryGuide
    names: frozenset[str]
    unnamed: bool


def upgrades(
    store: Store,
    guides: Sequence[EntryGuide],
    *,
    upgrade: str | None = None,
    maker: str | None = None,
    model: str | None = None,
) -> Listing:
    """List machines that lack an upgrade, with the contacts of who has them now.

    The current upgrade is the last one in the maker file. One that was bought counts, also where its code was made for
    the main board before. A machine with an upgrade of an unknown name is listed apart.

    Args:
        store: the records.
        guides: what the maker files say.
        upgrade: another than the current one, by any of its names.
        maker, model: only machines of this maker and model.

    Raises:
        UsageProblem: no maker file has an upgrade of that name.
    """
    _refuse_unknown(guides, upgrade)
    owned: list[_Owned] = []
    unlisted: Counter[str] = Counter()
    bought = upgrades_by_machine(store)
    for machine in selected(listed_machines(store), maker, model):
        guide = guide_for(machine.maker or None, guides)
        if guide.upgrades:
            owned.append(_owned(machine, bought.get(machine.id, ()), guide))
        else:
            unlisted[machine.maker or "maker not known"] += 1
    people = People(store)
    lacking = [(o, wanted) for o in owned if (wanted := _wanted(o.guide, upgrade)) and wanted.name not in o.names]
    what = f"the upgrade {upgrade}" if upgrade else "the current upgrade"
    rows = tuple(_row(people, o, wanted) for o, wanted in lacking if not o.unnamed)
    doubtful = tuple(_row(people, o, wanted) for o, wanted in lacking if o.unnamed)
    return Listing(
        name="upgrades",
        columns=COLUMNS,
        shown=SHOWN,
        parts=(
            Part("lacks it", f"Machines without {what}", rows),
            Part("cannot be told", _DOUBTFUL, doubtful),
        ),
        empty=f"No machine lacks {what}." if owned else "No machine on record is of a maker whose file lists upgrades.",
        notes=tuple(_notes(unlisted)),
        chart=_chart(owned),
    )


def _refuse_unknown(guides: Sequence[EntryGuide], upgrade: str | None) -> None:
    if upgrade is not None and all(guide.upgrade(upgrade) is None for guide in guides):
        known = [u.name for guide in guides for u in guide.upgrades]
        some = f"Upgrades in the maker files: {', '.join(known)}." if known else "No maker file lists any."
        raise UsageProblem(f"No maker file has an upgrade called {upgrade!r}.", some)


def _owned(machine: ListedMachine, bought: Iterable[Upgrade], guide: EntryGuide) -> _Owned:
    names: set[str] = set()
    unnamed = False
    for owned in bought:
        key = owned.product_key.fact.normal if owned.product_key is not None else ""
        found = guide.upgrade(owned.name, key)
        if found is None:
            unnamed = True
        else:
            names.add(found.name)
    return _Owned(machine, guide, frozenset(names), unnamed)


def _wanted(guide: EntryGuide, upgrade: str | None) -> UpgradeGuide | None:
    return guide.upgrades[-1] if upgrade is None else guide.upgrade(upgrade)


def _row(people: People, owned: _Owned, wanted: UpgradeGuide) -> Row:
    found = last_noted(owned.machine.firmware)
    has = [u.name for u in owned.guide.upgrades if u.name in owned.names]
    more = {
        "upgrade": wanted.name,
        "has": "; ".join(has) or "none",
        "firmware": "" if found is None else found.written,
        "needs_firmware": wanted.needs_firmware or "",
    }
    return people.contact(owned.machine.holder) | machine_cells(owned.machine) | more


def _notes(unlisted: Counter[str]) -> list[str]:
    if not unlisted:
        return []
    makers = ", ".join(f"{maker} {number}" for maker, number in sorted(unlisted.items()))
    total = counted(unlisted.total(), "machine")
    return [f"Not looked at, as no maker file lists upgrades for them: {total} ({makers})."]


def _chart(owned: Sequence[_Owned]) -> Chart:
    """Draw for each upgrade how many machines of its maker have it."""
    guides = {o.guide.maker: o.guide for o in owned}
    pairs = [(maker, upgrade.name) for maker in sorted(guides) for upgrade in guides[maker].upgrades]
    have = [sum(o.guide.maker == maker and name in o.names for o in owned) for maker, name in pairs]
    lack = [sum(o.guide.maker == maker and name not in o.names for o in owned) for maker, name in pairs]
    names = tuple(f"{maker}: {name}" for maker, name in pairs)
    series = (Series("have it", tuple(have)), Series("not on record", tuple(lack)))
    return Chart("Upgrades on record", "upgrade", "machines", names, series, sideways=True)
