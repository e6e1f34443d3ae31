"""Header fields: eight-bit bytes, folds, addresses, dates, duplicates, automatic and bulk mail."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from mail_parts import HEAD, mail, multipart, part, read

from counterfoil.documents.headers import decode_words, header_text
from counterfoil.model import Mailbox


def with_field(name: str, value: str | bytes) -> bytes:
    """Return a message in which one field has another value."""
    lines = HEAD.encode().split(b"\n")
    raw = value if isinstance(value, bytes) else value.encode()
    kept = [line for line in lines if not line.lower().startswith(name.lower().encode() + b":")]
    return b"\n".join([name.encode() + b": " + raw, *kept]) + b"\nText\n"


def test_space_at_a_fold_after_an_encoded_word_is_kept() -> None:
    """The space where a field was folded between an encoded word and a plain one stays."""
    subject = read(with_field("Subject", "=?utf-8?q?Best=C3=A4tigung?=\n f\u00fcr Ihre Maschine".encode())).head.subject
    assert subject == "Bestätigung für Ihre Maschine"


def test_character_cut_in_two_between_words() -> None:
    """A character whose bytes are spread over two encoded words comes out whole."""
    assert decode_words("=?utf-8?b?TsM=?= =?utf-8?b?pGhl?=") == "Nähe"
    assert decode_words("=?utf-8?q?N=C3?= =?utf-8?q?=A4he?=") == "Nähe"


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("=?utf-8?q?a b?=", "a b"),
        ("=?x-unknown?q?N=C3=A4he?=", "Nähe"),
        ("=?utf-8*en?Q?plain?=", "plain"),
        ("=?utf-8?b?TsOkaGU?=", "Nähe"),
        ("=?utf-8?x?abc?=", "=?utf-8?x?abc?="),
        ("=?utf-8?b?%%%?=", ""),
        ("Fwd: =?iso-8859-15?q?=A4?= 5", "Fwd: € 5"),
    ],
)
def test_encoded_words_as_programs_write_them(raw: str, shown: str) -> None:
    """Encoded words with spaces, unknown character sets, languages, missing padding are read; others stay."""
    assert header_text(raw) == shown


def test_raw_eight_bit_header() -> None:
    """Raw bytes in a header are UTF-8, and Latin-1 where they are not."""
    assert read(with_field("Subject", "Grüße".encode())).head.subject == "Grüße"
    assert read(with_field("Subject", "Grüße".encode("latin-1"))).head.subject == "Grüße"
    assert read(with_field("From", "Jörg Faden <j@faden.example>".encode())).head.sender == Mailbox(
        "Jörg Faden", "j@faden.example"
    )


@pytest.mark.parametrize(
    ("value", "boxes"),
    [
        ('"Faden, Jörg" <j@faden.example>', [("Faden, Jörg", "j@faden.example")]),
        ('"=?utf-8?q?J=C3=B6rg?=" <j@faden.example>', [("Jörg", "j@faden.example")]),
        ("=?utf-8?q?J=C3=B6rg?=\n <j@faden.example>", [("Jörg", "j@faden.example")]),
        ("Group: a@one.example, B <b@two.example>;", [("", "a@one.example"), ("B", "b@two.example")]),
        ("undisclosed-recipients:;", []),
        ("'a@one.example' <a@one.example>", [("", "a@one.example")]),
        ("Faden, Jörg <j@faden.example>", [("Faden, Jörg", "j@faden.example")]),
        ("a@one.example; b@two.example", [("", "a@one.example"), ("", "b@two.example")]),
        ("Jörg <j@faden.example", [("Jörg", "j@faden.example")]),
        ("", []),
    ],
)
def test_addresses(value: str, boxes: list[tuple[str, str]]) -> None:
    """Addresses are read as the standard has them, in groups, and where mail programs break the rules."""
    assert read(with_field("To", value)).head.to == tuple(Mailbox(*box) for box in boxes)


@pytest.mark.parametrize(
    ("value", "moment"),
    [
        ("Tue, 4 Mar 2025 9:05:00 +0100", datetime(2025, 3, 4, 8, 5, tzinfo=UTC)),
        ("4 Mar 2025 09:05", datetime(2025, 3, 4, 9, 5, tzinfo=UTC)),
        ("Tue, 4 Mar 2025 09:05:00 EST", datetime(2025, 3, 4, 14, 5, tzinfo=UTC)),
        ("2025-03-04 09:05:00 +0100", datetime(2025, 3, 4, 8, 5, tzinfo=UTC)),
        ("Die, 4 Mär 2025 09:05:00 +0100", datetime(2025, 3, 4, 8, 5, tzinfo=UTC)),
    ],
)
def test_dates_that_break_the_rules(value: str, moment: datetime) -> None:
    """Hours of one digit, missing zones, old zones, ISO dates and other languages are read; no zone means UTC."""
    assert read(with_field("Date", value)).head.date == moment


def test_date_keeps_its_offset() -> None:
    """The day is the sender's day: shortly after midnight it does not become the day before."""
    found = read(with_field("Date", "Tue, 4 Mar 2025 00:30:00 +0200")).head.date
    assert found is not None
    assert (found.day, found.utcoffset()) == (4, timedelta(hours=2))
    assert found == datetime(2025, 3, 4, 0, 30, tzinfo=timezone(timedelta(hours=2)))


