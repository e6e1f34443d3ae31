"""Look-alikes, leftovers and traps: nothing here may come out as a certain code."""

from __future__ import annotations

import pytest
from pattern_layouts import Item, forwarded, page_document, table_document, text_document
from pattern_makers import SETTINGS

from counterfoil.model import CODE_KINDS, Document, Kind
from counterfoil.patterns import Patterns

PATTERNS = Patterns.load(None)

TEXTS = [
    "Activation code: 9F3K-77AB-M2XW\nKF",
    "Activation code: 9F3K-77AB-M2XW\n    G",
    "Activation code: 9F3K-77AB-M2XW\n\n7KPL",
    "Activation code: 9F3K-77AB-M2X=\nW",
    "Activation code: 9F3K-77AB-M2X-=\nW22K",
    "Activation code: 9F3K-77AB-M2XW   N",
    "> Activation code: 9F3K-77AB-M2XW\n> KF",
    "Activation code: 9F3K-77AB-M2XW 1)",
    "Activation code: 9F3K-77AB-M2XW1)",
    "Activation code: 9F3K-77AB-M2XW^1",
    "Activation code: 9F3K-77AB-M2XW 1",
    "Serial number: 20447719 1",
    "Serial number: 20447719 2026",
    "Activation code: 9F3K-77AB-M2XWPlease",
    "Activation code: 9F3K-77AB-M2XX-WXXXX",
    "Activation code: 9F3K-77AB-M2XW[...]",
    "Activation code: [...]9F3K-77AB-M2XW",
    "Activation code: 9F3K-77AB-M2XW ...",
    "Activation code: 9F3K-77AB-M2XW ????",
    "Activation code: 9F3K-77AB-M2XW (continued)",
    "Activation code: ~8F3K-77AB-M2XZ~ 9F3K-77AB-M2XW",
    "Activation code: 9F~3K~-77AB-M2XW",
    "Activation code: will follow\n9F3K-77AB-M2XW",
    "Activation code:\nOrder 9F3K-77AB-M2XW",
    "Activation code: 9F3K-77AB-\n\nThank you",
    "Activation code: 9F3K-77AB…",
    "Activation code: 9F3K-77AB...",
    "Activation code: 9F3K-****-M2XW",
    "Activation code: 9F3K-XXXX-XXXX",
    "Activation code: •••• 77AB22",
    "Activation code: 9F3K-77AB-M2XW or 8F3K-77AB-M2XZ",
    "Activation code: 9F3K-77AB-M2XW/8F3K-77AB-M2XZ",
    "Activation code: 9F3K-77AB-M2XW, 8F3K-77AB-M2XZ",
    "Activation code:   9F3K-77AB-M2XW   8F3K-77AB-M2XZ",
    "Activation code: 9F3K 77AB   M2XW",
    "Activation codes:\n9F3K-77AB-M2XW\n8F3K-77AB-M2XZ",
    "Activation code: 9F3K-77AB-M2XW keep safe",
    "Activation code: 9F3K 77AB M2XW KEEP",
    "Activation code: 9F3K 77AB M2XW SAFELY",
    "Activation code: 9F3K-77AB-M2XW-VALID",
    "Activation code: 9F3K-77AB-M2XW.Please keep it",
    "Activation code: AB12 CODE 7X22 KK33",
    "Activation code: AB12 TYPE 7X22 KK33",
    "Activation code: 9F3K-77AB-M2\n                 XW-22KK",
    "Activation code: 9F3K 77AB\n                 M2XW 22KK",
    "Activation code: 9F3K 77AB\n                 MZXW",
    "Hello, my activation code is 9F3K-77AB-M2XW. Bye",
    "The activation code for order 88214471 is 9F3K-77AB-M2XW.",
    "the activation code is\n9F3K-77AB-M2XW and so on",
    "I typed the product key from the card and then got the\nactivation code 9F3K-77AB-M2XW.\nThank you",
    "Old activation code: 9F3K-77AB-M2XW",
    "Alter Freischaltcode: 9F3K-77AB-M2XW",
    "Ancien code d'activation : 9F3K-77AB-M2XW",
    "This is not your activation code: 9F3K-77AB-M2XW",
    "Activation code: e.g. 9F3K-77AB-M2XW",
    "Activation code (example): 9F3K-77AB-M2XW",
    "Activation code: 9F3K-77AB-M2XW (not valid)",
    "Activation code: GB82 WEST 1234 5698 7654 32",
    "Product key: GB82WEST12345698765432",
    "Activation code: 2026-04-03",
    "Serial number: 12.04.2026",
    "Activation code: https://velotta.example/a/9F3K77ABM2XW",
    "Activation code: www.velotta.example/9F3K-77AB-M2XW",
    "Activation code: 9F3K77AB@post.example",
    "Serial number: +44 20 7946 0123",
    "Serial number: 020 7946 0123",
    "Product key: 123456.00 EUR",
    "Product key: EUR 123456,00",
    "Activation code: 9F3К-77AB-M2XW",  # the third letter is Cyrillic
    "Activation code: 9F3K_77AB_M2XW",
    "Activation code: Order number: 88214471",
    "Activation code:\nOrder number: 88214471",
    "Activation code\n\nTracking number 4471220988",
    "Activation code\n\nTracking number: 4471220988",
    "Activation code reference: 88214471",
    "Product key / activation code: 9F3K-77AB-M2XW",
    "Product key: 9F3K-77AB-M2XW\nActivation code: 9F3K-77AB-M2XW",
    "Activation code: 9F3K-77AB-M2XW\n\nActivation code: 8F3K-77AB-M2XZ",
    "Machine ID card no 2204417",
    "You find the machine ID under Settings 204417",
    "Serial number: see type plate 20447719",
    "Serial number: 20447719 (old: 20447718)",
    "Serial number: 2026",
    "Activation code: 12345",
    "Activation code: PENDING",
    "Product key: 1Z 999 AA1 01 2345 6784",
    "Machine ID: Corda 310 VT-204417-R",
    "Machine ID Product key   VT-204417-R",
    "Order number: 9F3K-77AB-M2XW",
    "Sendungsnummer: 00340434161094",
    "Kundennummer: 20447719",
    "IBAN: GB82 WEST 1234 5698 7654 32",
    "USt-IdNr.: DE123456788",
    "Invoice number: R-2026-0417",
    "Your code: 9F3K-77AB-M2XW",
    "Verification code: 447122",
]

