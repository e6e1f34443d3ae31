"""`counterfoil password`: with what a maker locks a customer's PDFs, so that they can be read."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from counterfoil import byhand
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
from counterfoil.faces.cli.refs import find_one, holder_line
from counterfoil.password_file import read_password


@click.command(short_help="Note the password that a maker locked a customer's PDFs with.")
@click.argument("customer", metavar="[C3]", required=False)
@click.option(
    "--password-file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Take the password from this file's first line.  [default: ask]",
)
@click.option("--forget", is_flag=True, help="Forget the passwords noted of the customer.")
@who_option
@why_option
@json_option
@archive_option
def password(
    archive: Archive,
    customer: str | None,
    password_file: Path | None,
    forget: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Note a password that opens a customer's PDFs; without a customer, list of whom any are noted.

    It is tried on PDFs in mail from or to the customer's addresses and in messages filed to the customer, on no other
    customer's. It stands in the archive's file customers.pw, which only your account can read, and is never shown.

    Example: counterfoil password C3 --why "told on the phone"
    """
    if customer is None:
        if forget or password_file is not None:
            raise UsageProblem("Whose password is it?", "Name the customer: counterfoil password C3")
        _list(archive, as_json=as_json)
        return
    if forget and password_file is not None:
        raise UsageProblem("A password is either noted or forgotten.", "Leave out --forget or --password-file.")
    number = find_one(archive, (customer,), "customer")
    if forget:
        journal = byhand.forget_passwords(archive, number, who=account(who), why=why)
        text = "The passwords are forgotten." if journal else "No password was noted."
    else:
        journal = byhand.note_password(archive, number, _asked(password_file, number), who=account(who), why=why)
        text = "Noted." if journal else "It was noted before."
    locked = byhand.locked_messages_of(archive, number)
    if as_json:
        counts = _counts(archive)
        print_json({"customer": number, "passwords": counts.get(number, 0), "journal": journal, "locked": locked})
        return
    say(f"{holder_line(archive, number)}: {text}")
    if locked and not forget:
        say(f"With locked PDFs: {', '.join(locked)}. Read them with: counterfoil reread --write")


def _counts(archive: Archive) -> dict[str, int]:
    return byhand.customers_with_passwords(archive)


def _list(archive: Archive, *, as_json: bool) -> None:
    counts = _counts(archive)
    if as_json:
        print_json({"customers": [{"id": number, "passwords": count} for number, count in counts.items()]})
    elif not counts:
        say("No passwords of customers are noted.")
    else:
        pairs([(number, f"{count} noted") for number, count in counts.items()])


def _asked(password_file: Path | None, customer: str) -> str:
    """Return the password from a file, or from a person who types it twice."""
    if password_file is not None:
        return read_password(password_file, "--password-file")
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageProblem(
            f"The password for PDFs of {customer} is needed, and there is no terminal to ask on.",
            "Name a file that holds it with --password-file.",
        )
    typed: Any = click.prompt(
        f"Password for PDFs of {customer}", hide_input=True, confirmation_prompt="Once more", err=True
    )
    return str(typed)
