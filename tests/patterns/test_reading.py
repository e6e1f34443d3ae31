"""One message as a whole: whose it is, what it is, what contradicts itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from pattern_layouts import CUSTOMER, DAY, SHOP, Item, direct, forwarded, page_document, table_document, text_document
from pattern_makers import CODE, KEY, SETTINGS, patterns

from counterfoil.model import Document, Kind, Layer, Mailbox, Message, Problem
from counterfoil.patterns import Patterns

PATTERNS = Patterns.load(None)

FULL = """Thank you for activating your upgrade.

Machine ID: VT-204417-R
Serial number: 20447719
Product key: KX7P-22MA-90QT
Activation code: 9F3K-77AB-M2XW
Model: Corda 310
Firmware version: V2.14
Date of purchase: 03/04/2026
Registered on: 18 April 2026
Invoice no.: R-2026/117
Registered to: Ms Liv Tarrant
E-mail: liv.tarrant@post.example
Phone: 020 7946 0155
Address: 4 Linen Row
         Marlow Cross

Please keep this confirmation for your warranty.

Kind regards
Velotta Service
Phone: 01632 960123
E-mail: service@velotta.example
"""


def inner(text: str, name: str = "forward:1") -> Document:
    """Make the forwarded text of a message."""
    return text_document(text, name, 1)


def test_every_kind_is_read_from_one_confirmation() -> None:
    """All facts of a full confirmation come out in normal form, none of them contradicted."""
    reading = PATTERNS.read(forwarded(text_document("Please file this."), inner(FULL)), SETTINGS)
    assert {kind.value: fact.normal for kind, fact in reading.chosen.items()} == {
        "machine_id": "VT204417R",
        "serial_number": "20447719",
        "product_key": "KX7P22MA90QT",
        "activation_code": "9F3K77ABM2XW",
        "model": "Corda 310",
        "firmware_version": "2.14",
        "purchase_date": "2026-04-03",
        "registration_date": "2026-04-18",
        "invoice_number": "R2026117",
        "customer_name": "Liv Tarrant",
        "email_address": "liv.tarrant@post.example",
        "phone_number": "+442079460155",
        "postal_address": "4 Linen Row, Marlow Cross",
    }
    assert reading.conflicts == {}
    assert all(fact.odds >= SETTINGS.filing_odds for fact in reading.chosen.values())
    assert (reading.confirmation_layer, reading.language) == (1, "en")
    assert reading.confirmation > 3 and not reading.mentions_attachment


def test_agreement_between_documents_raises_and_contradiction_lowers() -> None:
    """The same code in a PDF raises the odds; another one lowers both and is told as a conflict."""
    alone = PATTERNS.read(forwarded(inner(FULL)), SETTINGS).chosen[Kind.ACTIVATION_CODE]
    same = page_document([Item(60, 100, "Activation code: 9F3K-77AB-M2XW")], layer=1)
    both = PATTERNS.read(forwarded(inner(FULL), same), SETTINGS).chosen[Kind.ACTIVATION_CODE]
    assert both.odds > alone.odds
    other = page_document([Item(60, 100, "Activation code: 9F3K-77AB-M2XX")], layer=1)
    reading = PATTERNS.read(forwarded(inner(FULL), other), SETTINGS)
    assert {f.normal for f in reading.conflicts[Kind.ACTIVATION_CODE]} == {"9F3K77ABM2XW", "9F3K77ABM2XX"}
    assert all(f.odds < SETTINGS.filing_odds for f in reading.facts if f.kind is Kind.ACTIVATION_CODE)


def test_the_html_of_a_body_is_no_second_document() -> None:
    """A body and its HTML form do not vouch for each other."""
    message = direct(text_document("Activation code: 9F3K-77AB-M2XW"))
    twice = direct(*message.documents, table_document([["Activation code", "9F3K-77AB-M2XW"]], "body:html"))
    odds = [PATTERNS.read(m, SETTINGS).chosen[Kind.ACTIVATION_CODE].odds for m in (message, twice)]
    assert odds[0] == odds[1]


def test_the_forwarders_signature_is_no_fact() -> None:
    """Names, addresses and telephone numbers around the forwarded text are not the customer's facts."""
    above = (
        "Please file this.\n\nRegards\nRune Tarrant\nName: Rune Tarrant\n"
        "Phone: 020 7946 0999\nE-mail: rune@post.example"
    )
    reading = PATTERNS.read(forwarded(text_document(above), inner(FULL)), SETTINGS)
    values = {fact.normal for fact in reading.facts}
    assert not values & {"Rune Tarrant", "+442079460999", "rune@post.example"}


