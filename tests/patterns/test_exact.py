"""Codes read by eye held against what stands in the message exactly."""

from __future__ import annotations

from dataclasses import replace

import pytest

from counterfoil.model import ALSO_IN_SYMBOL, ALSO_IN_TEXT, BY_EYE, Document, Fact, Kind, Layer, Message, Reading
from counterfoil.patterns import Patterns
from counterfoil.patterns.proofs import plain_document
from counterfoil.settings import Settings

PATTERNS = Patterns.load(None)
CARD = "Customer: Marit Solvang\nMachine ID: KT4-7729-31\nProduct key: HD3K-9WQ2-7TRM"


def read(*others: tuple[str, str], turns: tuple[int, ...] = (0,)) -> Reading:
    """Read a message with a card read by eye, and other documents by name and text."""
    card = replace(plain_document(CARD, "picture:card.jpg", 0), turns=turns, pages=1)
    documents: list[Document] = [card, *(plain_document(text, name, 0) for name, text in others)]
    return PATTERNS.read(Message("0", 0, (Layer("received", None, None),), tuple(documents)), Settings())


def key(reading: Reading) -> Fact:
    """Return the product key read from the card."""
    return next(f for f in reading.facts if f.kind is Kind.PRODUCT_KEY and f.place.document == "picture:card.jpg")


@pytest.mark.parametrize(
    ("name", "text", "noted"),
    [
        ("body", "My key is hd3k 9wq2 7trm I think", {ALSO_IN_TEXT}),
        ("body", "HD3K-9WQ2-7TRN", set()),
        ("body", "XHD3K-9WQ2-7TRM", set()),
        ("code:card.jpg", "HD3K9WQ27TRM", {ALSO_IN_SYMBOL}),
        ("link:card.jpg", "https://stitch.example/?key=HD3K-9WQ2-7TRM", set()),
    ],
)
def test_the_same_code_elsewhere_is_noted(name: str, text: str, noted: set[str]) -> None:
    """The same characters, alone, in a text or a QR code are noted; one other character, or an address, is nothing."""
    fact = key(read((name, text)))
    assert set(fact.evidence) & {ALSO_IN_TEXT, ALSO_IN_SYMBOL} == noted
    assert fact.by_eye


def test_how_the_page_was_turned_is_noted() -> None:
    """The evidence says by how much the picture had to be turned, so that the piece of it can be shown upright."""
    assert f"{BY_EYE} turned by 90 degrees" in key(read(turns=(1,))).evidence


def test_a_name_read_by_eye_is_not_certain_however_often_seen() -> None:
    """A customer's name on one picture, or on two of the same card, stays below what is filed without a person."""
    one = read()
    second = replace(plain_document(CARD, "picture:again.jpg", 0), turns=(0,), pages=1)
    card = replace(plain_document(CARD, "picture:card.jpg", 0), turns=(0,), pages=1)
    two = PATTERNS.read(Message("0", 0, (Layer("received", None, None),), (card, second)), Settings())
    for reading in (one, two):
        assert reading.chosen[Kind.CUSTOMER_NAME].odds < Settings().filing_odds


def test_an_address_gives_no_value_and_shows_no_code() -> None:
    """No value is read from the address in a QR code, and what looks like a code in it is masked in the text kept."""
    reading = read(("link:a.jpg", "https://stitch.example/?activation_code=9KDW-4HPX-77RA&m=1"))
    assert Kind.ACTIVATION_CODE not in reading.chosen
    assert "9KDW" not in reading.redacted["link:a.jpg"]
