"""Invented households: everybody has a relative of the same family name at the same address, often the same e-mail.

How often a value is missing, changed or mistyped is chosen by hand, no source; one seed gives one set.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from itertools import product
from typing import Protocol

import sqlalchemy as sa
from records_world import fact

from counterfoil.model import Decision, Document, Fact, Kind, Layer, Mailbox, Message, Reading, Standing
from counterfoil.records import schema
from counterfoil.records.bulk import insert_many
from counterfoil.records.counters import take
from counterfoil.records.filing import decide
from counterfoil.records.rows import fact_row
from counterfoil.records.store import Store
from counterfoil.records.writing import write_facts
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("desk@shop.example",))
# fmt: off
#: Names that relatives bear and a slip of the finger could confuse.
TWINS = (
    ("Jan", "Jana"), ("Martin", "Martina"), ("Frances", "Francis"), ("Karin", "Katrin"), ("Maria", "Mario"),
    ("Christina", "Christine"), ("Andrea", "Andreas"), ("Erik", "Erika"), ("Simon", "Simone"), ("Julian", "Juliane"),
    ("Hanna", "Hannah"), ("Daniel", "Daniela"), ("Paul", "Paula"), ("Michel", "Michelle"), ("Gabriel", "Gabriele"),
    ("Stefan", "Stefanie"), ("Anna", "Anne"), ("Marta", "Martha"), ("Luis", "Luisa"), ("Carl", "Carla"),
)
OTHERS = (
    "Marit", "Ola", "Teun", "Bettina", "Giulia", "Renate", "Wolfgang", "Sylvie", "Thibault", "Carmen", "Rosalind",
    "Edward", "Philippa", "Gordon", "Ingeborg", "Henrike", "Matthias", "Dorothea", "Laurent", "Odile", "Alessandra",
    "Fabrizio", "Beatriz", "Rodrigo", "Annelore", "Willem", "Femke", "Sander", "Astrid", "Torsten", "Gunilla", "Bengt",
    "Margaret", "William", "Elizabeth", "Robert", "Katharina", "Johannes", "Friedrich", "Josefine", "Leopold", "Agatha",
)
_FAMILIES = tuple(f"{a}{b}" for a, b in product(
    ("Sol", "Duin", "Bran", "Hoff", "Ker", "Lind", "Mar", "Nord", "Oster", "Pren", "Quill", "Rose", "Stein", "Thal",
     "Ulm", "Vess", "Wick", "Aub", "Bel", "Cor", "Dell", "Fal"),
    ("vang", "hoven", "denberg", "mann", "ridge", "quist", "tinelli", "gaard", "brook", "feld", "erson", "ière", "ardo",
     "well", "stra", "bach", "wood", "aux", "ner", "holm"),
))
_STREETS = tuple(f"{a} {b}" for a, b in product(
    ("Mill", "Station", "Church", "Priory", "Thimble", "Bobbin", "Weaver", "Orchard", "Harbour", "Meadow", "Bridge"),
    ("Lane", "Road", "Street", "Close", "Avenue", "Square"),
))
_TOWNS = tuple((f"{a}{b}", f"99{n:03}") for n, (a, b) in enumerate(product(
    ("Ox", "Fen", "Nadel", "Zoomer", "Kanten", "Tyg", "Orlo", "Filan"), ("bow", "water", "bach", "veen", "au", "sta"))))
# fmt: on
_SHORT = {"Margaret": "Maggie", "William": "Bill", "Elizabeth": "Liz", "Robert": "Bob", "Edward": "Ted"}


@dataclass(frozen=True, slots=True)
class Somebody:
    """What is known of somebody, or what a message says; None where it does not say."""

    given: str
    family: str
    email: str | None
    phone: str | None
    street: str
    house: int
    town: tuple[str, str]
    address: bool = True

    def values(self) -> dict[Kind, str]:
        """Return the values by kind."""
        found = {Kind.CUSTOMER_NAME: f"{self.given} {self.family}"}
        if self.email:
            found[Kind.EMAIL_ADDRESS] = self.email
        if self.phone:
            found[Kind.PHONE_NUMBER] = self.phone
        if self.address:
            found[Kind.POSTAL_ADDRESS] = f"{self.street} {self.house}, {self.town[1]} {self.town[0]}"
        return found


@dataclass(frozen=True, slots=True)
class Habits:
    """How often, 0 to 1: relatives bear like names, share one e-mail address; a message has a mistyped part of the
    name, another e-mail address, none, a telephone number, a postal address."""

    twins: float = 0.3
    one_mailbox: float = 0.25
    mistyped: float = 0.05
    other_email: float = 0.08
    no_email: float = 0.06
    phone: float = 0.35
    address: float = 0.7


USUAL = Habits()
#: A hard world: like names in half of the households, one mailbox for half of them, twice as many slips.
HARD = Habits(twins=0.5, one_mailbox=0.5, mistyped=0.1, phone=0.5)


class Known(Protocol):
    """Somebody whose values are known."""

    def values(self) -> Mapping[Kind, str]:
        """Return the values by kind."""


@dataclass(frozen=True, slots=True)
class Household:
    """A customer, their relative, and what the customer's next message says."""

    customer: Known
    kin: Known
    message: Mapping[Kind, str]


