"""`counterfoil triage reply`: a draft to the sender of an open message; sent only when somebody says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import SendingFailed, UsageProblem
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    clean,
    json_option,
    pairs,
    print_json,
    prose,
    say,
    who_option,
    why_option,
)
from counterfoil.faces.cli.keys import keys, need_terminal

if TYPE_CHECKING:
    from counterfoil.answers.replies import Reply
    from counterfoil.post import Server

DRAFT_ACTION, SEND_ACTION, FAILED_ACTION = "draft reply", "send reply", "reply failed"


@click.command(short_help="Draft a reply that asks the sender for what only they can tell.")
@click.argument("ref", metavar="E5")
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write the draft there, as .eml."
)
@click.option("--send", "sending", is_flag=True, help="Send it through the shop's mail server, after asking.")
@click.option("--yes", is_flag=True, help="With --send: send it without asking.")
@who_option
@why_option
@json_option
@archive_option
def reply(
    archive: Archive,
    ref: str,
    out: Path | None,
    sending: bool,
    yes: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Draft a reply in the sender's language, in the thread of their message. It holds no codes.

    Nothing is sent by itself: --send needs a server in the settings (smtp_host), shows the reply and asks first.
    The texts can be changed: see `replies/` in the README.

    \b
    Examples: counterfoil triage reply E5 --out reply.eml
              counterfoil triage reply E5 --send
    """
    from counterfoil.answers.replies import draft

    if yes and not sending:
        raise UsageProblem("--yes says that the reply is to be sent.", "Add --send.")
    made = draft(
        archive.store,
        archive.settings,
        archive.originals.read,
        ref,
        own_texts=archive.replies_folder,
        when=datetime.now().astimezone().replace(microsecond=0),
    )
    server = _server(archive, yes=yes) if sending else None
    if not as_json:
        _show(archive, made)
    if out is not None:
        _write(out, made.data)
        _note(archive, DRAFT_ACTION, made, account(who), why)
        if not as_json:
            say(f"Written: {out}")
    sent = server is not None and _send(archive, made, server, account(who), why, yes=yes)
    if as_json:
        print_json(made.to_json() | {"file": None if out is None else str(out), "sent": sent})
    elif sending:
        say(f"Sent to {clean(made.to.address)}." if sent else "Not sent.")


def _server(archive: Archive, *, yes: bool) -> Server:
    """Return the server to send through, complete with its password; refuses where nobody can say that it is sent."""
    from counterfoil.post import server_of

    server = server_of(archive.settings, archive.folder)
    if not yes:
        need_terminal("Add --yes to send without asking, or --out FILE to keep the draft.")
    if server.user and not server.password:
        need_terminal("Name a file with the password in counterfoil.toml: smtp_password_file.")
        asked = click.prompt(f"Password of {server.user} at {server.host}", hide_input=True, default="")
        server = replace(server, password=str(asked))
    return server


def _show(archive: Archive, made: Reply) -> None:
    pairs([("from", made.sender), ("to", made.to.address), ("subject", made.subject), ("language", made.language)])
    say()
    for line in made.text.splitlines():
        say(clean(line))
    for entry in archive.store.journal(subject=made.id):
        if entry.action == SEND_ACTION:
            prose(f"A reply was sent already: {entry.id}, {entry.at[:16].replace('T', ' ')} UTC.", style="yellow")


def _send(archive: Archive, made: Reply, server: Server, who: str, why: str, *, yes: bool) -> bool:
    """Send the reply if somebody says so; the journal has it before the server does."""
    from counterfoil.post import send

    if not yes and not _said_so(made):
        return False
    _note(archive, SEND_ACTION, made, who, why)
    try:
        send(server, made.sender, made.to.address, made.data)
    except SendingFailed as error:
        archive.store.note(who, FAILED_ACTION, made.id, error.what, {"to": made.to.address})
        raise
    return True


def _said_so(made: Reply) -> bool:
    with keys() as pressed:
        pressed.discard()
        click.echo(f"Send it to {clean(made.to.address)}? y n > ", nl=False)
        said = pressed.read().lower() == "y"
    click.echo("yes" if said else "no")
    return said


def _note(archive: Archive, action: str, made: Reply, who: str, why: str) -> None:
    detail = {"to": made.to.address, "language": made.language, "questions": list(made.questions)}
    archive.store.note(who, action, made.id, why, detail)


def _write(path: Path, data: bytes) -> None:
    """Write a draft; a file that is there already is not written over."""
    try:
        with path.open("xb") as file:
            file.write(data)
    except FileExistsError as error:
        raise UsageProblem(f"{path} is there already.", "Name another file with --out.") from error
