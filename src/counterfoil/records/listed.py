"""Rows of a shop's customer list before the rules: their values in normal form, or why a row cannot be taken."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from counterfoil.errors import SettlementRefused
from counterfoil.model import BadRow, CustomerList, Fact, Kind, ListRow, Place
from counterfoil.patterns.normal import normal_email, normal_name, normal_phone, normal_text
from counterfoil.records.case import CONFIRMED_ODDS
from counterfoil.records.known import CONTACT_KINDS
from counterfoil.records.rows import lookup_key
from counterfoil.settings import Settings

#: Named as the pattern of values that came with a list.
LIST_PATTERN = "customer list"
#: Begin of what stands as their document.
LIST_DOCUMENT = "list:"
_LONGEST_CHARS = 300

Key = tuple[Kind, str]


@dataclass(frozen=True, slots=True)
class Listed:
    """One row in normal form: its facts, names first, and what each is looked up by, in their order and as a set."""

    line: int
    facts: tuple[Fact, ...]
    lookups: tuple[Key, ...]
    keys: frozenset[Key]

    def only(self, wanted: Collection[Key]) -> Listed:
        """Return the row with nothing but the facts of some keys."""
        kept = [(f, key) for f, key in zip(self.facts, self.lookups, strict=True) if key in wanted]
        lookups = tuple(key for _, key in kept)
        return Listed(self.line, tuple(fact for fact, _ in kept), lookups, frozenset(lookups))

    @property
    def names(self) -> tuple[str, ...]:
        """The names as written, the main one first."""
        return tuple(f.value for f in self.facts if f.kind is Kind.CUSTOMER_NAME)

    def of(self, *kinds: Kind) -> frozenset[Key]:
        """Return the keys of some kinds."""
        return frozenset(key for key in self.keys if key[0] in kinds)

    @property
    def contacts(self) -> frozenset[Key]:
        """The keys of its e-mail addresses and telephone numbers."""
        return self.of(*CONTACT_KINDS)


def key_of(fact: Fact) -> Key:
    """Return what a fact is looked up by, with its kind."""
    return fact.kind, lookup_key(fact.kind, fact.normal)


def checked(listed: CustomerList, settings: Settings) -> tuple[list[Listed], list[BadRow]]:
    """Bring the rows of a list into normal form.

    Args:
        listed: the list.
        settings: the shop's: its own addresses are no customer's; ``region`` reads telephone numbers of rows without a
            country.

    Returns:
        The good rows and the bad ones, those of the file itself included, each in the order of the file.
    """
    shop = frozenset(address.strip().lower() for address in settings.shop_addresses)
    good: list[Listed] = []
    bad = list(listed.bad)
    for row in listed.rows:
        try:
            facts = tuple(_facts(row, Place(LIST_DOCUMENT + listed.name), settings.region, shop))
        except SettlementRefused as refused:
            bad.append(BadRow(row.line, refused.what))
        else:
            lookups = tuple(key_of(fact) for fact in facts)
            good.append(Listed(row.line, facts, lookups, frozenset(lookups)))
    return good, sorted(bad, key=lambda row: row.line)


def _facts(row: ListRow, place: Place, region: str, shop: frozenset[str]) -> Iterable[Fact]:
    """Yield a row's values as facts, each once.

    Raises:
        SettlementRefused: a value is none of its kind; only ``what`` is meant to be shown.
    """
    if not row.names:
        raise SettlementRefused("It has no name.")
    values = [(Kind.CUSTOMER_NAME, value) for value in row.names]
    values += [(Kind.EMAIL_ADDRESS, value) for value in row.emails]
    values += [(Kind.PHONE_NUMBER, value) for value in row.phones]
    values += [(Kind.POSTAL_ADDRESS, value) for value in row.addresses]
    seen: set[tuple[Kind, str]] = set()
    evidence = (f"line {row.line} of the list",)
    for kind, value in values:
        _refuse_unprintable(value)
        normal = _normal(row, kind, value, region, shop)
        if (kind, normal) not in seen:
            seen.add((kind, normal))
            yield Fact(kind, value, normal, place, LIST_PATTERN, odds=CONFIRMED_ODDS, evidence=evidence)


def _refuse_unprintable(value: str) -> None:
    if len(value) > _LONGEST_CHARS:
        raise SettlementRefused(f"“{value[:20]}…” has more than {_LONGEST_CHARS} characters.")
    if not value.isprintable() and any(unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") for c in value):
        raise SettlementRefused(f"“{''.join(c for c in value if c.isprintable())}” holds characters that are no text.")


def _normal(row: ListRow, kind: Kind, value: str, region: str, shop: frozenset[str]) -> str:
    """Return the normal form of a value."""
    match kind:
        case Kind.EMAIL_ADDRESS:
            normal = normal_email(value)
            if normal is None or normal != value.strip().lower().removeprefix("mailto:"):
                raise SettlementRefused(f"“{value}” is no e-mail address.")
            if normal in shop:
                raise SettlementRefused(f"{normal} is the shop's own address.")
            return normal
        case Kind.PHONE_NUMBER:
            if row.country and not value.startswith(("+", "00")):
                said = f"The country “{row.country}” is not known, so the telephone number {value} needs its +code."
                raise SettlementRefused(said)
            number = normal_phone(value, row.region or region)
            if number is None:
                raise SettlementRefused(f"“{value}” is no telephone number.")
            return number
        case Kind.CUSTOMER_NAME:
            normal = normal_name(value)
            if not any(c.isalpha() for c in normal):
                raise SettlementRefused(f"“{value}” is no name.")
            return normal
        case _:
            if not any(c.isalnum() for c in value):
                raise SettlementRefused(f"“{value}” is no postal address.")
            return normal_text(value)