def test_impossible_date() -> None:
    """A date that is none is None and a defect."""
    message = read(with_field("Date", "Tue, 44 Mar 2025 99:05:00 +0100"))
    assert message.head.date is None
    assert any("date" in defect for defect in message.defects)


def test_duplicate_fields() -> None:
    """Of a field that stands twice the first counts, To fields are put together, and the message says so."""
    message = read(("Subject: First\nTo: other@thread.example\n" + HEAD + "\nText\n").encode())
    assert message.head.subject == "First"
    assert [box.address for box in message.head.to] == ["other@thread.example", "support@thread.example"]
    assert any("2 times" in defect for defect in message.defects)


@pytest.mark.parametrize(
    ("head", "authors"),
    [
        ("From: a@one.example\n", 1),
        ("From: a@one.example, b@two.example\nSender: a@one.example\n", 2),
        ("From: A <a@one.example>\nFrom: B <b@two.example>\n", 2),
        ("From: a@one.example\nFrom: A <A@one.example>\n", 1),
        ("From: 'a@one.example' <a@one.example>\n", 1),
        ("From: Desk: a@one.example, b@two.example;\n", 2),
        ("From: a@one.example (also b@two.example), c@three.example\n", 2),
        ("Subject: x\n", 1),
    ],
)
def test_authors_are_counted(head: str, authors: int) -> None:
    """Different addresses in From (RFC 5322, section 3.6.2 allows several) are counted: any may have sent it."""
    assert read(f"{head}\nText\n".encode()).head.authors == authors


@pytest.mark.parametrize("fields", [1_000, 1_001])
def test_more_fields_than_are_read(fields: int) -> None:
    """A header of more than a thousand short fields keeps those that are needed, and says so; of fewer, all."""
    lines = HEAD.count("\n")
    message = read(("X: y\n" * (fields - lines) + HEAD + "\nText\n").encode())
    assert message.head.subject == "Confirmation"
    assert any("more than are read" in defect for defect in message.defects) is (fields > 1_000)


@pytest.mark.parametrize(
    ("more", "automatic"),
    [
        ("Auto-Submitted: auto-replied\n", True),
        ("Auto-Submitted: auto-replied; owner-email=a@one.example\n", True),
        ("Auto-Submitted: auto-generated\n", False),
        ("Auto-Submitted: auto-generated\nIn-Reply-To: <7@thread.example>\n", True),
        ("Auto-Submitted: no\n", False),
        ("X-Auto-Response-Suppress: All\n", False),
        ("X-Auto-Response-Suppress: All\nIn-Reply-To: <7@thread.example>\n", True),
        ("X-Autoreply: yes\n", True),
        ("Precedence: auto_reply\n", True),
        ("Return-Path: <>\n", True),
        ("Return-Path: <marit@solvang.example>\n", False),
        ("", False),
    ],
)
def test_automatic(more: str, automatic: bool) -> None:
    """Automatic replies are told by RFC 3834 and its older relatives; a generated confirmation is none."""
    assert read(mail("Away", more=more)).automatic is automatic


def test_bounce_is_automatic() -> None:
    """A report on a delivery (RFC 3464) is automatic."""
    report = multipart(part("Failed", "text/plain"), part("Action: failed", "message/delivery-status"), kind="report")
    assert read(report).automatic


@pytest.mark.parametrize(
    ("more", "bulk"),
    [
        ("List-Id: <stitches.thread.example>\n", True),
        ("List-Unsubscribe: <mailto:u@thread.example>\n", True),
        ("Precedence: bulk\n", True),
        ("Precedence: first-class\n", False),
        ("", False),
    ],
)
def test_bulk(more: str, bulk: bool) -> None:
    """Lists are told by the List- fields of RFC 2369 and RFC 2919 and by Precedence."""
    assert read(mail("News", more=more)).bulk is bulk
