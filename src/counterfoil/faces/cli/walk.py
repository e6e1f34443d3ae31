"""`counterfoil triage walk`: one open question at a time, answered with single keys.

Little is printed and nothing is drawn twice, so that it works over a slow line. Nothing is asked twice: a key settles,
and `u` takes it back. What was pressed before a question stood on the screen does not answer it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import SettlementRefused
from counterfoil.faces.cli.common import account, archive_option, json_option, print_json, prose, say, who_option
from counterfoil.faces.cli.keys import END, Keys, keys, need_terminal
from counterfoil.model import Standing

if TYPE_CHECKING:
    from counterfoil.answers.asked import Answer
    from counterfoil.answers.walk import Asked
    from counterfoil.model import Candidate

_INDENT = "     "
_MOST = 9
_HELP = "1-9 an answer  n new customer  a aside  s skip  u undo  o text  q quit  ? this"
#: Lines of a message's text shown for one press: a slow line is not held up, and the question stays on the screen.
_TEXT_LINES = 14
_WHY = "triage walk"
_SURE = "!"


@click.command(short_help="Settle open messages one question at a time, with single keys.")
@who_option
@json_option
@archive_option
def walk(archive: Archive, who: str | None, as_json: bool) -> None:
    """Go through the open messages, oldest first, one question at a time; one key answers it.

    \b
    1-9  the answer with that number, the likeliest first
    n    it is a new customer
    a    it is no confirmation: put it aside
    s    skip it for now
    u    take the last answer back
    o    show the text of the message, a piece a press
    !    file a refused answer all the same
    q    quit; what was settled is kept

    Each settlement is a line of the journal, as with `triage settle`, which also takes corrected values.

    Example: counterfoil triage walk
    """
    need_terminal("Answer with `counterfoil triage settle E5 --customer C3`, or --aside, --set, --drop.")
    with keys() as pressed:
        done = _Walk(archive, account(who), pressed)
        try:
            done.run()
        finally:
            if as_json:
                print_json(done.summary())
            else:
                say()
                say(f"Settled {len(done.settled)}, skipped {done.skipped}; {done.pressed} keys.")


@dataclass(slots=True)
class _Step:
    """One message dealt with: its place in the walk, and the line of the journal where it was settled."""

    place: int
    journal: str | None = None


@dataclass(slots=True)
class _Answers:
    """What was answered about one message so far."""

    given: list[Answer] = field(default_factory=list)

    def settlement(self) -> dict[str, object]:
        """Return the arguments of a settlement."""
        customers = [a.customer for a in self.given if a.customer is not None]
        machines = [a.machine for a in self.given if a.machine is not None]
        values = {a.value[0]: a.value[1] for a in self.given if a.value is not None}
        found: dict[str, object] = {"values": tuple(values.items())}
        if customers:
            found["customer"] = customers[-1]
        if machines:
            found["machine"] = machines[-1]
        return found


class _Walk:
    """A walk under way.

    Args:
        archive: the archive.
        who: the person, for the journal.
        pressed: the keys.
    """

    def __init__(self, archive: Archive, who: str, pressed: Keys) -> None:
        from counterfoil.answers.walk import waiting

        self.archive, self.who, self.keys = archive, who, pressed
        self.refs = waiting(archive.store)
        self.steps: list[_Step] = []
        self.place = 0
        self.pressed = 0
        self.going = True
        #: Lines of the text still to be shown, of the message that is asked about.
        self.unread: list[str] | None = None

    @property
    def settled(self) -> list[str]:
        """The lines of the journal made and not taken back."""
        return [step.journal for step in self.steps if step.journal is not None]

    @property
    def skipped(self) -> int:
        """How many messages were skipped."""
        return sum(step.journal is None for step in self.steps)

    def summary(self) -> dict[str, object]:
        """Return what was done."""
        return {"settled": len(self.settled), "skipped": self.skipped, "keys": self.pressed, "journal": self.settled}

    def run(self) -> None:
        """Ask until all is asked and the person leaves."""
        if not self.refs:
            say("Nothing is open.")
            return
        prose(_HELP)
        while self.going:
            if self.place < len(self.refs):
                self._message(self.refs[self.place])
            else:
                self._end()

    def _message(self, ref: str) -> None:
        """Ask the questions of one message, then settle it."""
        from counterfoil.answers.walk import asked_now

        shown = asked_now(self.archive.store, self.archive.settings, ref)
        if not shown:
            # Settled by somebody else meanwhile.
            self.place += 1
            return
        say()
        head = shown[0]
        self.unread = None
        place = f"({self.place + 1} of {len(self.refs)})"
        prose(f"{ref}  {place}  {head.day}  {head.sender}", style="bold", rest=_INDENT)
        prose(head.subject, first=_INDENT)
        answers = _Answers()
        number = 0
        while number < len(shown):
            if len(shown) > 1:
                say(f"{_INDENT}Question {number + 1} of {len(shown)}:")
            result = self._question(shown[number], answers, last=number == len(shown) - 1)
            if result == "leave":
                return
            number = max(0, number + (1 if result == "next" else -1))
        self._settle(ref, answers)

    def _question(self, shown: Asked, answers: _Answers, *, last: bool) -> str:
        """Ask one question; return `next`, `back` to the one before, or `leave` the message."""
        from counterfoil.answers.walk import outcomes

        prose(shown.text, style="yellow", first=_INDENT)
        store, settings = self.archive.store, self.archive.settings
        done = outcomes(store, settings, shown, answers.given) if last else ("",) * len(shown.answers)
        for number, (candidate, effect) in enumerate(list(zip(shown.candidates, done, strict=True))[:_MOST], 1):
            prose(_line(candidate), first=f"  {number}  ")
            if effect:
                prose(effect, "cyan", first=f"{_INDENT}-> ")
        prose(shown.changes, first=_INDENT)
        while True:
            key = self._key(shown)
            answer = shown.answer(key)
            if answer is not None:
                answers.given.append(answer)
                say(key)
                return "next"
            match key:
                case "a":
                    self._aside(shown.id)
                    return "leave"
                case "s":
                    self._pass(None, "skipped")
                    return "leave"
                case "u" if answers.given:
                    answers.given.pop()
                    say("back")
                    return "back"
                case "u":
                    if self._undo():
                        return "leave"
                case "o":
                    self._show(shown.id)
                case "q":
                    say("quit")
                    self.going = False
                    return "leave"
                case _:
                    self._other(key)

    def _key(self, shown: Asked) -> str:
        """Wait for a key; the end of the input counts as q."""
        count = min(len(shown.candidates), _MOST)
        numbers = f"1-{count} " if count > 1 else "1 " * count
        new = "n " if shown.may_be_new else ""
        return self._read(f"{numbers}{new}a s u o q > ")

    def _read(self, prompt: str) -> str:
        self.keys.discard()
        click.echo(prompt, nl=False)
        key = self.keys.read()
        self.pressed += key != END
        return "q" if key == END else key.lower()

    def _settle(self, ref: str, answers: _Answers, *, sure: bool = False) -> None:
        """Settle a message; where that is refused, say why, and let it be filed all the same, or passed over."""
        try:
            done = pipeline.settle(
                self.archive,
                ref,
                **answers.settlement(),  # type: ignore[arg-type]  # the keys are names of its arguments
                sure=sure,
                only_open=True,
                who=self.who,
                why=_WHY,
            )
        except SettlementRefused as error:
            if not self._still_open(ref):
                return
            say("refused")
            prose(error.what, style="yellow", first=_INDENT)
            self._refused(ref, answers, sure=sure)
            return
        message = done.message
        self._pass(
            done.journal, f"{message.standing.value}: {message.customer or ''} {message.machine or ''}".rstrip(": ")
        )

    def _refused(self, ref: str, answers: _Answers, *, sure: bool) -> None:
        """Ask what is to be done with an answer that was refused."""
        prose(
            f"{'' if sure else '! files it all the same: the original really says so.  '}u answers it anew.",
            first=_INDENT,
        )
        while True:
            key = self._read(f"{'' if sure else '! '}a s u o q > ")
            match key:
                case "!" if not sure:
                    return self._settle(ref, answers, sure=True)
                case "a":
                    return self._aside(ref)
                case "s":
                    return self._pass(None, "skipped")
                case "u":
                    # The message is asked about once more.
                    return say("back")
                case "o":
                    self._show(ref)
                case "q":
                    say("quit")
                    self.going = False
                    return None
                case _:
                    self._other(key)

    def _still_open(self, ref: str) -> bool:
        """Tell whether a message is open still; one that somebody else settled meanwhile is passed over."""
        if self.archive.store.message(ref).standing is Standing.OPEN:
            return True
        self.place += 1
        say("somebody else has settled it meanwhile")
        return False

    def _aside(self, ref: str) -> None:
        try:
            done = pipeline.settle(self.archive, ref, aside=True, only_open=True, who=self.who, why=_WHY)
        except SettlementRefused:
            if self._still_open(ref):
                raise
            return
        self._pass(done.journal, "aside")

    def _pass(self, journal: str | None, word: str) -> None:
        """Go on to the next message."""
        say(f"{word}  {journal}" if journal else word)
        self.steps.append(_Step(self.place, journal))
        self.place += 1

    def _undo(self) -> bool:
        """Take the last step back; tell whether there was one."""
        if not self.steps:
            say("nothing to undo")
            return False
        step = self.steps[-1]
        if step.journal is not None:
            try:
                pipeline.undo(self.archive, step.journal, who=self.who, why=_WHY)
            except SettlementRefused as error:
                say("refused")
                prose(error.what, style="yellow", first=_INDENT)
                return False
        say(f"{step.journal} is undone" if step.journal else "back")
        self.steps.pop()
        self.place = step.place
        return True

    def _show(self, ref: str) -> None:
        """Show the text of a message, or what follows of it."""
        from counterfoil.answers.walk import text_of

        say("text")
        lines = self.unread or text_of(self.archive.store, ref)
        for line in lines[:_TEXT_LINES]:
            prose(line, first=_INDENT)
        self.unread = lines[_TEXT_LINES:]
        if self.unread:
            say(f"{_INDENT}… o shows more ({len(self.unread)} lines)")

    @staticmethod
    def _other(key: str) -> None:
        """Answer a key that means nothing here, or asks what the keys mean."""
        if key == "?":
            say("?")
            prose(_HELP)
        else:
            say("that is none of the keys; ? tells them")

    def _end(self) -> None:
        """Everything was asked: leave, or take the last answer back."""
        say()
        say("That was the last one.")
        while True:
            key = self._read("u q > ")
            if key in ("q", "\n"):
                say("quit")
                self.going = False
                return
            if key != "u":
                self._other(key)
            elif self._undo():
                return


def _line(candidate: Candidate) -> str:
    evidence = f"  ({'; '.join(candidate.evidence)})" if candidate.evidence else ""
    return "  ".join(dict.fromkeys((candidate.ref, candidate.label))) + evidence
