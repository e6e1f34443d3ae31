"""`counterfoil triage`: what a person must decide."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    clean,
    folder_option,
    json_option,
    named_folder,
    pairs,
    print_json,
    prose,
    say,
    table,
    who_option,
    why_option,
)
from counterfoil.faces.cli.groups import rules, settle_all, show_from
from counterfoil.faces.cli.lazy import OrderedGroup
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.reply import reply, texts
from counterfoil.faces.cli.values import KINDS, as_day, assignments
from counterfoil.faces.cli.walk import walk

#: What stands below a line of the list: as wide as the longest usual id.
INDENT = " " * 6

if TYPE_CHECKING:
    from counterfoil.answers.triage import QuestionGroup, ShownMessage, ShownValue
    from counterfoil.model import MessageRecord, Question


@click.group(
    cls=OrderedGroup,
    invoke_without_command=True,
    short_help="Settle what needs a person: open messages and their questions.",
)
@click.option(
    "--from", "sender", metavar="ADDRESS", help="List those from this address, as settling them will find them."
)
@json_option
@folder_option
@click.pass_context
def triage(context: click.Context, folder: Path | None, sender: str | None, as_json: bool) -> None:
    """List the open messages, oldest first, grouped by the question they raise.

    \b
    Examples: counterfoil triage
              counterfoil triage --from news@stitch.example
    """
    named = named_folder(folder)
    if context.invoked_subcommand is None:
        archive = Archive(named)
        try:
            if sender is None:
                _list(archive, as_json)
            else:
                show_from(archive, sender, as_json=as_json)
        finally:
            archive.close()


def _list(archive: Archive, as_json: bool) -> None:
    from counterfoil.answers.triage import triage as ask

    groups = ask(archive.store)
    if as_json:
        print_json({"groups": [group.to_json() for group in groups]})
        return
    if not groups:
        say("Nothing is open.")
        return
    for group in groups:
        _show_group(group)
    first = groups[0].messages[0].id
    say(f"Look at one:  counterfoil triage show {first}")
    say(f"Settle it:    counterfoil triage settle {first} --customer ID   (or --customer new, --set, --drop, --aside)")


def _show_group(group: QuestionGroup) -> None:
    from counterfoil.answers.asked import asked

    say(f"{group.code.replace('_', ' ')} ({len(group.messages)})", style="bold")
    for message in group.messages:
        question = message.questions[0]
        prose(f"{message.id:<5} {(message.received or message.kept)[:10]}  {message.sender}", rest=INDENT)
        prose(asked(question), first=INDENT)
        if question.candidates:
            likely = question.candidates[0]
            prose(f"likely: {'  '.join(dict.fromkeys((likely.ref, likely.label)))}", "cyan", first=INDENT)
        others = list(dict.fromkeys(q.code.replace("_", " ") for q in message.questions if q.code != group.code))
        if others:
            prose(f"also asked: {', '.join(others)}", first=INDENT)
    say()


@triage.command(short_help="Show one message with all that was read from it.")
@click.argument("ref", metavar="E5")
@click.option("--reveal", is_flag=True, help="Show the codes in full; needs --reason, written to the journal.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the original, its PDFs and pictures, and where codes were read by eye; needs --reveal.",
)
@who_option
@why_option
@json_option
@archive_option
def show(archive: Archive, ref: str, reveal: bool, out: Path | None, who: str | None, why: str, as_json: bool) -> None:
    """Show one message: its questions with candidates, every value with its place, the documents, the journal.

    \b
    Examples: counterfoil triage show E5
              counterfoil triage show E5 --reveal --reason "photo of the card" --out look
    """
    from counterfoil.answers.triage import show as ask

    if out is not None and not reveal:
        raise UsageProblem("Originals show codes in clear.", "Add --reveal --reason TEXT to write them out.")
    shown = ask(archive.store, ref, reveal=reveal, who=account(who), reason=why, clear=partial(_clear, archive))
    written = () if out is None else _write(archive, shown.id, out)
    if as_json:
        print_json(shown.to_json() | ({"files": [str(path) for path in written]} if out is not None else {}))
        return
    _show_message(archive, shown)
    for path in written:
        say(f"Written: {path}")


def _clear(archive: Archive, message: MessageRecord) -> dict[str, str]:
    """Read a message's original again, for its texts with their codes."""
    read = archive.read_with_boxes(archive.originals.read(message.sha256))
    return {document.name: document.text for document in read.documents}