def households(count: int, seed: int = 4, habits: Habits = USUAL) -> list[Household]:
    """Return invented households, at most 1000: so many telephone numbers are reserved for fiction in a range."""
    draw = random.Random(seed)
    return [_household(draw, number, habits) for number in range(count)]


def _household(draw: random.Random, number: int, habits: Habits) -> Household:
    given, other = draw.choice(TWINS) if draw.random() < habits.twins else draw.sample(OTHERS, 2)
    if draw.random() < 0.5:
        given, other = other, given
    family, landline = draw.choice(_FAMILIES), f"020 7946 {number % 1000:04}"
    shared = f"{family.lower()}{number}@home.example".replace("è", "e") if draw.random() < habits.one_mailbox else None
    home = Somebody(given, family, None, None, draw.choice(_STREETS), draw.randint(1, 60), draw.choice(_TOWNS))

    def member(name: str, mobile: str) -> Somebody:
        own = f"{name.lower()}.{family.lower()}{number}@post.example".replace("è", "e")
        email = shared or (own if draw.random() < 0.95 else None)
        phone = None if draw.random() < 0.4 else landline if draw.random() < 0.6 else mobile
        return replace(home, given=name, email=email, phone=phone, address=draw.random() < 0.8)

    customer = member(given, f"07700 900{number % 1000:03}")
    kin = member(other, f"01632 960{number % 1000:03}")
    return Household(customer, kin, _message(draw, customer, landline, number, habits))


def _message(draw: random.Random, who: Somebody, landline: str, number: int, habits: Habits) -> dict[Kind, str]:
    """Return what a message of somebody says: perhaps mistyped, in another order, with less or another contact."""
    given = _mistyped(draw, who.given) if draw.random() < habits.mistyped else who.given
    family = _mistyped(draw, who.family) if draw.random() < habits.mistyped else who.family
    if draw.random() < 0.03:
        given = f"{given[0]}."
    elif who.given in _SHORT and draw.random() < 0.2:
        given = _SHORT[who.given]
    email, phone = who.email, who.phone or landline
    if draw.random() < habits.other_email:
        email = f"{who.given.lower()}{number}@other.example"
    elif draw.random() < habits.no_email:
        email = None
    if draw.random() >= habits.phone:
        phone = ""
    said = replace(
        who, given=given, family=family, email=email, phone=phone or None, address=draw.random() < habits.address
    )
    if draw.random() < 0.04:
        said = replace(said, street=draw.choice(_STREETS), house=draw.randint(1, 60), town=draw.choice(_TOWNS))
    values = said.values()
    if draw.random() < 0.15:
        values[Kind.CUSTOMER_NAME] = f"{family.upper()} {given}"
    if said.address and draw.random() < 0.25:
        values[Kind.POSTAL_ADDRESS] = f"{said.house} {said.street.upper()}\n{said.town[0]}, {said.town[1]}"
    return values


def _mistyped(draw: random.Random, word: str) -> str:
    """Return a word with one slip of the finger: two letters swapped, one left out, doubled, or another."""
    at = draw.randrange(len(word) - 1)
    match draw.randrange(4):
        case 0:
            return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        case 1:
            return word[: at + 1] + word[at + 2 :]
        case 2:
            return word[: at + 1] + word[at] + word[at + 1 :]
        case _:
            return word[: at + 1] + draw.choice("abcdefghijklmnopqrstuvwxyz") + word[at + 2 :]


