"""One message before the rules: what was read, what is known about it, and what a person has decided already."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from counterfoil.errors import SettlementRefused
from counterfoil.model import CUSTOMER_KINDS, SECRET_KINDS, Candidate, Check, Document, Fact, Kind, Reading
from counterfoil.records import linkage
from counterfoil.records.codes import masked, shown
from counterfoil.records.known import CONTACT_KINDS, Known, KnownCustomer, KnownMachine, values_of
from counterfoil.records.match_index import person_of
from counterfoil.records.match_words import address_words, contact_words, same_home
from counterfoil.records.weighing import Weighing
from counterfoil.settings import Settings

#: Kinds that are filed only where the value is certain (:attr:`Settings.filing_odds`): codes, what a customer is found
#: by, and the dates a warranty is counted from. The others describe the machine, and need odds above nought.
CERTAIN_KINDS = frozenset(
    {
        Kind.MACHINE_ID,
        Kind.SERIAL_NUMBER,
        Kind.PRODUCT_KEY,
        Kind.ACTIVATION_CODE,
        Kind.PURCHASE_DATE,
        Kind.REGISTRATION_DATE,
        *CUSTOMER_KINDS,
    }
)
#: More candidates than this help nobody choose.
_MOST_CANDIDATES = 10
#: Log-odds of a value that a person confirmed or entered: as good as certain.
CONFIRMED_ODDS = 20.0
LABELS: Mapping[Kind, str] = {kind: kind.value.replace("_", " ") for kind in Kind} | {
    Kind.MACHINE_ID: "machine ID",
    Kind.EMAIL_ADDRESS: "e-mail address",
    Kind.CUSTOMER_NAME: "customer's name",
}


def as_certain(fact: Fact) -> Fact:
    """Return a fact as a person vouches for it: certain, and read in one way."""
    return replace(fact, odds=max(fact.odds, CONFIRMED_ODDS), readings=())


def refuse_odd(what: str, facts: Sequence[Fact], settings: Settings, *, sure: bool) -> None:
    """Refuse values typed by a person that fail their check digit, have another shape, or can be read in two ways.

    Args:
        what: begin of the message: what is not done.
        facts: the values, with the odds that their checks gave them.
        settings: the shop's.
        sure: the original really says so.

    Raises:
        SettlementRefused: one of them is odd, and ``sure`` is not set.
    """
    for sentence in () if sure else odd_values(facts, settings):
        raise SettlementRefused(f"{what}: {sentence}.")


def odd_values(facts: Sequence[Fact], settings: Settings) -> Iterator[str]:
    """Yield what is odd about values typed by a person, a sentence without its end for each odd value; codes masked.

    Args:
        facts: the values, with the odds that their checks gave them.
        settings: the shop's.
    """
    for fact in facts:
        value = f"{LABELS[fact.kind]} {shown(fact.kind, fact.value)}"
        if fact.check is Check.FAILED:
            yield f"the check digit of the {value} does not fit"
        elif len(fact.readings) > 1:
            yield f"the {value} can be read as {' or '.join(fact.readings)}"
        elif fact.odds < settings.filing_odds:
            yield f"the {value} does not look like one of this maker"


@dataclass(frozen=True, slots=True)
class Choice:
    """What a person decided about a message. Numbers of records; ``sure``: the original really says so."""

    customer: int | None = None
    new_customer: bool = False
    machine: int | None = None
    new_machine: bool = False
    sure: bool = False

    @property
    def names_customer(self) -> bool:
        """Whether the person said whose message it is."""
        return self.new_customer or self.customer is not None


@dataclass(slots=True)
class Case:
    """One message before the rules."""

    documents: Sequence[Document]
    sender: str | None
    reading: Reading
    settings: Settings
    known: Known
    choice: Choice | None = None
    received: date | None = None
    """The day the message was received, None where it does not say."""
    missing: list[Kind] = field(init=False)
    weighing: Weighing = field(init=False)

    def __post_init__(self) -> None:
        wanted = person_of(values_of(self.reading, self._shop))
        self.weighing = Weighing(self.known.model, wanted, self.known.people)
        for machine in self.machines_named():
            if machine.holder is not None:
                self.weighing.holders.add(machine.holder)
        chosen = self.reading.chosen
        self.missing = [k for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.CUSTOMER_NAME) if k not in chosen]
        if Kind.MACHINE_ID not in chosen and Kind.SERIAL_NUMBER not in chosen:
            self.missing.insert(0, Kind.MACHINE_ID)

    def found(self, kind: Kind) -> Fact | None:
        """Return the chosen fact of a kind."""
        return self.reading.chosen.get(kind)

    def certain(self, kind: Kind) -> Fact | None:
        """Return the chosen fact of a kind where nothing speaks against it."""
        fact = self.reading.chosen.get(kind)
        if fact is None or kind in self.reading.conflicts:
            return None
        if fact.odds < self.settings.filing_odds and not (self.choice is not None and self.choice.sure):
            return None
        if kind is Kind.EMAIL_ADDRESS and fact.normal in self._shop:
            return None
        return fact

    @property
    def _shop(self) -> frozenset[str]:
        return frozenset(address.strip().lower() for address in self.settings.shop_addresses)

    def is_shops_own(self) -> bool:
        """Tell whether the name is only that of the shop's own mailbox in a To field: no customer's."""
        name, mail = self.found(Kind.CUSTOMER_NAME), self.found(Kind.EMAIL_ADDRESS)
        if name is None or mail is None:
            return False
        return name.place.document.startswith("headers:") and mail.normal in self._shop

    def required(self) -> list[Fact]:
        """Return the facts found without which nothing is filed."""
        first = Kind.MACHINE_ID if Kind.MACHINE_ID in self.reading.chosen else Kind.SERIAL_NUMBER
        kinds = (first, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.CUSTOMER_NAME)
        return [self.reading.chosen[kind] for kind in kinds if kind in self.reading.chosen]

    def owned_kinds(self) -> frozenset[Kind]:
        """Return the kinds whose chosen fact goes into the profiles once the message is filed."""
        own = set()
        for kind, fact in self.reading.chosen.items():
            if kind in CERTAIN_KINDS:
                if self.certain(kind) is not None:
                    own.add(kind)
            elif kind not in self.reading.conflicts and fact.odds > 0:
                own.add(kind)
        mail = self.found(Kind.EMAIL_ADDRESS)
        if mail is not None and mail.normal in self._shop:
            own.discard(Kind.EMAIL_ADDRESS)
        return frozenset(own)

    # --- whose it may be --------------------------------------------------------------------------

    def contact_customers(self) -> dict[int, list[str]]:
        """Return customers that share a contact with the message, with what they share in words."""
        shared: dict[int, list[str]] = {}
        for kind in CONTACT_KINDS:
            facts = [self.found(kind), *self.reading.conflicts.get(kind, ())]
            for normal in dict.fromkeys(f.normal for f in facts if f is not None and f.normal not in self._shop):
                for number in sorted(self.known.customers_by(kind, normal)):
                    shared.setdefault(number, []).append(f"same {LABELS[kind]}")
        return shared

    def name(self) -> str | None:
        """Return the customer's name where it is certain."""
        fact = self.certain(Kind.CUSTOMER_NAME)
        return None if fact is None else fact.value

    def agrees(self, number: int) -> bool:
        """Tell whether the name in the message agrees with a customer's."""
        name, customer = self.name(), self.known.customers.get(number)
        return name is not None and customer is not None and customer.agrees(name, self.settings.name_similarity)

    def namesakes(self) -> list[int]:
        """Return customers whose name is the same, agrees with or is near the one in the message."""
        found = set(self.known.alike)
        fact = self.found(Kind.CUSTOMER_NAME)
        if fact is not None:
            found |= self.known.customers_by(Kind.CUSTOMER_NAME, fact.normal)
        return sorted(found)

    def neighbours(self) -> list[int]:
        """Return customers at the same postal address, however written, who share a part of the name."""
        address, name = self.found(Kind.POSTAL_ADDRESS), self.found(Kind.CUSTOMER_NAME)
        if address is None or name is None:
            return []
        same = self.known.customers_by(Kind.POSTAL_ADDRESS, address.normal)
        same = same | {n for n in self.known.people if same_home(self.weighing.vector(n))}
        return [n for n in sorted(same) if self._family(n)]

    def _family(self, number: int) -> bool:
        name = self.found(Kind.CUSTOMER_NAME)
        known = self.known.customers[number].names
        least = self.settings.name_similarity
        return name is not None and any(linkage.shared_parts(name.value, other, least) for other in known)

    def is_stranger(self, number: int) -> bool:
        """Tell whether nothing in the message agrees with a customer: no part of the name, no contact, no machine.

        A message that gives no certain name says nothing against anybody.
        """
        held = {m.holder for m in self.machines_named()} | {n for m in self.machines_named() for n, _ in m.former}
        known = {*self.contact_customers(), *self.neighbours(), *held}
        if self.sender:
            known |= self.known.customers_by(Kind.EMAIL_ADDRESS, self.sender.lower())
        return self.name() is not None and number not in known and not self._family(number)

    def evidence(self, number: int) -> tuple[str, ...]:
        """Return in words what speaks for and against a customer, for a person to judge."""
        customer = self.known.customers[number]
        words = list(self.contact_customers().get(number, [])) or contact_words(self.weighing.vector(number))
        address = self.found(Kind.POSTAL_ADDRESS)
        if address is not None and number in self.known.customers_by(Kind.POSTAL_ADDRESS, address.normal):
            words.append("same postal address")
        else:
            words += address_words(self.weighing.vector(number))
        for m in self.machines_named():
            if m.holder == number:
                words.append(f"holds {m.label} (M{m.number})")
            words += [f"had {m.label} (M{m.number}) until {day}" for former, day in m.former if former == number]
        if self.sender and number in self.known.customers_by(Kind.EMAIL_ADDRESS, self.sender.lower()):
            words.append("the message was sent from their address")
        words.append(self._name_evidence(customer))
        return tuple(words)

    def _name_evidence(self, customer: KnownCustomer) -> str:
        name = self.found(Kind.CUSTOMER_NAME)
        if name is None:
            return "no name was found in the message"
        best = linkage.most_similar(name.value, customer.names, self.settings.name_similarity)
        if best is None:
            return "no name is known"
        return linkage.compared(name.value, best, self.settings.name_similarity)

    def machines_named(self) -> list[KnownMachine]:
        """Return the known machines whose machine ID or serial number stands in the message."""
        facts = [self.found(kind) for kind in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)]
        numbers = {n for f in facts if f is not None for n in self.known.machines_by(f.kind, f.normal)}
        return [self.known.machines[n] for n in sorted(numbers)]

    def candidates(self) -> tuple[Candidate, ...]:
        """Return the customers the message may belong to, likeliest first."""
        shared = self.contact_customers()
        numbers = {*shared, *self.namesakes(), *self.neighbours(), *self.weighing.likely()}
        numbers |= {m.holder for m in self.machines_named() if m.holder is not None}
        numbers |= {former for m in self.machines_named() for former, _ in m.former}
        if self.sender:
            numbers |= self.known.customers_by(Kind.EMAIL_ADDRESS, self.sender.lower())
        scored = []
        for number in sorted(numbers):
            customer = self.known.customers[number]
            score = self.weighing.bits(number)
            scored.append((-score, number, Candidate(f"C{number}", customer.label, self.evidence(number))))
        return tuple(candidate for _, _, candidate in sorted(scored, key=lambda item: item[:2])[:_MOST_CANDIDATES])

    def shown(self, fact: Fact) -> str:
        """Return a fact's value as a question may show it."""
        secret = any(f.normal == fact.normal and f.kind in SECRET_KINDS for f in self.reading.facts)
        return masked(fact.value) if secret else shown(fact.kind, fact.value)