def test_a_covering_letter_says_nothing_about_the_customer() -> None:
    """Where the codes stand in an attached PDF, labels in the sender's own text are not the customer's facts."""
    letter = text_document("Please file this.\nName: Rune Tarrant\nPhone: 020 7946 0999")
    pdf = page_document([Item(60, 100, "Activation code: 9F3K-77AB-M2XW"), Item(60, 120, "Customer: Liv Tarrant")])
    reading = PATTERNS.read(direct(letter, pdf), SETTINGS)
    assert {f.normal for f in reading.facts if f.kind is Kind.CUSTOMER_NAME} == {"Liv Tarrant"}
    assert Kind.PHONE_NUMBER not in reading.chosen


def test_the_makers_own_address_and_number_are_no_facts(tmp_path: Path) -> None:
    """Addresses of maker and shop, letterheads, and what stands behind the parting words are not the customer's."""
    reading = patterns(tmp_path).read(forwarded(inner(FULL)), SETTINGS)
    assert [f.normal for f in reading.facts if f.kind is Kind.PHONE_NUMBER] == ["+442079460155"]
    assert {f.normal for f in reading.facts if f.kind is Kind.EMAIL_ADDRESS} == {"liv.tarrant@post.example"}
    letterhead = page_document([Item(60, 40, "Phone: 01632 960123 · E-mail: info@other.example")], layer=1)
    reading = PATTERNS.read(forwarded(letterhead), SETTINGS)
    assert not [f for f in reading.facts if f.kind is Kind.PHONE_NUMBER]


def test_to_of_the_confirmation_is_the_customer() -> None:
    """Whom the maker wrote to is the customer, with place in the headers; the forwarder is none."""
    message = forwarded(inner("Activation code: 9F3K-77AB-M2XW\nProduct key: KX7P-22MA-90QT"))
    spouse = replace(message.layers[0], sender=Mailbox("Rune Tarrant", "rune@post.example"))
    reading = PATTERNS.read(replace(message, layers=(spouse, message.layers[1])), SETTINGS)
    assert reading.chosen[Kind.CUSTOMER_NAME].normal == "Liv Tarrant"
    assert reading.chosen[Kind.EMAIL_ADDRESS].place.document == "headers:1"
    assert reading.chosen[Kind.CUSTOMER_NAME].odds >= SETTINGS.filing_odds
    assert "rune@post.example" not in {f.normal for f in reading.facts}


def test_several_people_in_to_are_not_certain() -> None:
    """With two people in To nobody can tell who the customer is."""
    message = forwarded(inner("Activation code: 9F3K-77AB-M2XW\nProduct key: KX7P-22MA-90QT"))
    layer = replace(message.layers[1], to=(CUSTOMER, Mailbox("Rune Tarrant", "rune@post.example")))
    reading = PATTERNS.read(replace(message, layers=(message.layers[0], layer)), SETTINGS)
    assert reading.chosen[Kind.CUSTOMER_NAME].odds < SETTINGS.filing_odds


def test_who_types_the_codes_is_the_customer() -> None:
    """In a mail typed by hand the sender is the customer, unless the text names one or a role mailbox wrote."""
    typed = text_document("Machine ID: VT-204417-R\nProduct key: KX7P-22MA-90QT\nActivation code: 9F3K-77AB-M2XW")
    reading = PATTERNS.read(direct(typed), SETTINGS)
    assert reading.chosen[Kind.CUSTOMER_NAME].normal == "Liv Tarrant"
    named = text_document(typed.text + "\nCustomer: Änne Vogtländer")
    reading = PATTERNS.read(direct(named), SETTINGS)
    assert {f.normal for f in reading.facts if f.kind is Kind.CUSTOMER_NAME} == {"Änne Vogtländer"}
    robot = direct(typed, sender=Mailbox("Velotta Service", "no-reply@velotta.example"))
    assert Kind.CUSTOMER_NAME not in PATTERNS.read(robot, SETTINGS).chosen


