"""Settling all messages from one address at once, and the rules for those to come: `counterfoil triage rules`."""

from __future__ import annotations

from pathlib import Path

import click

from counterfoil import pipeline
from counterfoil.archive import Archive, default_folder
from counterfoil.faces.cli.common import (
    FOLDER,
    account,
    archive_option,
    clean,
    folder_option,
    json_option,
    print_json,
    prose,
    say,
    table,
    who_option,
    why_option,
)
from counterfoil.faces.cli.lazy import OrderedGroup
from counterfoil.faces.cli.refs import find_one
from counterfoil.model import Rule

#: What stands below a line of a list: as wide as the longest usual id.
_INDENT = " " * 6


def settle_all(
    archive: Archive,
    sender: str,
    *,
    customer: str | None,
    aside: bool,
    from_now_on: bool,
    sure: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Settle every open message from an address; return 1 where one is left that a person must look at."""
    if customer not in (None, "new"):
        customer = find_one(archive, (str(customer),), "customer")
    done = pipeline.settle_from(
        archive,
        sender,
        customer=customer,
        aside=aside,
        from_now_on=from_now_on,
        sure=sure,
        who=account(who),
        why=why,
    )
    if as_json:
        print_json(
            {
                "from": done.address,
                "settled": [{"id": m.id, "standing": m.standing.value, "journal": line} for m, line in done.settled],
                "left": [{"id": ref, "why": reason} for ref, reason in done.left],
                "rule": None if done.rule is None else done.rule.id,
                "undo": list(done.journal),
            }
        )
        return int(bool(done.left))
    if not done.settled and not done.left:
        prose(f"Nothing is open from {done.address}.")
    for message, _ in done.settled:
        say(f"{message.id} is {message.standing.value}.")
    for ref, reason in done.left:
        prose(f"{ref} is left open: {reason}", style="yellow")
    if done.rule is not None:
        made = "from now on" if done.new_rule else "already"
        prose(f"{done.rule.id} puts aside what comes from {done.address}, {made}.")
    if done.journal:
        say(f"Take it back with: counterfoil triage undo {' '.join(done.journal)}")
    return int(bool(done.left))


def show_from(archive: Archive, address: str, *, as_json: bool) -> None:
    """List the open messages from an address with what settling changes, and what of them stays open if put aside."""
    from counterfoil.answers.asked import asked
    from counterfoil.answers.triage import open_from

    found = open_from(archive.store, address)
    if as_json:
        print_json({"from": address, "messages": [each.to_json() for each in found]})
        return
    if not found:
        prose(f"Nothing is open from {address}.")
        return
    for each in found:
        message = each.message
        prose(f"{message.id:<5} {(message.received or message.kept)[:10]}  {message.subject}", rest=_INDENT)
        for question in message.questions:
            prose(asked(question), "yellow", first=_INDENT)
        for text in dict.fromkeys(message.changes):
            prose(text, first=_INDENT)
        aside = f"stays open: {each.left}" if each.left else "is put aside with the others."
        prose(f"With --aside it {aside}", first=_INDENT)
    say()
    ways = ["--customer ID"] if all(each.left for each in found) else ["--aside", "--customer ID"]
    say(f"Settle them:  counterfoil triage settle --from {clean(address)} {'   or   '.join(ways)}")


@click.group(
    cls=OrderedGroup,
    invoke_without_command=True,
    short_help="List the rules that put messages aside by their sender.",
)
@json_option
@folder_option
@click.pass_context
def rules(context: click.Context, folder: Path | None, as_json: bool) -> None:
    """List the rules: what comes from their address is put aside, unless it holds a code or an unread document.

    `counterfoil triage settle --from ADDRESS --aside --from-now-on` makes one.

    Example: counterfoil triage rules
    """
    from counterfoil.records.rules import rules as ask

    context.meta[FOLDER] = folder or context.meta.get(FOLDER)
    if context.invoked_subcommand is not None:
        return
    archive = Archive(context.meta[FOLDER] or default_folder())
    try:
        found = ask(archive.store)
    finally:
        archive.close()
    if as_json:
        print_json({"rules": [_json(rule) for rule in found]})
        return
    if not found:
        say("There are no rules.")
        return
    rows = ((r.id, r.address, r.at[:10], r.who, str(r.messages), r.why) for r in found)
    table(None, ("", "puts aside what comes from", "since", "made by", "messages", "why"), rows)


@rules.command(short_help="Remove a rule.")
@click.argument("ref", metavar="R1")
@who_option
@why_option
@json_option
@archive_option
def remove(archive: Archive, ref: str, who: str | None, why: str, as_json: bool) -> None:
    """Remove a rule: what comes from its address is decided like all else again. What it put aside stays aside.

    Example: counterfoil triage rules remove R1
    """
    rule, line = pipeline.remove_rule(archive, ref, who=account(who), why=why)
    if as_json:
        print_json({"removed": rule.id, "address": rule.address, "journal": line})
        return
    prose(f"{rule.id} is removed: what comes from {rule.address} is decided like all else again.")
    say(f"Take it back with: counterfoil triage undo {line}")


def _json(rule: Rule) -> dict[str, object]:
    names = ("id", "address", "at", "who", "why", "journal", "messages")
    return {name: getattr(rule, name) for name in names}