LAYOUTS: list[tuple[str, Document]] = [
    (
        "the value belongs to the label beside it, not to the one above",
        page_document(
            [Item(320, 100, "Activation code"), Item(60, 116, "Product name"), Item(320, 116, "KX7P-22MA-90QT")]
        ),
    ),
    ("too far below", page_document([Item(60, 100, "Activation code"), Item(60, 300, "KX7P-22MA-90QT")])),
    ("another column", page_document([Item(60, 100, "Activation code"), Item(320, 114, "KX7P-22MA-90QT")])),
    (
        "broken, and the next line of the column is another label's value",
        page_document(
            [
                Item(60, 100, "Activation code"),
                Item(320, 100, "9F3K-77AB-"),
                Item(60, 114, "Order number"),
                Item(320, 114, "88214471"),
            ]
        ),
    ),
    (
        "broken, and what stands below is a date",
        page_document([Item(60, 100, "Activation code"), Item(320, 100, "9F3K-77AB-"), Item(320, 112, "2026-04-03")]),
    ),
    (
        "broken, and what stands below looks like a code of its own",
        page_document(
            [Item(60, 100, "Activation code"), Item(320, 100, "9F3K-77AB-"), Item(320, 112, "22-456789-K12")]
        ),
    ),
    ("a cell without a value", table_document([["Activation code", ""], ["Order number", "KX7P-22MA-90QT"]])),
    ("a header without a value", table_document([["Activation code", "Order number"], ["", "KX7P-22MA-90QT"]])),
    ("two rows under a header", table_document([["Activation code"], ["KX7P-22MA-90QT"], ["KX7P-22MA-90QZ"]])),
]