def _write(archive: Archive, ref: str, out: Path) -> tuple[Path, ...]:
    from counterfoil.answers.handout import write_original
    from counterfoil.documents.attachments import attachments

    limits = archive.settings.limits
    return write_original(
        ref,
        out,
        archive.store,
        archive.originals.read,
        lambda data: attachments(data, limits),
        archive.crops,
    )


def _show_message(archive: Archive, shown: ShownMessage) -> None:
    message = shown.message
    sender = "" if message.sender is None else f"{message.sender.name} <{message.sender.address}>".strip()
    prose(f"{message.id}  {shown.subject}", style="bold")
    pairs(
        [
            ("from", sender),
            ("received", (message.received or "")[:16].replace("T", " ")),
            ("source", message.source),
            ("repeats", message.repeats or ""),
            ("standing", message.standing.value),
            ("customer", "" if message.customer is None else holder_line(archive, message.customer)),
            ("machine", machine_line(archive, message.machine)),
            ("because", "; ".join(message.signs)),
        ]
    )
    for question in shown.questions:
        _show_question(question, message)
    if not shown.revealed and any(question.code == "code_read_by_eye" for question in shown.questions):
        look = f'counterfoil triage show {message.id} --reveal --reason "read by eye" --out look'
        prose(f"The pieces of the picture beside the original: {look}", first="    ")
    for title, values in (("Values taken", shown.chosen), ("Also read", shown.others)):
        if values:
            say()
            table(title, ("", "value", "read from", "check", "odds"), (_value_row(value) for value in values))
    for document in shown.documents:
        say()
        say(f"{document.name} ({document.media_type})", style="bold")
        if document.problem is not None:
            prose(f"{document.problem.value.replace('_', ' ')}: {document.reason}", style="yellow", first="  ")
        for line in document.text.splitlines():
            if line.strip():
                prose(line, first="  ")
    for defect in message.defects:
        prose(defect, first="  note: ")
    if shown.history:
        say()
        say("Journal", style="bold")
    for entry in shown.history:
        undone = f" (undone by {entry.undone_by})" if entry.undone_by else ""
        prose(f"{entry.id}  {entry.at[:16].replace('T', ' ')} UTC  {entry.who}: {entry.action} {entry.why}{undone}")


def _show_question(question: Question, message: MessageRecord) -> None:
    from counterfoil.answers.asked import asked, changes

    say()
    prose(asked(question), style="yellow", first="? ")
    for candidate in question.candidates:
        evidence = f"  ({'; '.join(candidate.evidence)})" if candidate.evidence else ""
        prose("  ".join(dict.fromkeys((candidate.ref, candidate.label))) + evidence, first="    ")
    prose(changes(question, message), first="    ")


def _value_row(value: ShownValue) -> tuple[str | Text, ...]:
    fact = value.noted.fact
    style = {"passed": "green", "failed": "red"}.get(fact.check.value, "")
    shown = as_day(fact.kind, value.value, fact.normal)
    return value.label, shown, value.origin, Text(fact.check.value, style=style), f"{fact.odds:.1f}"