def test_a_direct_confirmation_with_the_shop_in_copy(tmp_path: Path) -> None:
    """Where the maker wrote to the customer and the shop stands in Cc, To is the customer."""
    layer = Layer("received", None, Mailbox("Velotta", "a@velotta.example"), (CUSTOMER,), (SHOP,), DAY, "Activation")
    message = Message("0" * 64, 100, (layer,), (text_document(f"Product key: {KEY}\nActivation code: {CODE}"),))
    reading = patterns(tmp_path).read(message, SETTINGS)
    assert reading.chosen[Kind.EMAIL_ADDRESS].normal == "liv.tarrant@post.example"
    assert reading.chosen[Kind.EMAIL_ADDRESS].odds >= SETTINGS.filing_odds


NOISE = [
    (
        "Your invoice",
        "Invoice no.: 2026-117\nSerial number: 20447719\nTotal due: 129.00\nPlease pay to IBAN GB82 WEST 1234",
    ),
    ("Ihr Paket ist unterwegs", "Sendungsnummer: 00340434161094\nReferenz: KX7P-22MA-90QT"),
    ("Newsletter April", "Our machines. Activation codes now 20 % off! Voucher code: SUMMER-2026-15"),
    ("Bank transfer", "IBAN: GB82 WEST 1234 5698 7654 32\nReference: 88214471"),
    ("Automatic reply: codes", "I am out of office until Monday."),
    ("Question", "Hello, is my machine still covered? The machine ID is VT-204417-R."),
    ("Which thread?", "Which needle do I need for leather? Best wishes"),
    ("Votre commande", "Numéro de commande : 8821-44710\nNuméro de suivi : 4471 2209 8817"),
]


@pytest.mark.parametrize(("subject", "text"), NOISE, ids=[subject for subject, _ in NOISE])
def test_other_mail_is_no_confirmation(tmp_path: Path, subject: str, text: str) -> None:
    """Invoices, parcels, newsletters, bank mail, automatic replies and questions stay below 0."""
    for known in (PATTERNS, patterns(tmp_path)):
        assert known.read(direct(text_document(text), subject=subject), SETTINGS).confirmation < 0


def test_bulk_and_automatic_mail_weighs_against() -> None:
    """The same words in bulk or automatic mail count less."""
    message = direct(text_document("Your activation code: 9F3K-77AB-M2XW"))
    plain = PATTERNS.read(message, SETTINGS).confirmation
    assert PATTERNS.read(replace(message, bulk=True), SETTINGS).confirmation < plain
    assert PATTERNS.read(replace(message, automatic=True), SETTINGS).confirmation < plain


def test_an_unreadable_attachment_asks_for_a_look() -> None:
    """A scanned PDF or a photo in ordinary mail is a sign; a logo, or one in bulk mail, is not."""
    scan = Document("pdf:scan.pdf", 0, "", (), "application/pdf", 1, Problem.SCANNED, "It has no text.")
    message = direct(text_document("Here you are."), scan, subject="My papers")
    assert PATTERNS.read(message, SETTINGS).confirmation > 0
    assert PATTERNS.read(replace(message, bulk=True), SETTINGS).confirmation < 0
    logo = Document("picture:logo.png", 0, "", (), "image/png", 0, Problem.PICTURE, "A picture.", inline=True)
    assert PATTERNS.read(direct(text_document("Here you are."), logo), SETTINGS).confirmation < 0


@pytest.mark.parametrize("phrase", ["see attached", "siehe Anhang", "voir pièce jointe", "zie bijlage", "ver adjunto"])
def test_a_forgotten_attachment_asks_for_a_look(phrase: str) -> None:
    """A forwarded confirmation that speaks of an attachment that is not there is a sign."""
    message = forwarded(inner(f"Activation confirmation\n\nYour codes: {phrase}."))
    reading = PATTERNS.read(message, SETTINGS)
    assert reading.mentions_attachment and reading.confirmation > 0


