"""Two confirmations in one message, or two machines in one table: halves of both never make one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pattern_layouts import Item, forwarded, page_document, table_document, text_document
from pattern_makers import SETTINGS

from counterfoil.model import CODE_KINDS, Document, Kind, Layer, Mailbox, Message, Reading
from counterfoil.patterns import Patterns

PATTERNS = Patterns.load(None)
OWN = "Registered to: Liv Tarrant\nMachine ID: VT-204417-R\nProduct key: KX7P-22MA-90QT\n"
CODE = "Activation code: 8F3K-77AB-M2XZ"
NEEDED = (Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)


def certain(reading: Reading) -> set[Kind]:
    """Return the kinds of codes that would be filed."""
    return {
        kind
        for kind, fact in reading.chosen.items()
        if kind in CODE_KINDS and fact.odds >= SETTINGS.filing_odds and kind not in reading.conflicts
    }


def chain(*texts: str) -> Message:
    """Make a message with a forward in a forward, the texts from the inside layer 1 on."""
    message = forwarded(*(text_document(text, f"forward:{n}", n) for n, text in enumerate(texts, 1)))
    layer = message.layers[1]
    more = tuple(
        replace(layer, parent=n, to=(Mailbox("Rune Aamot", "rune@post.example"),)) for n in range(1, len(texts))
    )
    return replace(message, layers=(*message.layers, *more))


def quoted(text: str, depth: int) -> Document:
    """Make a forwarded text of which the lines that start with ">" are quoted."""
    made = text_document(text, "forward:1", 1)
    lines = tuple(replace(line, quoted=depth if text[line.start] == ">" else 0) for line in made.lines if line.cells)
    return replace(made, lines=lines)


@pytest.mark.parametrize(
    "message",
    [
        chain(OWN, CODE),
        chain(CODE, OWN),
        chain(OWN, "Registered to: Rune Aamot\nMachine ID: VT-300111-A\n" + CODE),
        forwarded(text_document(CODE, "pdf:a.pdf", 1), text_document(OWN, "pdf:b.pdf", 1)),
        forwarded(text_document(OWN, "forward:1", 1), page_document([Item(60, 60, CODE)], layer=1)),
        forwarded(quoted(f"{OWN}\nOn Monday Rune wrote:\n> {CODE}", 1)),
    ],
)
def test_halves_of_two_confirmations_are_not_filed_as_one(message: Message) -> None:
    """Machine ID and product key here, an activation code there, nothing that ties them: not all are certain."""
    assert not certain(PATTERNS.read(message, SETTINGS)) >= set(NEEDED)


def test_a_body_and_its_pdf_for_the_same_customer_belong_together() -> None:
    """Half of the codes in the text and half in the PDF, with the same customer in both, are one confirmation."""
    paper = page_document([Item(60, 60, CODE), Item(60, 90, "Registered to: Liv Tarrant")], layer=1)
    reading = PATTERNS.read(forwarded(text_document(OWN, "forward:1", 1), paper), SETTINGS)
    assert certain(reading) >= set(NEEDED)


def test_documents_that_share_a_code_belong_together() -> None:
    """What a customer adds to a confirmation with the same machine ID in it counts with it."""
    reading = PATTERNS.read(chain(OWN, "Machine ID: VT-204417-R\n" + CODE), SETTINGS)
    assert certain(reading) >= set(NEEDED)


def test_a_date_from_another_mail_of_the_chain_is_not_certain() -> None:
    """A purchase date in an older mail further down says nothing about this machine."""
    reading = PATTERNS.read(chain(OWN + CODE, "Date of purchase: 2019-03-02"), SETTINGS)
    assert reading.chosen[Kind.PURCHASE_DATE].odds < SETTINGS.filing_odds


HEAD = ["Model", "Machine ID", "Product key", "Activation code"]


@pytest.mark.parametrize(
    "rows",
    [
        [HEAD, ["Corda", "VT-204417-R", "KX7P-22MA-90QT", ""], ["Lyra", "", "", "8F3K-77AB-M2XZ"]],
        [HEAD, ["Corda", "", "KX7P-22MA-90QT", "9F3K-77AB-M2XW"], ["Lyra", "VT-300111-A", "", ""]],
        [HEAD, ["Corda", "VT-204417-R", "KX7P-22MA-90QT", "9F3K-77AB-M2XW"], ["Lyra", "VT-300111-A", "", ""]],
        [
            ["Machine ID", "VT-204417-R", "VT-300111-A"],
            ["Product key", "KX7P-22MA-90QT", ""],
            ["Activation code", "", "8F3K-77AB-M2XZ"],
        ],
    ],
)
def test_a_table_with_two_machines_is_not_filed(rows: list[list[str]]) -> None:
    """A row or a column for each machine: no code is certain, even where a cell is empty."""
    assert certain(PATTERNS.read(forwarded(table_document(rows, "forward:1", 1)), SETTINGS)) == set()


def test_a_table_with_one_machine_is_filed() -> None:
    """One row under the labels is read as before."""
    rows = [HEAD, ["Corda", "VT-204417-R", "KX7P-22MA-90QT", "9F3K-77AB-M2XW"]]
    assert certain(PATTERNS.read(forwarded(table_document(rows, "forward:1", 1)), SETTINGS)) == set(NEEDED)


BARE = "Machine ID: VT-204417-R\nProduct key: KX7P-22MA-90QT\n" + CODE


def named(reading: Reading) -> float:
    """Return the odds of the customer's name, 0 where there is none."""
    fact = reading.chosen.get(Kind.CUSTOMER_NAME)
    return fact.odds if fact is not None else 0.0


