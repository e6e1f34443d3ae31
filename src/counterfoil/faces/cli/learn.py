"""`counterfoil learn`: how much each part of a name, contact or address tells, learned from the archive itself."""

from __future__ import annotations

import click

from counterfoil import byhand
from counterfoil.archive import Archive
from counterfoil.faces.cli.common import account, archive_option, json_option, print_json, say, who_option, why_option


@click.command(short_help="Learn how telling each name and contact is here.")
@who_option
@why_option
@json_option
@archive_option
def learn(archive: Archive, who: str | None, why: str, as_json: bool) -> None:
    """Weigh names, contacts and addresses by what the messages in the archive teach, from now on.

    Worth it after some thousand messages; before that the weights shipped count for more. Nothing filed is changed.

    Example: counterfoil learn --why "a year of mail"
    """
    done = byhand.learn_matching(archive, who=account(who), why=why)
    if as_json:
        print_json({"pairs": done.pairs, "share": done.model.share, "journal": done.journal})
        return
    say(f"Learned from {done.pairs:,} pairs of messages; {done.model.share:.0%} of them are one person's.")
    say(f"Take it back with: counterfoil undo {done.journal}")
