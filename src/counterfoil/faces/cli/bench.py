"""`counterfoil record`: a machine entered at the bench."""

from __future__ import annotations

import click

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    json_option,
    pairs,
    print_json,
    say,
    who_option,
    why_option,
)
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import KINDS, assignments


@click.command(short_help="Enter a machine at the bench: firmware, dates, codes.")
@click.option("--customer", metavar="C3|new", help="Whose machine: an id or text that finds one customer, or `new`.")
@click.option("--set", "values", multiple=True, metavar="KIND=VALUE", help=f"A value; may be repeated. KIND: {KINDS}.")
@click.option("--firmware-before", metavar="VERSION", help="Shown by the machine before the update.")
@click.option("--firmware-after", metavar="VERSION", help="Shown by the machine after the update.")
@click.option("--sure", is_flag=True, help="Enter it although a check speaks against it; the journal says so.")
@who_option
@why_option
@json_option
@archive_option
def record(
    archive: Archive,
    customer: str | None,
    values: tuple[str, ...],
    firmware_before: str | None,
    firmware_after: str | None,
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Enter a machine by hand, with the same checks that mail goes through.

    A machine that is known by its machine ID or serial number gets the new values; another is entered anew. A new
    customer needs --set customer_name=NAME. Never interrupt a firmware update: note the version after the machine
    says that it has finished.

    \b
    Example: counterfoil record --customer C3 --set serial_number=KS72502487 \\
             --firmware-before 1.8 --firmware-after 2.0.1
    """
    if not (values or firmware_before or firmware_after):
        raise UsageProblem("There is nothing to enter.", "Add --set KIND=VALUE, --firmware-before or --firmware-after.")
    if customer not in (None, "new"):
        customer = find_one(archive, (str(customer),), "customer")
    customer_id, machine_id, journal = pipeline.record(
        archive,
        customer=customer,
        values=assignments(values),
        firmware_before=firmware_before,
        firmware_after=firmware_after,
        sure=sure,
        who=account(who),
        why=why,
    )
    if as_json:
        print_json({"customer": customer_id, "machine": machine_id, "journal": journal})
        return
    pairs([("customer", holder_line(archive, customer_id)), ("machine", machine_line(archive, machine_id))])
    say(f"Take it back with: counterfoil triage undo {journal}")
