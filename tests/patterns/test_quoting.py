"""Codes in a quote: the sender is the customer only where nobody else wrote them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pattern_layouts import direct, text_document
from pattern_makers import SETTINGS

from counterfoil.model import Document, Kind, Mailbox, Message
from counterfoil.patterns import Patterns

PATTERNS = Patterns.load(None)
CODES = "Machine ID: VT-204417-R\nProduct key: KX7P-22MA-90QT\nActivation code: 8F3K-77AB-M2XZ"
QUOTE = "\n".join(f"> {row}" for row in CODES.split("\n"))


def body(text: str) -> Document:
    """Make a text of which the lines that start with ">" are quoted."""
    made = text_document(text)
    return replace(made, lines=tuple(replace(line, quoted=text.startswith(">", line.start)) for line in made.lines))


def address_odds(message: Message) -> float:
    """Return the odds with which the sender is taken for the customer."""
    fact = PATTERNS.read(message, SETTINGS).chosen.get(Kind.EMAIL_ADDRESS)
    return -9.0 if fact is None else fact.odds


@pytest.mark.parametrize(
    "above",
    [
        "On Tue, 3 Mar 2026 at 09:12, Rune Aamot <rune@post.example> wrote:",
        "On Tue, 3 Mar 2026 at 09:12, Rune Aamot\n<rune@post.example> wrote:",
        "Am 03.03.2026 um 09:12 schrieb Rune Aamot:",
        "Le mar. 3 mars 2026 à 09:12, Rune Aamot a écrit :\n",
    ],
)
def test_what_another_wrote_says_nothing_of_the_sender(above: str) -> None:
    """Where the line over the quote names another person, whose codes these are is asked."""
    assert address_odds(direct(body(f"Is this yours?\n\n{above}\n{QUOTE}"))) < SETTINGS.filing_odds


@pytest.mark.parametrize(
    "text",
    [
        CODES,
        f"Here is the mail I got:\n{QUOTE}",
        f"On Tue, 3 Mar 2026 at 09:12, Liv Tarrant <liv.tarrant@post.example> wrote:\n{QUOTE}",
        f"On Tue, 3 Mar 2026 at 09:12, Thimble Lane Support <support@thimblelane.example> wrote:\n{QUOTE}",
        f"Am 03.03.2026 um 09:12 schrieb Tarrant, Liv:\n\n{QUOTE}",
        f"{CODES}\n\nOn Tue, 3 Mar 2026 at 09:12, Rune Aamot <rune@post.example> wrote:\n{QUOTE}",
        f"On Tue, 3 Mar 2026 at 09:12, Rune Aamot <rune@post.example> wrote:\n> Which are your codes?\n\n{CODES}",
    ],
)
def test_own_words_are_the_senders(text: str) -> None:
    """What the sender typed, quotes of own mail, of the shop's mail or of nobody named are the sender's."""
    assert address_odds(direct(body(text))) >= SETTINGS.filing_odds


def test_of_several_authors_none_is_certain() -> None:
    """Where From names several people, the first is no certain customer."""
    message = direct(body(CODES), sender=Mailbox("Liv Tarrant", "liv.tarrant@post.example"))
    both = replace(message, layers=(replace(message.layers[0], authors=2),))
    assert address_odds(both) < SETTINGS.filing_odds <= address_odds(message)
