"""`counterfoil customer` and `counterfoil machine`: a profile and where each value comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click
from rich.text import Text

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import archive_option, json_option, print_json, prose, say, table
from counterfoil.faces.cli.refs import find_one
from counterfoil.faces.cli.values import as_day

if TYPE_CHECKING:
    from counterfoil.answers.profiles import MessageLine, Value


@click.command(short_help="Show a customer's profile and where each value comes from.")
@click.argument("ref", nargs=-1, required=True)
@json_option
@archive_option
def customer(archive: Archive, ref: tuple[str, ...], as_json: bool) -> None:
    """Show a customer: names, addresses, machines held now and before, messages.

    REF is an id (C12) or any text that finds exactly one customer: a name, an address, a telephone number.

    Example: counterfoil customer C3
    """
    from counterfoil.answers.profiles import customer_profile

    answer = customer_profile(archive.store, find_one(archive, ref, "customer"))
    if as_json:
        print_json(answer.to_json())
        return
    prose(f"{answer.id}  {answer.name}", style="bold")
    if answer.profile.merged:
        prose(f"merged into it: {', '.join(answer.profile.merged)}")
    _values(answer.values)
    if answer.machines:
        say()
        rows = (
            (m.id, " ".join(filter(None, (m.maker, m.model))), m.serial_number or "", m.since or "", m.until or "still")
            for m in answer.machines
        )
        table("Machines", ("", "machine", "serial number", "from", "to"), rows)
    _messages(answer.messages)


@click.command(short_help="Show a machine: identifiers, upgrades, firmware, holders.")
@click.argument("ref", nargs=-1, required=True)
@json_option
@archive_option
def machine(archive: Archive, ref: tuple[str, ...], as_json: bool) -> None:
    """Show a machine: identifiers, dates, upgrades (codes masked), firmware notes, holders, messages.

    REF is an id (M7) or any text that finds exactly one machine: a serial number, the end of a code, its holder's name.

    Example: counterfoil machine M7
    """
    from counterfoil.answers.profiles import machine_profile

    answer = machine_profile(archive.store, find_one(archive, ref, "machine"))
    if as_json:
        print_json(answer.to_json())
        return
    prose(f"{answer.id}  {answer.title}", style="bold")
    _values(answer.values)
    if answer.upgrades:
        say()
        rows = (
            (
                u.name or "no name on record",
                u.product_key or "",
                u.activation_code or "",
                _live(u.live),
                "; ".join(u.origins),
            )
            for u in answer.upgrades
        )
        table("Upgrades", ("upgrade", "product key", "activation code", "state", "read from"), rows)
    if answer.firmware:
        say()
        notes = ((n.version, n.noted[:10], n.when or "", n.source) for n in answer.firmware)
        table("Firmware", ("version", "noted", "update", "source"), notes)
    if answer.holders:
        say()
        holders = ((h.customer, h.name, h.since or "", h.until or "still", h.source) for h in answer.holders)
        table("Holders", ("", "name", "from", "to", "source"), holders)
    _messages(answer.messages)


def _live(live: bool) -> Text:
    return Text("live", style="green") if live else Text("dead: other board", style="red")


def _values(values: tuple[Value, ...]) -> None:
    rows = ((v.label, as_day(v.kind, v.value, v.noted[0].fact.normal), "; ".join(v.origins)) for v in values)
    table(None, ("", "value", "read from"), rows)


def _messages(messages: tuple[MessageLine, ...]) -> None:
    if messages:
        say()
        table(
            "Messages",
            ("", "received", "standing", "subject"),
            ((m.id, (m.received or "")[:10], _standing(m), m.subject) for m in messages),
        )


def _standing(line: MessageLine) -> str:
    return f"{line.standing}, repeats {line.repeats}" if line.repeats else line.standing
