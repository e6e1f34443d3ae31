"""`counterfoil record`: a machine entered at the bench, corrected, and its slip printed."""

from __future__ import annotations

from pathlib import Path

import click

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import CounterfoilError, StorageFull, UsageProblem
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
from counterfoil.faces.cli.files import write_file
from counterfoil.faces.cli.keys import on_terminal
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import KINDS, assignments
from counterfoil.model import Kind

_NEEDED = (
    "Add --set machine_id=VALUE or --set serial_number=VALUE, what is to be noted of it (--firmware-before, "
    "--firmware-after, --set KIND=VALUE), and for a new machine --customer C3, or --customer new --set "
    "customer_name=NAME. On a terminal, `counterfoil record` asks for them."
)


@click.command(short_help="Enter a machine at the bench: firmware, dates, codes.")
@click.option("--customer", metavar="C3|new", help="Whose machine: an id or text that finds one customer, or `new`.")
@click.option("--set", "values", multiple=True, metavar="KIND=VALUE", help=f"A value; may be repeated. KIND: {KINDS}.")
@click.option("--firmware-before", metavar="VERSION", help="Shown by the machine before the update.")
@click.option("--firmware-after", metavar="VERSION", help="Shown by the machine after the update.")
@click.option("--ask", is_flag=True, help="Ask for what the options leave open, one value after the other.")
@click.option("--correct", metavar="J9", help="Correct this entry: new values take the place of old ones.")
@click.option("--drop", multiple=True, metavar="KIND", help="With --correct: take a value out; may be repeated.")
@click.option(
    "--slip",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT.pdf",
    help="Write a slip to print, codes masked.",
)
@click.option("--slip-of", metavar="J9", help="With --slip: only print the slip of an entry made before.")
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
    ask: bool,
    correct: str | None,
    drop: tuple[str, ...],
    slip: Path | None,
    slip_of: str | None,
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Enter a machine by hand, with the same checks that mail goes through.

    Without values it asks for them on a terminal, and checks each at once. A machine that is known by its machine ID
    or serial number gets the new values; another is entered anew. A new customer needs --set customer_name=NAME.
    Never interrupt a firmware update: note the version after the machine says that it has finished.

    \b
    Examples: counterfoil record
              counterfoil record --customer C3 --set serial_number=KS72502487 \\
                      --firmware-before 1.8 --firmware-after 2.0.1 --slip slip.pdf
              counterfoil record --correct J9 --set purchase_date=2026-03-01
    """
    given = assignments(values)
    _check(customer, correct, drop, slip, slip_of, entering=bool(given or firmware_before or firmware_after or ask))
    if slip_of is not None and slip is not None:
        _only_slip(archive, slip_of, slip, as_json=as_json)
        return
    name = account(who)
    done: tuple[str, str, str] | None
    if correct is not None:
        done = _correct(archive, correct, given, firmware_before, firmware_after, drop, sure=sure, who=name, why=why)
    elif ask or not (given or firmware_before or firmware_after):
        done = _ask(archive, customer, given, firmware_before, firmware_after, who=name, why=why)
    else:
        done = _enter(archive, customer, given, firmware_before, firmware_after, sure=sure, who=name, why=why)
    _finish(archive, done, slip, as_json=as_json)


def _check(
    customer: str | None,
    correct: str | None,
    drop: tuple[str, ...],
    slip: Path | None,
    slip_of: str | None,
    *,
    entering: bool,
) -> None:
    """Refuse options that do not go together, before anything is written."""
    if slip is not None and slip.exists():
        raise UsageProblem(f"{slip} is there already.", "Name another file for the slip, or move that one away.")
    if slip_of is not None and (slip is None or correct is not None or customer is not None or entering):
        raise UsageProblem("--slip-of only prints a slip.", "Use it with --slip OUT.pdf alone.")
    if correct is None and drop:
        raise UsageProblem("--drop takes values out of an entry.", "Name the entry with --correct J9.")
    if correct is not None and customer is not None:
        raise UsageProblem(
            "A correction does not change whose machine it is.",
            f"Take it back with `counterfoil undo {correct}` and enter it anew, or use `counterfoil handover`.",
        )
    if slip_of is None and correct is None and not entering and not on_terminal():
        raise UsageProblem("There is nothing to enter.", _NEEDED)


def _whose(archive: Archive, customer: str | None) -> str | None:
    """Return the id of the customer named, `new`, or None where none was."""
    if customer is None or customer.strip().lower() == "new":
        return None if customer is None else "new"
    return find_one(archive, (customer,), "customer")


def _enter(
    archive: Archive,
    customer: str | None,
    given: tuple[tuple[Kind, str], ...],
    before: str | None,
    after: str | None,
    *,
    sure: bool,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    return pipeline.record(
        archive,
        customer=_whose(archive, customer),
        values=given,
        firmware_before=before,
        firmware_after=after,
        sure=sure,
        who=who,
        why=why,
    )


def _ask(
    archive: Archive,
    customer: str | None,
    given: tuple[tuple[Kind, str], ...],
    before: str | None,
    after: str | None,
    *,
    who: str,
    why: str,
) -> tuple[str, str, str] | None:
    from counterfoil.faces.cli.bench_ask import Asking

    if not on_terminal():
        raise UsageProblem("--ask asks, and there is no terminal to answer on.", _NEEDED)
    return Asking(archive, dict(given), _whose(archive, customer), before, after).run(who=who, why=why)


def _correct(
    archive: Archive,
    entry: str,
    given: tuple[tuple[Kind, str], ...],
    before: str | None,
    after: str | None,
    drop: tuple[str, ...],
    *,
    sure: bool,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    from counterfoil import entering

    kinds = [kind for kind, _ in assignments(tuple(f"{word}=x" for word in drop))]
    return entering.correct(
        archive,
        entry,
        values=given,
        firmware_before=before,
        firmware_after=after,
        drop=kinds,
        sure=sure,
        who=who,
        why=why,
    )


def _finish(archive: Archive, done: tuple[str, str, str] | None, slip: Path | None, *, as_json: bool) -> None:
    """Say what was entered, and print its slip."""
    if done is None:
        if as_json:
            print_json({"customer": None, "machine": None, "journal": None})
        else:
            say("Nothing was entered.")
        return
    customer, machine, journal = done
    problem: CounterfoilError | None = None
    if slip is not None:
        try:
            _write_slip(archive, journal, slip)
        except (StorageFull, UsageProblem) as error:
            # The entry stands: that must be said first.
            problem = error
    if as_json:
        more = {"slip": str(slip)} if slip is not None and problem is None else {}
        print_json({"customer": customer, "machine": machine, "journal": journal} | more)
    else:
        pairs([("customer", holder_line(archive, customer)), ("machine", machine_line(archive, machine))])
        if slip is not None and problem is None:
            say(f"Written: {slip}")
        say(f"Correct it with: counterfoil record --correct {journal} --set KIND=VALUE")
        say(f"Take it back with: counterfoil undo {journal}")
    if problem is not None:
        problem.next_step = f"The entry is kept. Print it with: counterfoil record --slip-of {journal} --slip OUT.pdf"
        raise problem


def _only_slip(archive: Archive, journal: str, path: Path, *, as_json: bool) -> None:
    """Print the slip of an entry made before."""
    _write_slip(archive, journal, path)
    if as_json:
        print_json({"journal": journal.strip().upper(), "slip": str(path)})
    else:
        say(f"Written: {path}")


def _write_slip(archive: Archive, journal: str, path: Path) -> None:
    from counterfoil.answers.slip import make_slip, slip_of

    write_file(path, make_slip(slip_of(archive.store, journal), shop_name=archive.settings.shop_name))