@pytest.mark.parametrize(
    "sender", [Mailbox("Rune Aamot", "rune@post.example"), Mailbox("Desk", SETTINGS.shop_addresses[0])]
)
def test_to_of_a_private_mail_or_of_the_shops_own_names_no_customer(sender: Mailbox) -> None:
    """To counts where a service wrote it: who forwards to a relative, or the shop's answer, makes nobody a customer."""
    assert named(PATTERNS.read(forwarded(text_document(BARE, "forward:1", 1), inner=sender), SETTINGS)) < 4.6


def test_who_types_codes_for_somebody_else_is_not_the_customer() -> None:
    """My mother's codes are not mine."""
    layer = Layer(
        "received", None, Mailbox("Rune Aamot", "rune@post.example"), (Mailbox("", SETTINGS.shop_addresses[0]),)
    )
    own = Message("", 1, (layer,), (text_document("These are the codes.\n\n" + BARE),))
    other = Message("", 1, (layer,), (text_document("These are my mother's codes.\n\n" + BARE),))
    assert named(PATTERNS.read(own, SETTINGS)) >= SETTINGS.filing_odds
    assert named(PATTERNS.read(other, SETTINGS)) < SETTINGS.filing_odds


@pytest.mark.parametrize(
    "name",
    ["Ada & Bo Lind", "Ada Lind / Bo Lind", "Ada Lind, Bo Lind", "Ada + Bo Lind", SETTINGS.shop_name],
)
def test_couples_and_the_shop_are_no_certain_customer(name: str) -> None:
    """Two people behind one label, or the shop itself, leave the customer to a person."""
    text = f"Registered to: {name}\n{BARE}"
    message = forwarded(text_document(text, "forward:1", 1))
    bare = replace(message, layers=(message.layers[0], replace(message.layers[1], to=())))
    assert named(PATTERNS.read(bare, SETTINGS)) < SETTINGS.filing_odds


@pytest.mark.parametrize("label", ["Store name", "Dealer name", "Contact person", "Activated by"])
def test_people_of_the_trade_are_no_customers(label: str) -> None:
    """The store, its contact and who activated the machine there are not the customer."""
    message = forwarded(text_document(f"{label}: Rune Aamot\n{BARE}", "forward:1", 1))
    assert "Rune Aamot" not in {f.normal for f in PATTERNS.read(message, SETTINGS).facts}


@pytest.mark.parametrize(
    "line",
    [
        "Date of purchase: 2031-01-01",
        "Date of purchase: 1899-01-01",
        "Purchased, valid until 2026-03-01",
        "Date of purchase:\n2026-04-01 (Registration date)",
    ],
)
def test_days_on_which_nothing_was_bought_are_not_certain(line: str) -> None:
    """A day after the message, long before any machine, behind "until", or of the next label is no purchase date."""
    reading = PATTERNS.read(forwarded(text_document(f"{BARE}\n{line}", "forward:1", 1)), SETTINGS)
    fact = reading.chosen.get(Kind.PURCHASE_DATE)
    assert fact is None or fact.odds < SETTINGS.filing_odds
