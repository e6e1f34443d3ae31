"""`counterfoil triage reply`: a draft to the sender of an open message; sent only when somebody says so."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import SendingFailed, StorageFull, UsageProblem
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
    from counterfoil.model import JournalEntry
    from counterfoil.post import Server

DRAFT_ACTION, FAILED_ACTION = "draft reply", "reply failed"
#: Written before a reply is handed to the server, and once the server has taken it.
SEND_ACTION, SENT_ACTION = "send reply", "reply sent"


@click.command(short_help="Draft a reply that asks the sender for what only they can tell.")
@click.argument("ref", metavar="E5")
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write the draft there, as .eml."
)
@click.option("--send", "sending", is_flag=True, help="Send it through the shop's mail server, after asking.")
@click.option("--yes", is_flag=True, help="With --send: send it without asking.")
@click.option("--again", is_flag=True, help="With --send: send it although one was, or may have been, sent already.")
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
    again: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Draft a reply in the sender's language, in the thread of their message. It holds no codes.

    Nothing is sent by itself: --send needs a server in the settings (smtp_host), shows the reply and asks first. A
    second reply to the same message needs --again. The texts can be changed: see `counterfoil triage texts`.

    \b
    Examples: counterfoil triage reply E5 --out reply.eml
              counterfoil triage reply E5 --send
    """
    from counterfoil.answers.replies import draft

    if (yes or again) and not sending:
        raise UsageProblem("--yes and --again say that the reply is to be sent.", "Add --send.")
    made = draft(
        archive.store,
        archive.settings,
        archive.originals.read,
        ref,
        own_texts=archive.replies_folder,
        when=datetime.now().astimezone().replace(microsecond=0),
    )
    server = None
    if sending:
        _refuse_twice(archive, made.id, again=again)
        server = _server(archive, yes=yes)
    if not as_json:
        _show(archive, made)
    if out is not None:
        _write(out, made.data)
        _note(archive, DRAFT_ACTION, made, account(who), why)
        if not as_json:
            say(f"Written: {out}")
    sent = server is not None and _send(archive, made, server, account(who), why, yes=yes, again=again)
    if as_json:
        print_json(made.to_json() | {"file": None if out is None else str(out), "sent": sent})
    elif sending:
        say(f"Sent to {clean(made.to.address)}." if sent else "Not sent.")


@click.command(short_help="Print the texts of replies, to be changed.")
@click.argument("language", metavar="[LANGUAGE]", required=False)
@json_option
@archive_option
def texts(archive: Archive, language: str | None, as_json: bool) -> None:
    """Print the texts of a language as a file to start from; without a language, list those there are.

    What stands in the archive's own `replies/de.toml` takes the place of the German text of that name; leave out what
    is to stay. `counterfoil triage reply` uses it at once.

    \b
    Example: counterfoil triage texts de > shop/replies/de.toml
    """
    from counterfoil.answers.replies import languages, load_texts, shipped_texts

    known = languages()
    if language is None:
        found = [(name, archive.replies_folder / f"{name}.toml") for name in known]
        if as_json:
            print_json({"languages": [{"language": name, "own": path.is_file()} for name, path in found]})
            return
        for name, path in found:
            say(f"{name}  {path}" if path.is_file() else name)
        return
    if language not in known:
        raise UsageProblem(f"There are no texts for {language!r}.", f"There are: {', '.join(known)}.")
    if as_json:
        print_json({"language": language, "texts": dict(load_texts(language, archive.replies_folder)[1])})
        return
    click.echo(shipped_texts(language), nl=False)


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
    before = _sent_before(archive, made.id)
    if before:
        prose(before, style="yellow")


def _sent_before(archive: Archive, ref: str) -> str:
    """Say in a sentence that a reply to a message was sent, or may have been; empty where none was."""
    last: JournalEntry | None = None
    for entry in archive.store.journal(subject=ref):
        if entry.action in (SEND_ACTION, SENT_ACTION, FAILED_ACTION):
            last = entry
    if last is None or last.action == FAILED_ACTION:
        return ""
    at = f"{last.id}, {last.at[:16].replace('T', ' ')} UTC"
    if last.action == SENT_ACTION:
        return f"A reply to {ref} was sent already ({at})."
    return (
        f"A reply to {ref} may have been sent ({at}): the run was stopped, or cut off, before the server had answered."
    )


def _refuse_twice(archive: Archive, ref: str, *, again: bool) -> None:
    """Refuse to send a second reply to a message unless a person says so."""
    before = _sent_before(archive, ref)
    if before and not again:
        raise UsageProblem(before, "Add --again to send it once more.")


def _send(archive: Archive, made: Reply, server: Server, who: str, why: str, *, yes: bool, again: bool) -> bool:
    """Send the reply if somebody says so; the journal has it before the server does, and the outcome after."""
    from counterfoil.post import send

    if not yes and not _said_so(made):
        return False
    with archive.lock():
        # Looked at once more: somebody else may have sent one while this person read it.
        _refuse_twice(archive, made.id, again=again)
        _note(archive, SEND_ACTION, made, who, why)
    try:
        send(server, made.sender, made.to.address, made.data)
    except SendingFailed as error:
        archive.store.note(who, FAILED_ACTION, made.id, error.what, {"to": made.to.address})
        raise
    _note(archive, SENT_ACTION, made, who, why)
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
    """Write a draft that only its owner can read; a file that is there already is not written over."""
    try:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(data)
    except FileExistsError as error:
        raise UsageProblem(f"{path} is there already.", "Name another file with --out.") from error
    except OSError as error:
        path.unlink(missing_ok=True)
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error
