"""What belongs to one confirmation: a message may hold two, and halves of both must never become one.

Documents belong together where they share a code, or where they came in one mail as body and attachment and name the
same customer. Whatever stands in other documents than the confirmation's own is told apart by its odds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import combinations

from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, DATE_KINDS, Check, Document, Kind, Layer
from counterfoil.patterns import odds
from counterfoil.patterns.found import Found
from counterfoil.patterns.names import fold_name

_ATTACHED = ("pdf:", "file:")
_NEEDED = (Kind.ACTIVATION_CODE, Kind.PRODUCT_KEY, Kind.MACHINE_ID, Kind.SERIAL_NUMBER)


def keep_together(
    codes: Sequence[Found], values: Sequence[Found], layers: Sequence[Layer], senders: Collection[int]
) -> None:
    """Lower every value that stands apart from the confirmation: it may be of another one.

    Args:
        codes: the codes found in all documents; their odds are changed.
        values: all other values found; their odds are changed.
        layers: the message's.
        senders: numbers of the layers that a known maker sent.
    """
    groups = _groups(codes, values, layers, senders)
    if not groups:
        return
    own = max(groups, key=lambda group: _rank(group, codes))
    others = set().union(*groups) - own
    inside = {code.document.layer for code in codes if _zone(code) in own}
    told = {code.kind for code in codes if _zone(code) in own and _counts(code)}
    for code in codes:
        if _zone(code) in others and code.kind not in told:
            _lower(code, odds.DOUBTFUL)
        elif _zone(code) in own and " in quote " in _zone(code) and _unlike(codes, own, others):
            # The likelier group is what somebody answers to: the code asked for may be the one that was not read.
            _lower(code, odds.DOUBTFUL)
    for value in values:
        if _zone(value) in others:
            _lower(value, odds.DOUBTFUL if value.kind in CUSTOMER_KINDS | DATE_KINDS else 0.0)
        elif value.kind in DATE_KINDS and value.document.layer not in {0, *inside}:
            _lower(value, odds.DOUBTFUL)


def doubt_lone(codes: Iterable[Found]) -> None:
    """Lower the only code of a maker that no label names, in a message that names no maker: it may be another's.

    One code in thirty of another maker has a right check digit in this one's shape; two at once hardly.

    Args:
        codes: the codes found in all documents of a message whose maker was not recognised; their odds are changed.
    """
    by_maker: dict[str, dict[str, list[Found]]] = {}
    for code in codes:
        if code.maker is not None and code.check is Check.PASSED:
            by_maker.setdefault(code.maker, {}).setdefault(code.normal, []).append(code)
    for different in by_maker.values():
        for code in next(iter(different.values())) if len(different) == 1 else ():
            if "CODE_BY_SHAPE_CHECKED" in odds.signs_of(code.odds) and not code.pattern.startswith("label"):
                code.odds = min(code.odds, odds.CODE_BY_SHAPE_ALONE)
                code.evidence.append("the only code of this maker, and nothing names the maker")


def _zone(value: Found) -> str:
    """Return where a value stands: its document, the HTML of a body being no second one, and how deep in quotes."""
    start = value.pieces[0][0]
    line = next((line for line in value.document.lines if line.end >= start), None)
    name = value.document.name.removesuffix(":html")
    return f"{name} in quote {line.quoted}" if line is not None and line.quoted else name


def _unlike(codes: Iterable[Found], own: Collection[str], others: Collection[str]) -> bool:
    """Tell whether text that is not quoted gives other codes for two kinds that a group gives as well."""
    plain = {c.kind: c.normal for c in codes if _zone(c) in others and " in quote " not in _zone(c) and _counts(c)}
    inside = {c.kind: c.normal for c in codes if _zone(c) in own and _counts(c)}
    return sum(inside[kind] != normal for kind, normal in plain.items() if kind in inside) >= 2


def _counts(code: Found) -> bool:
    return code.kind in CODE_KINDS and code.odds >= odds.CONFLICT_FROM


def _lower(value: Found, most: float) -> None:
    if value.odds > most:
        value.odds = most
        value.evidence.append("not in the same document as the other codes: perhaps of another confirmation")


def _rank(group: Collection[str], codes: Sequence[Found]) -> tuple[int, int, float]:
    inside = [code for code in codes if _zone(code) in group and _counts(code)]
    kinds = {code.kind for code in inside}
    return len(kinds & set(_NEEDED)), Kind.ACTIVATION_CODE in kinds, sum(code.odds for code in inside)


def _groups(
    codes: Iterable[Found], values: Sequence[Found], layers: Sequence[Layer], senders: Collection[int]
) -> list[set[str]]:
    """Return the names of the documents with codes, in groups that belong to one confirmation each."""
    written: dict[str, set[str]] = {}
    documents: dict[str, Document] = {}
    for code in codes:
        if _counts(code):
            written.setdefault(_zone(code), set()).add(code.normal)
            documents[_zone(code)] = code.document
    if len(documents) < 2:
        return [set(documents)] if documents else []
    groups = [{name} for name in documents]
    for one, two in combinations(documents, 2):
        if written[one] & written[two] or _one_mail(documents, one, two, values, layers, senders):
            first = next(group for group in groups if one in group)
            second = next(group for group in groups if two in group)
            if first is not second:
                groups.remove(second)
                first |= second
    return groups


def _one_mail(
    documents: dict[str, Document],
    one: str,
    two: str,
    values: Sequence[Found],
    layers: Sequence[Layer],
    senders: Collection[int],
) -> bool:
    """Tell whether two documents are the text of a mail and its one attachment, both for the same customer."""
    layer = documents[one].layer
    attached = [n for n, d in documents.items() if d.layer == layer and n.startswith(_ATTACHED)]
    if documents[two].layer != layer or len(attached) != 1 or not {one, two} & set(attached):
        return False
    if layer in senders and layers[layer].how != "inline":
        return True
    text = two if one == attached[0] else one
    named = {_folded(box.name) for box in layers[layer].to} | _customers(text, values)
    return bool(named & _customers(attached[0], values) - {()})


def _customers(document: str, values: Iterable[Found]) -> set[tuple[str, ...]]:
    return {_folded(v.normal) for v in values if v.kind is Kind.CUSTOMER_NAME and _zone(v) == document}


def _folded(name: str) -> tuple[str, ...]:
    return tuple(sorted(fold_name(name))) if name else ()