def fill(store: Store, people: Sequence[Mapping[Kind, str]]) -> None:
    """Write customers straight into the records, one for each, in order: C1, C2 ..."""
    with store.write() as conn:
        last = take(conn, customer=len(people), fact=sum(map(len, people)))
        number = int(last.fact) - sum(map(len, people))
        first = int(last.customer) - len(people) + 1
        at, rows, customers = "2025-01-01", [], []
        for customer, values in enumerate(people, first):
            customers.append({"id": customer, "at": at, "merged_into": None})
            for kind, value in values.items():
                number += 1
                rows.append(fact_row(number, fact(kind, value), at, chosen=True) | {"customer_id": customer})
        insert_many(conn, schema.customer, customers)
        write_facts(conn, rows)


@dataclass(slots=True)
class Score:
    """What became of messages."""

    messages: int = 0
    filed: int = 0
    new: int = 0
    wrong: int = 0
    doubled: int = 0
    """New profiles of somebody on record: no harm done, but to be merged."""

    def __add__(self, other: Score) -> Score:
        return Score(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @property
    def known(self) -> float:
        """Share filed to somebody known without a person."""
        return self.filed / self.messages

    @property
    def right(self) -> float:
        """Share right of all that was filed, new profiles included."""
        done = self.filed + self.new
        return 1 - (self.wrong + self.doubled) / done if done else 1.0

    def __str__(self) -> str:
        return (
            f"{self.messages} messages: filed to a known customer {self.known:.1%}, a new profile "
            f"{self.new / self.messages:.1%}; wrong customer {self.wrong}, doubled {self.doubled} "
            f"({self.right:.3%} right; of those filed to a known customer {1 - self.wrong / max(self.filed, 1):.3%})"
        )


def codes_of(number: int) -> list[Fact]:
    """Return the codes of a machine nobody knows."""
    return [
        fact(Kind.MACHINE_ID, f"HG-{900000 + number}-K"),
        fact(Kind.PRODUCT_KEY, f"SPQ{number:07}KX"),
        fact(Kind.ACTIVATION_CODE, f"9KDW{number:08}B2NE"),
    ]


def judged(store: Store, said: Mapping[Kind, str], number: int) -> Decision:
    """Decide about a message with these values for a new machine; writes nothing."""
    facts = [*codes_of(number), *(fact(kind, value) for kind, value in said.items())]
    read = Reading(tuple(facts), {f.kind: f for f in facts}, confirmation=6.0)
    head = Layer("received", None, Mailbox("", "somebody@post.example"), (), (), None, "Fwd", f"<{number}@x.example>")
    message = Message(f"{number:064}", 4000, (head,), (Document("body", 0, "Here.", ()),))
    return decide(message, read, store, SETTINGS)


def scored(store: Store, messages: Iterable[tuple[Mapping[Kind, str], str | None]]) -> Score:
    """Decide about messages, each with the id of its customer or None where they are not on record."""
    score = Score()
    for number, (said, owner) in enumerate(messages):
        decision = judged(store, said, number)
        score.messages += 1
        if decision.standing is not Standing.FILED:
            continue
        score.new += decision.new_customer
        score.filed += not decision.new_customer
        score.doubled += decision.new_customer and owner is not None
        score.wrong += not decision.new_customer and decision.customer != owner
    return score


def kin_score(store: Store, found: Sequence[Household], every: int) -> Score:
    """Put on record the relative of everybody and every so many-th customer, and decide about everybody's message."""
    people, owners = [], {}
    for number, house in enumerate(found):
        people.append(house.kin.values())
        if number % every == 0:
            people.append(house.customer.values())
            owners[number] = f"C{len(people)}"
    fill(store, people)
    return scored(store, [(house.message, owners.get(n)) for n, house in enumerate(found)])


def stale(store: Store) -> int:
    """Return the number of customers whose keys are not in step."""
    with store.reading() as conn:
        return conn.scalar(sa.select(sa.func.count()).select_from(schema.bkey_stale)) or 0
