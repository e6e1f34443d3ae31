"""The command line. Commands are loaded when called, so that the help and small questions stay quick."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import click

from counterfoil import __version__
from counterfoil.errors import CounterfoilError, NeedsALook, StorageFull, UsageProblem
from counterfoil.faces.cli.harmless import clean, json_text
from counterfoil.faces.cli.lazy import LazyGroup
from counterfoil.faces.cli.sysexits import for_mail_server, is_wanted

#: name -> (module below faces/cli, attribute, one line for the overview; a test holds it against the command's own).
COMMANDS = {
    "init": ("setup", "init", "Make a new archive."),
    "ingest": (
        "ingest",
        "ingest",
        "Take in mail: files, folders, mbox, zip, mail server, pipe.",
    ),
    "watch": ("watch", "watch", "Take in mail as it comes, from a folder or mail server."),
    "triage": ("triage", "triage", "Settle what needs a person: open messages and their questions."),
    "record": ("bench", "record", "Enter a machine at the bench: firmware, dates, codes."),
    "customers": ("customers", "customers", "Take the shop's own customer list in, or write it out."),
    "search": ("find", "search", "Find a customer, a machine or a message by whatever you have."),
    "customer": ("profiles", "customer", "Show a customer's profile and where each value comes from."),
    "machine": ("profiles", "machine", "Show a machine: identifiers, upgrades, firmware, holders."),
    "merge": ("moves", "merge", "Make two profiles of one person one."),
    "split": ("moves", "split", "Take what is another person's out of a profile."),
    "handover": ("moves", "handover", "Note that a machine changed hands: trade-in, sale, gift."),
    "holder": ("moves", "holder", "Correct from when to when somebody had a machine."),
    "password": ("locked", "password", "Note the password that a maker locked a customer's PDFs with."),
    "conflicts": ("conflicts", "conflicts", "List values on record that contradict each other."),
    "warranty": ("warranty", "warranty", "Is it still covered? Terms, dates and the evidence for them."),
    "coverage": ("coverage", "coverage", "The terms of warranty, their examples, and extensions bought."),
    "restore": ("restore", "restore", "Bring a machine's upgrades back: codes and steps, in order."),
    "report": ("report", "report", "Lists the shop works from, and figures for the desk."),
    "export": ("setup", "export", "Print all records as JSON Lines."),
    "undo": ("moves", "undo", "Take back what lines of the journal did."),
    "journal": ("journal", "journal", "Show who did and saw what."),
    "verify": ("setup", "verify", "Check that every original, record and index entry is whole."),
    "patterns": ("patterns", "patterns", "List and check the patterns that recognise values."),
    "reread": ("reread", "reread", "Read old originals anew with today's patterns; --write keeps it."),
    "learn": ("learn", "learn", "Learn how telling each name and contact is here."),
    "demo": ("demo", "demo", "See the whole job done on an invented mailbox."),
}


@click.group(
    cls=LazyGroup,
    commands_table=COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
    epilog="Start with `counterfoil demo`, or with `counterfoil init` and `counterfoil ingest MAILBOX`.",
)
@click.version_option(__version__, prog_name="counterfoil")
@click.option("--archive", "folder", metavar="DIR", hidden=True, type=click.Path(path_type=Path, file_okay=False))
@click.pass_context
def cli(context: click.Context, folder: Path | None) -> None:
    """Files forwarded activation confirmations and gives their codes, warranty dates and firmware back.

    Every command takes --archive DIR; without it the folder in COUNTERFOIL_ARCHIVE is used, else one in
    your user data folder. Codes are masked unless you add --reveal, and every reveal is written to the journal.
    """
    if folder is not None:
        # The same key that a group of commands uses, see common.named_folder.
        context.meta["counterfoil.folder"] = folder


def main() -> None:
    """Run the command line and leave with its exit code; no traceback reaches a user."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command.

    Args:
        arguments: the words after `counterfoil`.

    Returns:
        The exit code; see errors.py, and sysexits.py where a mail server runs it.
    """
    code = _run(arguments)
    return for_mail_server(code) if is_wanted(arguments) else code


def _run(arguments: list[str]) -> int:
    try:
        for stream in (sys.stdout, sys.stderr):
            # A terminal or file that cannot show a character gets a stand-in, not a traceback.
            getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
        result = cli.main(args=arguments, prog_name="counterfoil", standalone_mode=False)
        sys.stdout.flush()
        return result if isinstance(result, int) else 0
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.exceptions.Abort:
        click.echo("\nStopped. What was reported as done is kept.", err=True)
        return 130
    except click.ClickException as error:
        error.show()
        return 2
    except CounterfoilError as error:
        return _tell(error, as_json="--json" in arguments)
    except (BrokenPipeError, SystemExit):
        # The reader of a pipe (head, a pager) has seen enough; the libraries that print leave by SystemExit then.
        _drop_output()
        return 0
    except UnicodeEncodeError:
        return _tell(
            UsageProblem("A word typed holds bytes that are no text.", "Type it anew, or use a UTF-8 terminal.")
        )
    except OSError as error:
        if error.errno not in _REFUSED:
            return _unforeseen(error)
        if error.filename is None:
            _drop_output()
        return _tell(StorageFull(f"{error.filename or 'The output'} cannot be written: {error.strerror}."))
    except Exception as error:  # noqa: BLE001 - the last place where a traceback can be kept from a user
        return _unforeseen(error)


#: What the system says when a disk is full, over its quota, read-only or closed to this user.
_REFUSED = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM})


def _tell(error: CounterfoilError, *, as_json: bool = False) -> int:
    """Print what happened, the records to choose from, and what to do next; return the exit code."""
    candidates = error.candidates if isinstance(error, NeedsALook) else ()
    if candidates and as_json:
        found = [{"ref": c.ref, "label": c.label, "evidence": list(c.evidence)} for c in candidates]
        click.echo(json_text({"candidates": found}))
    what = error.what
    if len(candidates) > 1:
        # One line a candidate is easier to choose from than one long sentence.
        what = what.partition(f": {candidates[0].ref} ")[0] + ":"
    click.echo(f"counterfoil: {clean(what)}", err=True)
    for candidate in candidates if len(candidates) > 1 else ():
        evidence = f"  ({'; '.join(candidate.evidence)})" if candidate.evidence else ""
        click.echo(clean(f"    {candidate.ref:<5} {candidate.label}{evidence}"), err=True)
    click.echo(f"  {clean(error.next_step)}", err=True)
    return error.exit_code


def _unforeseen(error: Exception) -> int:
    if os.environ.get("COUNTERFOIL_TRACEBACK"):
        raise error
    plain = CounterfoilError(f"Something unforeseen happened: {type(error).__name__}: {error}.")
    plain.next_step += " COUNTERFOIL_TRACEBACK=1 shows where it happened."
    return _tell(plain)


def _drop_output() -> None:
    """Send what is still to be written to standard output nowhere: flushing it at the end would fail again."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.__stdout__.fileno() if sys.__stdout__ else 1)
