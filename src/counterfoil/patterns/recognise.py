"""Which makers a message is about: by the sender of any layer, by label, by name."""

from __future__ import annotations

from collections.abc import Sequence

from counterfoil.model import Document, Fact, Kind, Message, Place
from counterfoil.patterns import odds
from counterfoil.patterns.layout import View
from counterfoil.patterns.makers import MakerPattern
from counterfoil.patterns.words import PhraseTable, Role, fold


def by_sender(message: Message, makers: Sequence[MakerPattern]) -> dict[int, MakerPattern]:
    """Return the maker that sent each layer, by the number of the layer."""
    found: dict[int, MakerPattern] = {}
    for number, layer in enumerate(message.layers):
        if layer.sender is not None:
            for maker in makers:
                if maker.sends_from(layer.sender.address):
                    found[number] = maker
    return found


def sender_facts(senders: dict[int, MakerPattern], message: Message) -> list[Fact]:
    """Return the maker of each layer it sent as a fact that stands in the layer's headers."""
    facts = []
    for number, maker in senders.items():
        sender = message.layers[number].sender
        address = sender.address if sender else ""
        facts.append(
            Fact(
                Kind.MAKER,
                maker.name,
                maker.name,
                Place(f"headers:{number}"),
                f"sender {maker.name}",
                odds=odds.SENDER,
                evidence=(f"sent from {address}",),
            )
        )
    return facts


def subject_facts(message: Message, table: PhraseTable) -> list[Fact]:
    """Return the makers named in the subjects as facts that stand in the layers' headers."""
    facts = []
    for number, layer in enumerate(message.layers):
        for hit in table.scan(fold(layer.subject))[1]:
            for sense in hit.meaning.senses:
                if sense.role is Role.MAKER:
                    value = layer.subject[hit.start : hit.end]
                    place = Place(f"headers:{number}")
                    evidence = ("named in the subject",)
                    pattern = f"name {sense.name}"
                    facts.append(
                        Fact(Kind.MAKER, value, sense.name, place, pattern, odds=odds.NAMED, evidence=evidence)
                    )
    return facts


def recognised(senders: dict[int, MakerPattern], views: Sequence[View], values: Sequence[str]) -> frozenset[str]:
    """Return the names of all makers a message is about.

    Args:
        senders: from :func:`by_sender`.
        views: the documents.
        values: makers read behind a label, in canonical spelling where known.
    """
    names = {maker.name for maker in senders.values()} | set(values)
    for view in views:
        for hit in view.phrases:
            names.update(s.maker for s in hit.meaning.senses if s.role is Role.MAKER and s.maker)
    return frozenset(names)


def readable(message: Message) -> list[Document]:
    """Return the documents that have text in which values are looked for: an address in a QR code has none."""
    return [d for d in message.documents if d.text.strip() and not d.name.startswith("link:")]
