"""Every error that reaches a user, with its exit code.

    CounterfoilError          3   anything not named below
    ├── UsageProblem          2   the command was called in a way that cannot work
    ├── NeedsALook            1   done as far as possible; a person must look or choose
    ├── ArchiveMissing        4   no archive in the folder named
    ├── ArchiveBusy           5   another run is writing to the archive
    ├── ArchiveDamaged        6   a part of the archive is broken or does not agree with another
    ├── ArchiveTooNew         7   the archive was written by a newer version
    ├── SourceUnreadable      8   a file or folder of mail cannot be read
    ├── PatternFaulty         9   a pattern file is wrong or fails its own proofs
    ├── SettingsFaulty       10   counterfoil.toml or the coverage terms are wrong
    ├── StorageFull          11   the disk is full or refuses to be written
    ├── RecordUnknown        12   no record answers to the reference
    ├── SettlementRefused    13   a settlement would put a wrong or contradicting value into the records
    ├── SendingFailed        14   a reply could not be handed to the mail server
    ├── SendingUnclear       15   the connection broke before the mail server had said whether it took a reply
    ├── ReadingImpossible    16   no process to read mail in can be started
    └── FetchingFailed       17   mail could not be fetched from a mail server

A message says what happened and to which file or record; ``next_step`` says what to do. Exit code 0 means done.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterfoil.model import Candidate


class CounterfoilError(Exception):
    """Base of all errors shown to a user.

    Args:
        what: one sentence, what happened and to which file or record.
        next_step: one sentence, what to do next; the class's own when left out.
    """

    exit_code: int = 3
    next_step: str = "Run the command again; if it fails again, run `counterfoil verify`."

    def __init__(self, what: str, next_step: str | None = None) -> None:
        super().__init__(what)
        self.what = what
        if next_step is not None:
            self.next_step = next_step

    def __str__(self) -> str:
        return f"{self.what} {self.next_step}".strip()


class UsageProblem(CounterfoilError):
    """The command was called in a way that cannot work."""

    exit_code = 2
    next_step = "Add --help to the command to see how it is used."


class NeedsALook(CounterfoilError):
    """Done as far as possible; a person must look or choose."""

    exit_code = 1
    #: The records to choose from, likeliest first, where the message names any.
    candidates: tuple[Candidate, ...] = ()
    next_step = "Choose one of the candidates shown and run the command with its id."


class ArchiveMissing(CounterfoilError):
    """No archive in the folder named."""

    exit_code = 4
    next_step = "Run `counterfoil init` to make one, or name another folder with --archive."


class ArchiveBusy(CounterfoilError):
    """Another run is writing to the archive."""

    exit_code = 5
    next_step = "Wait until the other run has finished, then run the command again."


class ArchiveDamaged(CounterfoilError):
    """A part of the archive is broken or does not agree with another."""

    exit_code = 6
    next_step = "Run `counterfoil verify` to see all that is wrong, and restore the part named from a backup."


class ArchiveTooNew(CounterfoilError):
    """The archive was written by a newer version."""

    exit_code = 7
    next_step = "Install the version that wrote it, or a newer one."


class SourceUnreadable(CounterfoilError):
    """A file or folder of mail cannot be read."""

    exit_code = 8
    next_step = "Check the path and that you may read it, then run the command again."


class PatternFaulty(CounterfoilError):
    """A pattern file is wrong or fails its own proofs."""

    exit_code = 9
    next_step = "Mend the file named, then run `counterfoil patterns check`."


class SettingsFaulty(CounterfoilError):
    """counterfoil.toml or the coverage terms are wrong."""

    exit_code = 10
    next_step = "Mend the file named and run the command again."


class StorageFull(CounterfoilError):
    """The disk is full or refuses to be written."""

    exit_code = 11
    next_step = "Free some space or mend the rights, then run the command again: nothing that was kept is lost."


class RecordUnknown(CounterfoilError):
    """No record answers to the reference."""

    exit_code = 12
    next_step = "Look for it with `counterfoil search`."


class SettlementRefused(CounterfoilError):
    """A settlement would put a wrong or contradicting value into the records."""

    exit_code = 13
    next_step = "Correct the value with --set KIND=VALUE, or add --sure if the original really says so."


class SendingFailed(CounterfoilError):
    """A reply could not be handed to the mail server."""

    exit_code = 14
    next_step = "Check the smtp settings in counterfoil.toml, or write the draft with --out and send it yourself."


class SendingUnclear(CounterfoilError):
    """The connection broke before the mail server had said whether it took a reply."""

    exit_code = 15
    next_step = "Ask the customer or the server's keeper whether it came; --again sends it once more."


class ReadingImpossible(CounterfoilError):
    """No process to read mail in can be started."""

    exit_code = 16
    next_step = "Free some memory, or set `readers` in counterfoil.toml to a smaller number, and run it again."


class FetchingFailed(CounterfoilError):
    """Mail could not be fetched from a mail server.

    ``passing`` says that it may work later without anybody doing anything: the line or the server is down.
    """

    exit_code = 17
    next_step = "What was fetched is kept; run the command again, it goes on where this one ended."

    def __init__(self, what: str, next_step: str | None = None, *, passing: bool = False) -> None:
        super().__init__(what, next_step)
        self.passing = passing


def error_classes() -> tuple[type[CounterfoilError], ...]:
    """Return the base and every class below it, in the order of their exit codes."""
    found: list[type[CounterfoilError]] = [CounterfoilError]
    for cls in found:
        found.extend(cls.__subclasses__())
    return tuple(sorted(found, key=lambda cls: cls.exit_code))
