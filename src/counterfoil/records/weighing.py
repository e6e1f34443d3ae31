"""How surely a message is a customer's: the evidence of the model, of the machine named, and the lead over the next."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from counterfoil.records.match_compare import FIELDS, LEVELS, MISSING, Person, Vector, names_off_by_a_letter
from counterfoil.records.match_model import Model
from counterfoil.records.match_words import same_home

#: Filed without a person from this probability on.
SURE = 0.99
SURE_BITS = math.log2(SURE / (1 - SURE))
#: And with so much more evidence than for the second candidate: the odds of .99 once more.
LEAD_BITS = 6.6
#: No new profile is made unasked beside somebody known who is as likely as not.
ASKED_BITS = 0.0
#: Evidence of a machine named that a customer holds: codes are not mistaken for another's by chance. Chosen by hand.
HOLDER_BITS = 16.0
_NO_PERSON = Person()
_GIVEN, _FAMILY = FIELDS.index("given_name"), FIELDS.index("family_name")
_NICKNAME = LEVELS["given_name"].index("nickname")
_UNLIKE = {_GIVEN: len(LEVELS["given_name"]) - 1, _FAMILY: len(LEVELS["family_name"]) - 1}
_SLIP = 1
#: What a household shares, whoever of it is asked: a telephone number and a postal address.
_SHARED = tuple(
    FIELDS.index(name)
    for name in ("phone_number", "street", "house_number", "address_line", "postcode", "town", "region")
)


@dataclass(slots=True)
class Weighing:
    """Who a message may be from, each with the evidence for them.

    Args:
        model: the weights.
        wanted: what the message says of its customer.
        people: customers by number, as they are compared.
    """

    model: Model
    wanted: Person
    people: Mapping[int, Person]
    holders: set[int] = field(default_factory=set)
    """Customers who hold a machine that the message names."""
    _vectors: dict[int, Vector] = field(default_factory=dict)

    def vector(self, number: int) -> Vector:
        """Return the levels at which the message and a customer agree."""
        if number not in self._vectors:
            self._vectors[number] = self.model.compare(self.wanted, self.people.get(number, _NO_PERSON))
        return self._vectors[number]

    def bits(self, number: int) -> float:
        """Return the evidence that the message is a customer's, in bits (0: as likely as not)."""
        return self.model.bits(self.vector(number)) + (HOLDER_BITS if number in self.holders else 0.0)

    def sure_of(self, number: int) -> bool:
        """Tell whether a customer is sure, and far enough ahead of everybody else; the names must agree besides."""
        own = self.bits(number)
        if own < SURE_BITS:
            return False
        others = (other for other in self.people if other != number)
        return all(own + self._of_the_household(number, other) - self.bits(other) >= LEAD_BITS for other in others)

    def _of_the_household(self, number: int, other: int) -> float:
        """Return the bits that a telephone number and an address known only of somebody else in the same household
        lend to a customer: where one lives, the other lives."""
        if not self._live_together(number, other):
            return 0.0
        own, theirs = (
            sum(self.model.weights[FIELDS[at]][vector[at]] for at in _SHARED)
            for vector in (self.vector(number), self.vector(other))
        )
        return max(0.0, theirs - own)

    def _live_together(self, number: int, other: int) -> bool:
        """Tell whether two customers share a contact on record, or a family name and a home."""
        one, two = self.people.get(number, _NO_PERSON), self.people.get(other, _NO_PERSON)
        if not set(one.emails).isdisjoint(two.emails) or not set(one.phones).isdisjoint(two.phones):
            return True
        between = self.model.compare(one, two)
        return MISSING < between[_FAMILY] <= _SLIP and same_home(between)

    def likely(self) -> list[int]:
        """Return customers who may be the message's under another spelling: likely enough, and a part of the name is
        alike; or the same family name and a short or pet form of the given name; or a name but for one letter."""
        return [number for number in sorted(self.people) if self._may_be(number)]

    def _may_be(self, number: int) -> bool:
        vector = self.vector(number)
        given, family = vector[_GIVEN], vector[_FAMILY]
        if given in (MISSING, _UNLIKE[_GIVEN]) and family in (MISSING, _UNLIKE[_FAMILY]):
            return False
        if self.bits(number) >= ASKED_BITS or (given == _NICKNAME and MISSING < family <= _SLIP):
            return True
        return names_off_by_a_letter(self.wanted, self.people.get(number, _NO_PERSON))