def test_keys_and_codes_are_masked_everywhere(tmp_path: Path) -> None:
    """Codes are masked behind labels of keys and codes, in a maker's shape, and wherever they are repeated."""
    above = text_document(f"The code 9F3K 77AB M2XW does not work. Is {KEY} right? My key: ABCD-1234-EFGH")
    reading = patterns(tmp_path).read(forwarded(above, inner(FULL)), SETTINGS)
    for name, document in (("body", above), ("forward:1", inner(FULL))):
        masked = reading.redacted[name]
        assert len(masked) == len(document.text) and masked.count("\n") == document.text.count("\n")
        for secret in ("9F3K", "77AB", "KX7P", "2204-4171", "1234-EFGH"):
            assert secret not in masked, (secret, masked)
    assert "VT-204417-R" in reading.redacted["forward:1"]


def test_an_ambiguous_date_keeps_both_readings() -> None:
    """Far from the message's date and without help in the document both readings stay, below the bound."""
    text = "Activation code: 9F3K-77AB-M2XW\nDate of purchase: 03/04/2024"
    fact = PATTERNS.read(forwarded(inner(text)), SETTINGS).chosen[Kind.PURCHASE_DATE]
    assert fact.readings == ("2024-04-03", "2024-03-04") and fact.odds < SETTINGS.filing_odds
    helped = PATTERNS.read(forwarded(inner(text + "\nPrinted 25/03/2024")), SETTINGS).chosen[Kind.PURCHASE_DATE]
    assert (helped.readings, helped.normal) == ((), "2024-04-03")


def test_names_are_not_made_of_other_words() -> None:
    """Greetings, headings and sentences behind a label of a name are no names."""
    for text in (
        "Dear Ms Tarrant,",
        "Customer: thank you for your trust",
        "Customer: 88214471",
        "Name\tPrice\nThread\t4",
    ):
        reading = PATTERNS.read(forwarded(inner("Activation code: 9F3K-77AB-M2XW\n" + text)), SETTINGS)
        names = {f.normal for f in reading.facts if f.kind is Kind.CUSTOMER_NAME and f.odds >= SETTINGS.filing_odds}
        assert names <= {"Liv Tarrant"}, text


def test_a_list_of_codes_is_no_confirmation() -> None:
    """More values than the limit make a list: judged no confirmation, and the facts are bounded."""
    text = "\n".join(f"Serial number: {20440000 + n}" for n in range(700))
    reading = PATTERNS.read(direct(text_document(text)), SETTINGS)
    assert reading.confirmation < 0 and len(reading.facts) <= SETTINGS.limits.facts + 2


def test_a_confirmation_whose_codes_cannot_be_told_asks_for_a_look(tmp_path: Path) -> None:
    """Labels without values, a maker's mail, or a paper without codes: a person must look, nothing is put aside."""
    torn = text_document("Activation code\nMachine ID\nProduct key", "pdf:c.pdf", 1)
    assert PATTERNS.read(forwarded(torn, subject="Hello"), SETTINGS).confirmation > 0
    paper = text_document("zxq wvv", "pdf:c.pdf", 1)
    assert PATTERNS.read(forwarded(paper, subject="Fwd: Your activation code"), SETTINGS).confirmation > 0
    behind = text_document("VT-204417-R (Machine ID)\n9F3K-77AB-M2XW (Activation code)", "forward:1", 1)
    reading = PATTERNS.read(forwarded(behind, subject="Fwd: Activation confirmation"), SETTINGS)
    assert reading.confirmation > 0
    assert "9F3K" not in reading.redacted["forward:1"]
    mail = text_document("See our site.", "forward:1", 1)
    maker = forwarded(mail, subject="Fwd: Your activation code", inner=Mailbox("Velotta", "a@velotta.example"))
    assert patterns(tmp_path).read(maker, SETTINGS).confirmation > 0


def test_codes_that_are_not_read_are_masked_all_the_same() -> None:
    """Pieces of a code behind its label, and codes in the subject, do not stand in what is stored."""
    for text in ("Activation code: 9F3K_77AB_M2XW", "Activation code: 9F3K\n\n77AB\n\nM2XW", "Product key: 9F3K*77AB"):
        stored = PATTERNS.read(forwarded(text_document(text, "forward:1", 1)), SETTINGS).redacted["forward:1"]
        assert "77AB" not in stored and "9F3K" not in stored
    subject = forwarded(text_document("Hello"), subject="Activation code: 9F3K-77AB-M2XW")
    assert "77AB" not in PATTERNS.read(subject, SETTINGS).redacted["headers:0"]
