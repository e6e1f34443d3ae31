"""`counterfoil merge`, `split`, `handover`, `holder`, `undo`: who is one person, who has a machine since when."""

from __future__ import annotations

from datetime import date

import click

from counterfoil import byhand, pipeline
from counterfoil.archive import Archive
from counterfoil.faces.cli.common import (
    IsoDate,
    account,
    archive_option,
    clean,
    json_option,
    pairs,
    print_json,
    say,
    who_option,
    why_option,
)
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import assignments
from counterfoil.records.handover import NEW, NOBODY


def _take_back(journal: str) -> None:
    say(f"Take it back with: counterfoil undo {journal}")


@click.command(short_help="Make two profiles of one person one.")
@click.argument("customer", metavar="C3")
@click.argument("other", metavar="C5")
@click.option("--sure", is_flag=True, help="They are one person, though they share no name, contact or machine.")
@who_option
@why_option
@json_option
@archive_option
def merge(archive: Archive, customer: str, other: str, sure: bool, who: str | None, why: str, as_json: bool) -> None:
    """Give everything of the second customer to the first: names, contacts, messages, machines.

    The second id stays answerable and leads to the first. Undo parts the two again.

    Example: counterfoil merge C3 C5 --why "same person, married name"
    """
    into, gone = (find_one(archive, (ref,), "customer") for ref in (customer, other))
    done = byhand.merge_customers(archive, into, gone, sure=sure, who=account(who), why=why)
    if as_json:
        print_json({"customer": done.customer, "merged": done.other, "journal": done.journal})
        return
    say(f"{done.other} is now {holder_line(archive, done.customer)}")
    _take_back(done.journal)


@click.command(short_help="Take what is another person's out of a profile.")
@click.argument("customer", metavar="C3")
@click.argument("sources", metavar="[E7|J4]...", nargs=-1)
@click.option("--value", "values", multiple=True, metavar="KIND=VALUE", help="A single name or contact to take out.")
@click.option("--to", metavar="C9", help="The customer it belongs to.  [default: a new one]")
@who_option
@why_option
@json_option
@archive_option
def split(
    archive: Archive,
    customer: str,
    sources: tuple[str, ...],
    values: tuple[str, ...],
    to: str | None,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Give messages, entries by hand (J4) or single values of a customer to another one, new or known.

    Names, contacts and machines go with the messages that gave them. All messages about one machine go together.

    \b
    Examples: counterfoil split C3 E7 E9 --why "the daughter's machine"
              counterfoil split C3 --value phone_number="07700 900321" --to C9
    """
    found = find_one(archive, (customer,), "customer")
    receiver = None if to in (None, NEW) else find_one(archive, (str(to),), "customer")
    done = byhand.split_customer(
        archive, found, sources, values=assignments(values), to=receiver, who=account(who), why=why
    )
    if as_json:
        print_json({"customer": done.other, "to": done.customer, "journal": done.journal})
        return
    pairs([("stays", holder_line(archive, done.other)), ("split off", holder_line(archive, done.customer))])
    _take_back(done.journal)


@click.command(short_help="Note that a machine changed hands: trade-in, sale, gift.")
@click.argument("machine", metavar="M7")
@click.option("--to", required=True, metavar=f"C9|{NEW}|{NOBODY}", help="Who has it now; nobody after a trade-in.")
@click.option("--on", type=IsoDate(), help="The day.  [default: today]")
@click.option("--set", "values", multiple=True, metavar="KIND=VALUE", help="Name and contacts, with `--to new`.")
@click.option("--sure", is_flag=True, help="They really share a contact with somebody on record.")
@who_option
@why_option
@json_option
@archive_option
def handover(
    archive: Archive,
    machine: str,
    to: str,
    on: date | None,
    values: tuple[str, ...],
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Note who has a machine from a day on. Its codes stay with it: the new holder gets them, the former one no more.

    \b
    Examples: counterfoil handover M7 --to nobody --on 2026-03-14 --why "traded in"
              counterfoil handover M7 --to new --set customer_name="Runa Aldermoor"
    """
    found = find_one(archive, (machine,), "machine")
    if to.strip().lower() not in (NEW, NOBODY):
        to = find_one(archive, (to,), "customer")
    done = byhand.hand_over(
        archive, found, to, on=on or date.today(), values=assignments(values), sure=sure, who=account(who), why=why
    )
    if as_json:
        print_json({"machine": done.machine, "customer": done.customer, "journal": done.journal})
        return
    pairs([("machine", machine_line(archive, done.machine)), ("held by", holder_line(archive, done.customer))])
    _take_back(done.journal)


@click.command(short_help="Correct from when to when somebody had a machine.")
@click.argument("machine", metavar="M7")
@click.argument("customer", metavar="C3")
@click.option("--from", "since", type=IsoDate(), help="The first day.")
@click.option("--to", "until", type=IsoDate(), help="The last day, of somebody who no longer has it.")
@who_option
@why_option
@json_option
@archive_option
def holder(
    archive: Archive,
    machine: str,
    customer: str,
    since: date | None,
    until: date | None,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Correct the dates of a holder. The holder before or after moves along where the two meet.

    Example: counterfoil holder M7 C3 --from 2025-02-01
    """
    found, person = find_one(archive, (machine,), "machine"), find_one(archive, (customer,), "customer")
    done = byhand.correct_dates(archive, found, person, since=since, until=until, who=account(who), why=why)
    times = [h for h in archive.store.machine(done.machine).holders if h.customer == done.customer]
    last = times[-1]
    if as_json:
        days = {"from": last.since, "to": last.until}
        print_json({"machine": done.machine, "customer": done.customer, "journal": done.journal} | days)
        return
    say(f"{done.customer} has or had {done.machine} from {last.since or 'unknown'} to {last.until or 'today'}.")
    _take_back(done.journal)


@click.command(short_help="Take back what lines of the journal did.")
@click.argument("refs", metavar="J4...", nargs=-1, required=True)
@who_option
@why_option
@json_option
@archive_option
def undo(archive: Archive, refs: tuple[str, ...], who: str | None, why: str, as_json: bool) -> None:
    """Take back settlements, merges, splits, handovers and entries by hand, in the order named.

    The journal keeps every line and says by which line it was undone.

    Example: counterfoil undo J4
    """
    for ref in refs:
        entry = pipeline.undo(archive, ref, who=account(who), why=why)
        since = entry.detail.get("filed_since")
        since = [str(message) for message in since] if isinstance(since, list) else []
        if as_json:
            print_json({"undone": ref.upper(), "journal": entry.id, "look_at": since})
            continue
        say(f"{clean(ref.upper())} is undone ({entry.id} in the journal).")
        if since:
            say(f"Filed since, see whose they are: {', '.join(since)}")
