"""What a search found, as frozen values with their JSON form, and the notes made on the way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import IntEnum

#: Begins the reason for which something was found that is only nearly what was typed.
NEAR = "near: "


@dataclass(frozen=True, slots=True)
class FoundCustomer:
    """A customer that answers a search; ``certain`` is False where it is only alike."""

    id: str
    name: str
    emails: tuple[str, ...]
    phones: tuple[str, ...]
    machines: tuple[str, ...]
    why: str
    certain: bool
    clues: int = 1
    """How many of the things typed found it."""

    def to_json(self) -> dict[str, object]:
        """Return the customer as a dictionary."""
        lists: dict[str, object] = {n: list(getattr(self, n)) for n in ("emails", "phones", "machines")}
        return {"id": self.id, "name": self.name} | lists | {"why": self.why, "certain": self.certain}


@dataclass(frozen=True, slots=True)
class FoundMachine:
    """A machine that answers a search; ``customer`` is the present holder.

    ``former`` is True where it was found through a customer who had it before.
    """

    id: str
    maker: str | None
    model: str | None
    serial_number: str | None
    machine_id: str | None
    customer: str | None
    former: bool
    why: str
    certain: bool
    clues: int = 1
    """How many of the things typed found it."""

    def to_json(self) -> dict[str, object]:
        """Return the machine as a dictionary."""
        names = ("id", "maker", "model", "customer", "serial_number", "machine_id", "former", "why", "certain")
        return {name: getattr(self, name) for name in names}


@dataclass(frozen=True, slots=True)
class FoundMessage:
    """A message that answers a search; hits in ``snippet`` stand between U+0002 and U+0003."""

    id: str
    subject: str
    received: str | None
    sender: str | None
    standing: str
    customer: str | None
    machine: str | None
    snippet: str
    why: str

    def to_json(self) -> dict[str, object]:
        """Return the message as a dictionary; the marks around hits are left out of the snippet."""
        names = ("id", "subject", "received", "sender", "standing", "customer", "machine", "why")
        plain = self.snippet.replace("\x02", "").replace("\x03", "")
        return {name: getattr(self, name) for name in names} | {"snippet": plain}


@dataclass(frozen=True, slots=True)
class SearchAnswer:
    """What a search found, best first in each group; ``understood`` says in one sentence how the text was taken.

    ``did_you_mean`` holds texts that would find something, only where this one finds nothing.
    """

    understood: str
    customers: tuple[FoundCustomer, ...]
    machines: tuple[FoundMachine, ...]
    messages: tuple[FoundMessage, ...]
    did_you_mean: tuple[str, ...] = ()

    def to_json(self) -> dict[str, object]:
        """Return the answer as the machine-readable contract has it; suggestions only where there are any."""
        answer: dict[str, object] = {
            "understood": self.understood,
            "customers": [customer.to_json() for customer in self.customers],
            "machines": [machine.to_json() for machine in self.machines],
            "messages": [message.to_json() for message in self.messages],
        }
        return answer | ({"did_you_mean": list(self.did_you_mean)} if self.did_you_mean else {})


class Strength(IntEnum):
    """What a clue is worth: a day or a model fits many, a name several, a code or a contact hardly ever two."""

    WEAK = 0
    NAME = 1
    IDENTITY = 2


@dataclass(slots=True)
class Clue:
    """One thing typed that found something, and the words it takes up; two readings of one word are one clue."""

    places: frozenset[int]
    strength: Strength
    sure: dict[str, bool] = field(default_factory=dict)
    """Of each record found by it, whether it is so for certain."""
    why: dict[str, str] = field(default_factory=dict)
    spread: bool = False
    """True once the holders of its machines, and the machines of its customers, were added."""


@dataclass(slots=True)
class Found:
    """Ids by group, in the order found, each with why; and by which clues each was found, and how surely."""

    customers: dict[str, str] = field(default_factory=dict)
    machines: dict[str, str] = field(default_factory=dict)
    messages: dict[str, str] = field(default_factory=dict)
    snippets: dict[str, str] = field(default_factory=dict)
    former: set[str] = field(default_factory=set)
    clues: list[Clue] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    behind: bool = False
    """True where the index lacks the newest messages."""
    unsearched: str = ""
    """Why no message could be searched for words, and what to do; empty where messages were."""
    left_over: bool = False
    """True where something typed found nothing: what the rest found is then not for certain what was meant."""

    def clue(self, places: Iterable[int], strength: Strength) -> Clue:
        """Return the clue that words give, a new one where none of them gave one before."""
        these = frozenset(places)
        for clue in self.clues:
            if not clue.places.isdisjoint(these):
                clue.places |= these
                clue.strength = max(clue.strength, strength)
                return clue
        self.clues.append(Clue(these, strength))
        return self.clues[-1]

    def add(self, ref: str | None, why: str, clue: Clue | None = None, *, sure: bool = True) -> None:
        """Note a record; the first reason given for it stays, the surest standing with each clue too."""
        if ref is None:
            return
        group = {"C": self.customers, "M": self.machines, "E": self.messages}[ref[0]]
        if clue is not None and (ref not in clue.sure or (sure and not clue.sure[ref])):
            clue.sure[ref], clue.why[ref] = sure, why
        group.setdefault(ref, why)

    def used(self) -> set[int]:
        """Return the places of the words that gave a clue."""
        return {place for clue in self.clues for place in clue.places}

    def certain(self, ref: str) -> bool:
        """Tell whether a record is meant for certain: every clue finds it, each surely, and nothing typed is left."""
        return bool(self.clues) and not self.left_over and all(clue.sure.get(ref, False) for clue in self.clues)

    def matched(self, ref: str) -> int:
        """Return how many clues find a record."""
        return sum(ref in clue.sure for clue in self.clues)

    def why(self, ref: str, otherwise: str) -> str:
        """Return why a record was found: the reason of each clue that finds it."""
        return "; ".join(dict.fromkeys(clue.why[ref] for clue in self.clues if ref in clue.why)) or otherwise

    def rank(self) -> None:
        """Put first what most clues find, then what they find surely; leave out what only the weaker of them find."""
        for group in (self.customers, self.machines):
            whole = {ref for ref in group if self.matched(ref) == len(self.clues)}
            strongest = max((clue.strength for clue in self.clues), default=Strength.WEAK)
            keys = {ref: self._key(ref) for ref in group}
            for ref in sorted(group, key=lambda ref: keys[ref]):
                why = group.pop(ref)
                if not whole or ref in whole or (strongest is Strength.IDENTITY and self._told(ref)):
                    group[ref] = why

    def _key(self, ref: str) -> tuple[int, int, int]:
        finding = [clue for clue in self.clues if ref in clue.sure]
        sure = [clue for clue in finding if clue.sure[ref]]
        return -len(finding), -len(sure), -max((clue.strength for clue in sure), default=-1)

    def _told(self, ref: str) -> bool:
        """Tell whether a name or more than that finds a record."""
        return any(ref in clue.sure and clue.strength > Strength.WEAK for clue in self.clues)

    @property
    def nothing(self) -> bool:
        """True as long as no record was found."""
        return not (self.customers or self.machines or self.messages)