@pytest.mark.parametrize("text", TEXTS)
def test_text_gives_no_certain_code(text: str) -> None:
    """No code in the text has odds at which it would be filed."""
    reading = PATTERNS.read(forwarded(text_document(text)), SETTINGS)
    assert [f for f in reading.facts if f.kind in CODE_KINDS and f.odds >= SETTINGS.filing_odds] == []


@pytest.mark.parametrize(("why", "document"), LAYOUTS, ids=[why for why, _ in LAYOUTS])
def test_layout_gives_no_certain_activation_code(why: str, document: Document) -> None:
    """No activation code in the layout has odds at which it would be filed."""
    reading = PATTERNS.read(forwarded(document), SETTINGS)
    certain = [f for f in reading.facts if f.kind is Kind.ACTIVATION_CODE and f.odds >= SETTINGS.filing_odds]
    assert certain == [], why


GOOD = [
    ("Activation code: 9F3K-77AB-M2XW.", "9F3K77ABM2XW"),
    ('Activation code: "9F3K-77AB-M2XW"', "9F3K77ABM2XW"),
    ("Activation code: *9F3K-77AB-M2XW*", "9F3K77ABM2XW"),
    ("*Activation code:* 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("ACTIVATION CODE 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Activation code: 9f3k-77ab-m2xw", "9F3K77ABM2XW"),
    ("Activation code:\u00a09F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Activation code: 9F3K-77AB-M2XW (see Settings, Upgrades)", "9F3K77ABM2XW"),
    ("Activation code (14 characters): 9F3K-77AB-M2XW22", "9F3K77ABM2XW22"),
    ("Activation code: AB12CD-PIN-7X22KK", "AB12CDPIN7X22KK"),
    ("| Activation code | 9F3K-77AB-M2XW |", "9F3K77ABM2XW"),
    ("Activation code .......... 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Activation code / Aktivierungscode: 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Aktivierungs-\ncode: 9F3K\n\nAktivierungscode: 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Codé d'ACTIVATION : 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Co\u0301digo de activacio\u0301n: 9F3K-77AB-M2XW", "9F3K77ABM2XW"),
    ("Activation code: 9F3K-77AB-\n                 M2XW-22KK", "9F3K77ABM2XW22KK"),
    ("Activation code: 9F3K-77AB-\nM2XW-22KK\n", "9F3K77ABM2XW22KK"),
    ("Activation code: 9F3K 77AB M2XW 22KK", "9F3K77ABM2XW22KK"),
    ("Activation code: 9F3K - 77AB - M2XW", "9F3K77ABM2XW"),
]


@pytest.mark.parametrize(("text", "normal"), GOOD)
def test_clean_lines_are_certain(text: str, normal: str) -> None:
    """A code alone behind its label is certain in any of the spellings mail brings."""
    reading = PATTERNS.read(forwarded(text_document(text)), SETTINGS)
    chosen = reading.chosen[Kind.ACTIVATION_CODE]
    assert (chosen.normal, chosen.odds >= SETTINGS.filing_odds) == (normal, True)


def test_a_code_broken_over_two_lines_has_a_box_around_both_pieces() -> None:
    """A joined code keeps the place of both of its pieces."""
    document = page_document(
        [Item(60, 100, "Activation code"), Item(320, 100, "9F3K-77AB-"), Item(320, 112, "M2XW-22KK")]
    )
    fact = PATTERNS.read(forwarded(document), SETTINGS).chosen[Kind.ACTIVATION_CODE]
    assert fact.value == "9F3K-77AB-M2XW-22KK"
    assert fact.place.box is not None
    assert (fact.place.box.y0, fact.place.box.y1) == (688, 710)