@triage.command(short_help="Answer the questions of one message, or of all from one address.")
@click.argument("ref", metavar="[E5]", required=False)
@click.option("--from", "sender", metavar="ADDRESS", help="Settle all open messages from this address alike.")
@click.option("--from-now-on", is_flag=True, help="With --from and --aside: by a rule, also what comes later.")
@click.option("--customer", metavar="C3|new", help="Whose it is: a customer, or `new` for a new profile.")
@click.option("--machine", metavar="M7|new", help="Which machine, where that is not plain from the machine ID.")
@click.option("--set", "values", multiple=True, metavar="KIND=VALUE", help=f"Correct or add a value; KIND: {KINDS}.")
@click.option("--drop", "drops", multiple=True, metavar="KIND", help="Take a value out that was read wrongly.")
@click.option("--aside", is_flag=True, help="It is no confirmation: put it aside.")
@click.option("--sure", is_flag=True, help="File it although a check speaks against it; the journal says so.")
@who_option
@why_option
@json_option
@archive_option
def settle(
    archive: Archive,
    ref: str | None,
    sender: str | None,
    from_now_on: bool,
    customer: str | None,
    machine: str | None,
    values: tuple[str, ...],
    drops: tuple[str, ...],
    aside: bool,
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Choose the customer, correct or add values, or put the message aside; then it is filed.

    What would put a contradicting or mistyped value into the records is refused unless --sure says that the
    original really reads so. Every settlement is in the journal and can be undone.

    \b
    Examples: counterfoil triage settle E5 --customer C3
              counterfoil triage settle E5 --customer new --set customer_name="Marit Solvang"
              counterfoil triage settle E5 --aside --why "asks for opening hours"
              counterfoil triage settle --from news@stitch.example --aside --from-now-on
    """
    if sender is not None:
        if ref or machine or values or drops:
            raise UsageProblem("--from takes --customer or --aside only.", "Settle single messages by their id.")
        return settle_all(
            archive, sender, customer=customer, aside=aside, from_now_on=from_now_on, sure=sure, who=who, why=why,
            as_json=as_json,
        )  # fmt: skip
    if ref is None or from_now_on:
        raise UsageProblem("It is not said what is to be settled.", "Name a message (E5), or --from ADDRESS.")
    chosen = bool(customer or machine or values or drops)
    if not (chosen or aside):
        raise UsageProblem(f"Nothing says how {ref} is to be settled.", "Add --customer, --set, --drop or --aside.")
    if aside and chosen:
        raise UsageProblem("--aside takes no customer, machine or values.")
    if customer not in (None, "new"):
        customer = find_one(archive, (str(customer),), "customer")
    if machine not in (None, "new"):
        machine = find_one(archive, (str(machine),), "machine")
    outcome = pipeline.settle(
        archive,
        ref,
        customer=customer,
        machine=machine,
        values=assignments(values),
        drop=tuple(kind for kind, _ in assignments(tuple(f"{d}=-" for d in drops))),
        aside=aside,
        sure=sure,
        who=account(who),
        why=why,
    )
    return _show_settled(archive, outcome, as_json=as_json)


def _show_settled(archive: Archive, outcome: pipeline.Settled, *, as_json: bool) -> int:
    message = outcome.message
    if as_json:
        names = ("id", "standing", "customer", "machine")
        print_json({name: getattr(message, name) for name in names} | {"journal": outcome.journal})
        return 0
    say(f"{message.id} is {message.standing.value}.")
    pairs(
        [
            ("customer", "" if message.customer is None else holder_line(archive, message.customer)),
            ("machine", machine_line(archive, message.machine)),
        ]
    )
    say(f"Take it back with: counterfoil triage undo {outcome.journal}")
    return 0


@triage.command(short_help="Take a settlement or a bench entry back.")
@click.argument("refs", metavar="J4...", nargs=-1, required=True)
@who_option
@why_option
@json_option
@archive_option
def undo(archive: Archive, refs: tuple[str, ...], who: str | None, why: str, as_json: bool) -> None:
    """Take back what lines of the journal did, in the order named; the journal keeps both lines.

    Example: counterfoil triage undo J4
    """
    for ref in refs:
        entry = pipeline.undo(archive, ref, who=account(who), why=why)
        if as_json:
            print_json({"undone": ref.upper(), "journal": entry.id})
        else:
            say(f"{clean(ref.upper())} is undone ({entry.id} in the journal).")


triage.add_command(walk)
triage.add_command(rules)
triage.add_command(reply)
triage.add_command(texts)
