"""What a desk puts right: machines without proof of purchase, keys on two machines; and the messages week by week."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from counterfoil.answers.charts import Chart, Series
from counterfoil.answers.desk import desk
from counterfoil.answers.lists import (
    CONTACT_COLUMNS,
    MACHINE_COLUMNS,
    Listing,
    Part,
    People,
    Row,
    Value,
    counted,
    machine_cells,
    selected,
)
from counterfoil.answers.masking import mask
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.records.listing import ListedMachine, Proving, listed_machines, proving, seen_twice

if TYPE_CHECKING:
    from counterfoil.records.store import Store

PROOF_COLUMNS = (*CONTACT_COLUMNS, *MACHINE_COLUMNS, "on_record")
PROOF_SHOWN = ("machine", "maker", "model", "serial_number", "on_record", "customer", "name", "email", "phone")
KEY_COLUMNS = ("number", "kind", "code", "source", *MACHINE_COLUMNS, *CONTACT_COLUMNS)
KEY_SHOWN = ("number", "kind", "code", "source", "machine", "model", "serial_number", "customer", "name", "email")
WEEK_COLUMNS = ("week", "from", "came_in", "filed", "open", "aside")


def proof(store: Store, *, maker: str | None = None, model: str | None = None) -> Listing:
    """List machines without proof of purchase: no message kept names the day of purchase or an invoice number.

    Common practice, no source: a day that somebody only said, or one that can be read in two ways, proves nothing;
    such machines are listed apart.

    Args:
        store: the records.
        maker: only machines of this maker.
        model: only this model.
    """
    found: dict[str, list[Proving]] = {}
    for one in proving(store):
        found.setdefault(one.machine, []).append(one)
    people = People(store)
    nothing: list[Row] = []
    doubtful: list[Row] = []
    looked_at = 0
    for machine in selected(listed_machines(store), maker, model):
        looked_at += 1
        known = found.get(machine.id, [])
        if any(one.message is not None and len(one.noted.fact.readings) < 2 for one in known):
            continue
        row = _proof_row(people, machine, known)
        (doubtful if known else nothing).append(row)
    parts = (
        Part("nothing on record", "Machines without proof of purchase", tuple(nothing)),
        Part("doubtful", "A day or number is on record, but no message that proves it", tuple(doubtful)),
    )
    empty = "Every machine has a day of purchase or an invoice number on record."
    return Listing("proof", PROOF_COLUMNS, PROOF_SHOWN, parts, empty if looked_at else "No machine is on record.")


def _proof_row(people: People, machine: ListedMachine, known: list[Proving]) -> Row:
    said = [_said(one) for one in known]
    on_record = {"on_record": "; ".join(dict.fromkeys(said)) or "nothing"}
    return people.contact(machine.holder) | machine_cells(machine) | on_record


def _said(one: Proving) -> str:
    fact = one.noted.fact
    what = KIND_WORDS[fact.kind]
    if len(fact.readings) > 1:
        return f"{what} {' or '.join(fact.readings)} ({one.noted.source})"
    return f"{what} {fact.normal}, said at the desk ({one.noted.source})"


def keys(store: Store) -> Listing:
    """List product keys and activation codes that are on more than one machine; codes are masked.

    Each is good for one machine. Open messages that ask about such a key are in the list as well.

    Args:
        store: the records.
    """
    machines = {machine.id: machine for machine in listed_machines(store)}
    people = People(store)
    rows: list[Row] = []
    codes = seen_twice(store)
    for number, places in enumerate(codes, 1):
        for place in places:
            fact = place.noted.fact
            machine = machines.get(place.machine or "")
            cells: dict[str, Value] = {"number": number, "kind": KIND_WORDS[fact.kind], "code": mask(fact.value)}
            cells["source"] = place.noted.source if machine is not None else f"{place.message} (open)"
            what = dict.fromkeys(MACHINE_COLUMNS, "") if machine is None else machine_cells(machine)
            rows.append(cells | what | people.contact(None if machine is None else machine.holder))
    title = f"{counted(len(codes), 'code')} seen on more than one machine"
    notes = ["Lines with the same number are about the same code."] if rows else []
    asking = [place.message for places in codes for place in places if place.machine is None]
    notes += [f"Look at what asks about it with: counterfoil triage show {asking[0]}"] if asking else []
    empty = "No product key or activation code is on more than one machine."
    return Listing("keys", KEY_COLUMNS, KEY_SHOWN, (Part("", title, tuple(rows)),), empty, tuple(notes))


def weeks(store: Store, *, today: date, number: int = 12) -> Listing:
    """Count the messages by the week they were received (ISO 8601, UTC) and where they stand now.

    Args:
        store: the records.
        today: the last week is that of this day.
        number: how many weeks.
    """
    found = desk(store, today=today, weeks=number).weeks
    rows: list[Row] = []
    for w in found:
        row: dict[str, Value] = {"week": w.week, "from": w.begins.isoformat(), "came_in": w.came_in}
        rows.append(row | {"filed": w.filed, "open": w.open, "aside": w.aside})
    series = tuple(Series(name, tuple(getattr(w, name) for w in found)) for name in ("filed", "open", "aside"))
    names = tuple(w.week for w in found)
    total = sum(w.came_in for w in found)
    title = f"{counted(total, 'message')} in {counted(number, 'week')}"
    chart = Chart("Messages per week", "week (ISO 8601, from Monday, UTC)", "messages", names, series)
    # Weeks without a message are rows too: that nothing came in is what the list says.
    notes = () if total else ("No message was received in these weeks.",)
    return Listing("weeks", WEEK_COLUMNS, WEEK_COLUMNS, (Part("", title, tuple(rows)),), "", notes, chart)
