"""Proofs: the found and not-found examples that every pattern file carries, run through the real reading."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from counterfoil.model import Cell, Document, Kind, Layer, Line, Message, Reading
from counterfoil.patterns.makers import Proof
from counterfoil.patterns.normal import normal

#: From these odds on a value counts as found in a proof: those that are filed without a person.
FOUND = 4.6

_CELL = re.compile(r"[^\s](?:(?!\t| {3})[^\n])*")


@dataclass(frozen=True, slots=True)
class ProofFailure:
    """An example a pattern file does not stand: the file, the example, and what came out, as a sentence."""

    source: str
    text: str
    kind: Kind
    what: str


def plain_document(text: str, name: str = "body", layer: int = 0) -> Document:
    """Make a document from plain text: cells are parted by tabs or three spaces."""
    lines = []
    start = 0
    for part in text.split("\n"):
        cells = tuple(
            Cell(start + m.start(), start + m.start() + len(m.group().rstrip()), m.start(), m.start() + len(m.group()))
            for m in _CELL.finditer(part)
        )
        lines.append(Line(start, start + len(part), cells))
        start += len(part) + 1
    return Document(name, layer, text, tuple(lines), size=len(text))


def plain_message(text: str) -> Message:
    """Make a message of one text and nothing else."""
    return Message("", len(text), (Layer("received", None, None),), (plain_document(text),))


def check_proof(proof: Proof, read: Callable[[Message], Reading], region: str) -> ProofFailure | None:
    """Run one example.

    Args:
        proof: the example.
        read: reads a message.
        region: ISO 3166-1 code for telephone numbers.

    Returns:
        What went wrong, None if nothing did.
    """
    reading = read(plain_message(proof.text))
    found = {f.normal: f for f in reading.facts if f.kind is proof.kind and f.odds >= FOUND}
    if proof.value is None:
        what = f"{next(iter(found))} was found in it as {proof.kind}" if found else ""
    else:
        wanted = normal(proof.kind, proof.value, region)
        chosen = reading.chosen.get(proof.kind)
        if chosen is not None and chosen.normal == wanted and wanted in found and len(found) == 1:
            return None
        seen = f"{chosen.normal} at odds {chosen.odds}" if chosen else "nothing"
        what = f"{wanted} was expected as {proof.kind}, {seen} was found"
    return ProofFailure(proof.source, proof.text, proof.kind, what) if what else None
