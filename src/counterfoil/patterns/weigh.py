"""Values from all documents weighed against each other: agreement raises, contradiction lowers, one is chosen."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from counterfoil.model import CODE_KINDS, Fact, Kind
from counterfoil.patterns import odds
from counterfoil.patterns.found import with_odds
from counterfoil.patterns.names import fold_name
from counterfoil.patterns.words import fold

_IDENTITY = frozenset({Kind.MACHINE_ID, Kind.SERIAL_NUMBER})
"""Some machines show the serial number as machine ID: these two may be alike."""


def _key(fact: Fact) -> str:
    """Return what two facts of a kind share if they say the same."""
    if fact.kind is Kind.CUSTOMER_NAME:
        return " ".join(sorted(fold_name(fact.normal)))
    if fact.kind in (Kind.MAKER, Kind.MODEL, Kind.UPGRADE_NAME, Kind.POSTAL_ADDRESS):
        return fold(fact.normal)
    return fact.normal


def weigh(facts: Iterable[Fact]) -> tuple[tuple[Fact, ...], dict[Kind, Fact], dict[Kind, tuple[Fact, ...]]]:
    """Weigh facts against each other.

    Returns:
        All facts with their final odds, one for each document and value; the likeliest of each kind; and for each
        kind with different values of good odds the likeliest fact for each of them.
    """
    by_kind: dict[Kind, dict[str, list[Fact]]] = defaultdict(lambda: defaultdict(list))
    for fact in _once(facts):
        by_kind[fact.kind][_key(fact)].append(fact)
    for values in by_kind.values():
        for key, same in values.items():
            values[key] = _agree(same)
    _across_kinds(by_kind)
    chosen: dict[Kind, Fact] = {}
    conflicts: dict[Kind, tuple[Fact, ...]] = {}
    every: list[Fact] = []
    for kind, values in by_kind.items():
        strong = [key for key, same in values.items() if _best(same).odds >= odds.CONFLICT_FROM]
        if len(strong) > 1:
            best = {key: _best(same).odds for key, same in values.items()}
            for key, same in values.items():
                against = odds.against([worth for other, worth in best.items() if other != key])
                values[key] = [with_odds(f, f.odds + against, "another value stands beside it") for f in same]
            conflicts[kind] = tuple(sorted((_best(values[key]) for key in strong), key=lambda f: -f.odds))
        chosen[kind] = max((_best(same) for same in values.values()), key=lambda f: f.odds)
        every.extend(fact for same in values.values() for fact in same)
    return tuple(every), chosen, conflicts


def _best(facts: list[Fact]) -> Fact:
    return max(facts, key=lambda f: f.odds)


def _once(facts: Iterable[Fact]) -> list[Fact]:
    """Keep the likeliest fact for each kind, value and document."""
    kept: dict[tuple[Kind, str, str], Fact] = {}
    for fact in facts:
        key = (fact.kind, fact.normal, fact.place.document)
        if key not in kept or fact.odds > kept[key].odds:
            kept[key] = fact
    return list(kept.values())


def _base_name(document: str) -> str:
    """Return a document's name without its form: the HTML of a body is no second document."""
    return document.removesuffix(":html")


def _agree(same: list[Fact]) -> list[Fact]:
    """Raise a value that stands in several documents; a mere mention in running text, or a second picture of the same,
    raises nothing."""
    documents = {_base_name(fact.place.document) for fact in same if fact.odds >= odds.CONFLICT_FROM}
    if len(documents) < 2 or all(fact.by_eye for fact in same):
        return same
    return [
        with_odds(f, f.odds + odds.AGREEMENT, f"also in {len(documents) - 1} other")
        if f.odds >= odds.CONFLICT_FROM
        else f
        for f in same
    ]


def _across_kinds(by_kind: Mapping[Kind, dict[str, list[Fact]]]) -> None:
    """Lower a code that two labels call by different kinds: one of them points to the wrong value."""
    where: dict[str, list[Kind]] = defaultdict(list)
    for kind in CODE_KINDS & by_kind.keys():
        for key, same in by_kind[kind].items():
            if _best(same).odds >= odds.CONFLICT_FROM:
                where[key].append(kind)
    for key, kinds in where.items():
        if len(kinds) < 2 or set(kinds) <= _IDENTITY:
            continue
        checked = [kind for kind in kinds if _best(by_kind[kind][key]).check == "passed"]
        best = {kind: _best(by_kind[kind][key]).odds for kind in kinds}
        for kind in kinds:
            if checked != [kind]:
                against = odds.against([worth for other, worth in best.items() if other is not kind])
                facts = by_kind[kind][key]
                by_kind[kind][key] = [with_odds(f, f.odds + against, "named as another kind, too") for f in facts]
