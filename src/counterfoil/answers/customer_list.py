"""All customers as a table for a spreadsheet, in the columns that an import of customers reads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from counterfoil.model import CustomerProfile, Kind

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Headings and kinds of the columns; a customer with several values of a kind makes more columns: email 2, email 3.
COLUMNS = (
    ("name", Kind.CUSTOMER_NAME),
    ("email", Kind.EMAIL_ADDRESS),
    ("phone", Kind.PHONE_NUMBER),
    ("address", Kind.POSTAL_ADDRESS),
)
#: A spreadsheet would take a text that begins so for a formula; names come from strangers' mail.
_FORMULA = ("=", "+", "-", "@")
#: Kinds given in their normal form, which reads the same in every country.
_NORMAL = (Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER)


def customer_table(store: Store) -> Iterator[tuple[str, ...]]:
    """Yield the headings, then a row for each customer in the order of their ids.

    Args:
        store: the records.
    """
    customers = [[_values(profile, kind) for _, kind in COLUMNS] for profile in store.customers()]
    widths = [max([1, *(len(row[n]) for row in customers)]) for n in range(len(COLUMNS))]
    yield tuple(
        heading if n == 0 else f"{heading} {n + 1}"
        for (heading, _), width in zip(COLUMNS, widths, strict=True)
        for n in range(width)
    )
    for row in customers:
        padded = (values + [""] * (width - len(values)) for values, width in zip(row, widths, strict=True))
        yield tuple(cell for cells in padded for cell in cells)


def _values(profile: CustomerProfile, kind: Kind) -> list[str]:
    """Return the different values of a kind, first noted first."""
    found: dict[str, str] = {}
    for noted in profile.facts:
        if noted.fact.kind is kind:
            text = noted.fact.normal if kind in _NORMAL else " ".join(noted.fact.value.split())
            guarded = text.startswith(_FORMULA) and kind is not Kind.PHONE_NUMBER
            found.setdefault(noted.fact.normal, f"'{text}" if guarded else text)
    return list(found.values())
