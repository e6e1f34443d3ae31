"""What a search found, as frozen values with their JSON form, and the notes made on the way."""

from __future__ import annotations

from dataclasses import dataclass, field


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
    """What a search found, best first in each group; ``understood`` says in one sentence how the text was taken."""

    understood: str
    customers: tuple[FoundCustomer, ...]
    machines: tuple[FoundMachine, ...]
    messages: tuple[FoundMessage, ...]

    def to_json(self) -> dict[str, object]:
        """Return the answer as the machine-readable contract has it."""
        return {
            "understood": self.understood,
            "customers": [customer.to_json() for customer in self.customers],
            "machines": [machine.to_json() for machine in self.machines],
            "messages": [message.to_json() for message in self.messages],
        }


@dataclass(slots=True)
class Found:
    """Ids by group, in the order found, each with why; and whether each was found for certain."""

    customers: dict[str, str] = field(default_factory=dict)
    machines: dict[str, str] = field(default_factory=dict)
    messages: dict[str, str] = field(default_factory=dict)
    snippets: dict[str, str] = field(default_factory=dict)
    former: set[str] = field(default_factory=set)
    doubtful: set[str] = field(default_factory=set)
    said: list[str] = field(default_factory=list)
    behind: bool = False
    """True where the index lacks the newest messages."""

    def add(self, ref: str | None, why: str, *, certain: bool = True) -> None:
        """Note a record; the first reason given for it stays."""
        if ref is None:
            return
        group = {"C": self.customers, "M": self.machines, "E": self.messages}[ref[0]]
        if ref not in group:
            group[ref] = why
            if not certain:
                self.doubtful.add(ref)
        elif certain:
            self.doubtful.discard(ref)

    @property
    def nothing(self) -> bool:
        """True as long as no record was found."""
        return not (self.customers or self.machines or self.messages)
