"""`counterfoil search`: one box for whatever somebody has in hand."""

from __future__ import annotations

import click

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import archive_option, clean, json_option, marked, print_json, prose, say, table


@click.command(short_help="Find a customer, a machine or a message by whatever you have.")
@click.argument("text", nargs=-1, required=True)
@click.option(
    "--limit", type=click.IntRange(1, 200), default=10, show_default=True, metavar="N", help="At most N of each."
)
@json_option
@archive_option
def search(archive: Archive, text: tuple[str, ...], limit: int, as_json: bool) -> int:
    """Find by a name (also as heard or misspelt, or a pet form), an e-mail address or a piece of it, a telephone
    number in any spelling or its end, a serial number, a machine ID, a code, the end or a piece of one, also spelled or
    with up to two wrong characters, a model, a day, month or year, or by words in mails and their PDFs.

    Of several things typed, whoever answers to all of them comes first. What is only nearly so says "near".

    Words can be narrowed: subject:activation, sender:maker.example, maker:NAME, lang:de, date:2026-03,
    date:[20260101 TO 20260331], "a phrase", begin*.

    \b
    Examples: counterfoil search 07700 900321
              counterfoil search Maier 7Q4K
              counterfoil search kilo x-ray four foxtrot
              counterfoil search Brückwald march 2025
              counterfoil search "hoop calibration" date:2026
    """
    from counterfoil.answers.search import search as ask

    answer = ask(archive.store, archive.index, " ".join(text), settings=archive.settings, limit=limit)
    if as_json:
        print_json(answer.to_json())
        return 0
    prose(answer.understood, style="italic")
    if answer.customers:
        say()
        rows = (
            (c.id, c.name, ", ".join(c.emails), ", ".join(c.phones), " ".join(c.machines), c.why)
            for c in answer.customers
        )
        table("Customers", ("", "name", "e-mail", "phone", "machines", "found by"), rows)
    if answer.machines:
        say()
        found = (
            (
                m.id,
                " ".join(filter(None, (m.maker, m.model))),
                m.serial_number or "",
                m.machine_id or "",
                m.customer or "",
                m.why,
            )
            for m in answer.machines
        )
        table("Machines", ("", "machine", "serial number", "machine ID", "holder", "found by"), found)
    if answer.messages:
        say()
        mails = (
            (m.id, (m.received or "")[:10], m.standing, m.customer or "", m.subject, marked(m.snippet))
            for m in answer.messages
        )
        columns = ("", "received", "standing", "customer", "subject", "snippet")
        table("Messages", columns, mails, below=("snippet",))
    if not (answer.customers or answer.machines or answer.messages):
        say("Nothing found.")
        if answer.did_you_mean:
            say("Did you mean: " + " | ".join(map(clean, answer.did_you_mean)))
    return 0
