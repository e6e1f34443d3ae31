"""`counterfoil triage`: what a person must decide."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from counterfoil import pipeline
from counterfoil.archive import Archive, default_folder
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    FOLDER,
    account,
    archive_option,
    clean,
    folder_option,
    json_option,
    pairs,
    print_json,
    say,
    table,
    who_option,
    why_option,
)
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import KINDS, assignments

if TYPE_CHECKING:
    from counterfoil.answers.triage import QuestionGroup, ShownMessage, ShownValue
    from counterfoil.model import Question


@click.group(invoke_without_command=True, short_help="Settle what needs a person: open messages and their questions.")
@json_option
@folder_option
@click.pass_context
def triage(context: click.Context, folder: Path | None, as_json: bool) -> None:
    """List the open messages, oldest first, grouped by the question they raise.

    Example: counterfoil triage
    """
    context.meta[FOLDER] = folder
    if context.invoked_subcommand is None:
        archive = Archive(folder or default_folder())
        try:
            _list(archive, as_json)
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
    say("Look at one: counterfoil triage show E5      Settle it: counterfoil triage settle E5 --customer C3")


def _show_group(group: QuestionGroup) -> None:
    rows = []
    for message in group.messages:
        question = message.questions[0]
        likely = question.candidates[0] if question.candidates else None
        guess = "" if likely is None else " ".join(dict.fromkeys((likely.ref, likely.label)))
        rows.append((message.id, (message.received or message.kept)[:10], message.sender, question.sentence, guess))
    title = f"{group.code.replace('_', ' ')} ({len(group.messages)})"
    table(title, ("", "received", "from", "question", "likely answer"), rows)
    say()


@triage.command(short_help="Show one message with all that was read from it.")
@click.argument("ref", metavar="E5")
@click.option("--reveal", is_flag=True, help="Show the codes in full; needs --reason, written to the journal.")
@who_option
@why_option
@json_option
@archive_option
def show(archive: Archive, ref: str, reveal: bool, who: str | None, why: str, as_json: bool) -> None:
    """Show one message: its questions with candidates, every value with its place, the documents, the history.

    Example: counterfoil triage show E5
    """
    from counterfoil.answers.triage import show as ask

    shown = ask(archive.store, ref, reveal=reveal, who=account(who), reason=why)
    if as_json:
        print_json(shown.to_json())
        return
    _show_message(archive, shown)


def _show_message(archive: Archive, shown: ShownMessage) -> None:
    message = shown.message
    sender = "" if message.sender is None else f"{message.sender.name} <{message.sender.address}>".strip()
    say(f"{message.id}  {clean(shown.subject)}", style="bold")
    pairs(
        [
            ("from", sender),
            ("received", (message.received or "")[:16].replace("T", " ")),
            ("source", message.source),
            ("standing", message.standing.value),
            ("customer", "" if message.customer is None else holder_line(archive, message.customer)),
            ("machine", machine_line(archive, message.machine)),
            ("because", "; ".join(message.signs)),
        ]
    )
    for question in shown.questions:
        _show_question(question)
    for title, values in (("Values taken", shown.chosen), ("Also read", shown.others)):
        if values:
            say()
            table(title, ("", "value", "read from", "check", "odds"), (_value_row(value) for value in values))
    for document in shown.documents:
        say()
        say(f"{document.name} ({document.media_type})", style="bold")
        if document.problem is not None:
            say(f"  {document.problem.value.replace('_', ' ')}: {clean(document.reason)}", style="yellow")
        for line in document.text.splitlines():
            if line.strip():
                say(f"  {clean(line)}")
    for defect in message.defects:
        say(f"  note: {clean(defect)}")
    for entry in shown.history:
        say(f"  {entry.id} {entry.at[:16]} {clean(entry.who)}: {entry.action}  {clean(entry.why)}")


def _show_question(question: Question) -> None:
    say()
    say(f"? {clean(question.sentence)}", style="yellow")
    for candidate in question.candidates:
        evidence = f"  ({'; '.join(candidate.evidence)})" if candidate.evidence else ""
        say(f"    {clean('  '.join(dict.fromkeys((candidate.ref, candidate.label))))}{clean(evidence)}")


def _value_row(value: ShownValue) -> tuple[str | Text, ...]:
    fact = value.noted.fact
    style = {"passed": "green", "failed": "red"}.get(fact.check.value, "")
    return value.label, value.value, value.origin, Text(fact.check.value, style=style), f"{fact.odds:.1f}"


@triage.command(short_help="Answer the questions of one message.")
@click.argument("ref", metavar="E5")
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
    ref: str,
    customer: str | None,
    machine: str | None,
    values: tuple[str, ...],
    drops: tuple[str, ...],
    aside: bool,
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Choose the customer, correct or add values, or put the message aside; then it is filed.

    What would put a contradicting or mistyped value into the records is refused unless --sure says that the
    original really reads so. Every settlement is in the journal and can be undone.

    \b
    Examples: counterfoil triage settle E5 --customer C3
              counterfoil triage settle E5 --customer new --set customer_name="Marit Solvang"
              counterfoil triage settle E5 --aside --why "asks for opening hours"
    """
    if not (customer or machine or values or drops or aside):
        raise UsageProblem(f"Nothing says how {ref} is to be settled.", "Add --customer, --set, --drop or --aside.")
    if aside and (customer or machine or values or drops):
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
    message = outcome.message
    if as_json:
        print_json(
            {
                "id": message.id,
                "standing": message.standing.value,
                "customer": message.customer,
                "machine": message.machine,
                "journal": outcome.journal,
            }
        )
        return
    say(f"{message.id} is {message.standing.value}.")
    pairs(
        [
            ("customer", "" if message.customer is None else holder_line(archive, message.customer)),
            ("machine", machine_line(archive, message.machine)),
        ]
    )
    say(f"Take it back with: counterfoil triage undo {outcome.journal}")


@triage.command(short_help="Take a settlement or a bench entry back.")
@click.argument("ref", metavar="J4")
@who_option
@why_option
@archive_option
def undo(archive: Archive, ref: str, who: str | None, why: str) -> None:
    """Take back what a line of the journal did; the journal keeps both lines.

    Example: counterfoil triage undo J4
    """
    entry = pipeline.undo(archive, ref, who=account(who), why=why)
    say(f"{ref} is undone ({entry.id} in the journal).")
