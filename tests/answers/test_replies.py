"""Draft replies: in the sender's language and thread, polite, complete, and without a code."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import SMTP, compat32, default
from importlib import resources
from pathlib import Path
from string import Formatter

import pytest
from answers_world import MARIT, Desk
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.answers.replies import Reply, _mail, draft, load_texts, plain_address, references, reply_subject
from counterfoil.errors import RecordUnknown, SettingsFaulty, UsageProblem
from counterfoil.model import Kind, Mailbox
from counterfoil.settings import Settings

WHEN = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
LANGUAGES = ("en", "de", "fr", "nl", "es", "it", "sv")
CODES = (
    "attachment_missing",
    "document_unreadable",
    "fact_missing",
    "code_conflict",
    "code_read_by_eye",
    "date_ambiguous",
    "date_contradiction",
    "check_failed",
    "fact_uncertain",
    "key_used_elsewhere",
)
SHOP = Settings(shop_name="Tidewheel Sewing", shop_addresses=("desk@tidewheel.example", "b@tidewheel.example"))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with a message that lacks its activation code; its subject holds the product key."""
    desk = Desk(tmp_path / "archive")
    found: dict[Kind, str] = {k: v for k, v in MARIT.items() if k is not Kind.ACTIVATION_CODE}
    desk.confirm(found, day="2024-06-01", subject=f"Fwd: key {MARIT[Kind.PRODUCT_KEY]}")
    return desk


def make(desk: Desk, own: Path, ref: str = "E1", settings: Settings = SHOP) -> Reply:
    """Draft a reply."""
    return draft(desk.store, settings, desk.originals.read, ref, own_texts=own, when=WHEN)


def shipped(language: str) -> dict[str, object]:
    """Return the texts of a language as shipped."""
    path = resources.files("counterfoil.answers") / "reply_texts" / f"{language}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_text(language: str) -> None:
    """Each language has the same texts with the same places to fill in, for each question and each kind of value."""
    texts, english = shipped(language), shipped("en")
    assert isinstance(texts["questions"], dict) and isinstance(texts["kinds"], dict)
    assert set(texts["questions"]) == set(CODES)
    assert list(texts["kinds"]) == [kind.value for kind in Kind]
    assert list(texts) == list(english)

    def places(table: dict[str, object]) -> dict[str, set[str | None]]:
        plain = {k: v for k, v in table.items() if isinstance(v, str)} | dict(table["questions"])  # type: ignore[call-overload]
        return {k: {name for _, name, _, _ in Formatter().parse(str(v)) if name} for k, v in plain.items()}

    assert places(texts) == places(english)


def test_a_draft_is_a_message(desk: Desk, tmp_path: Path) -> None:
    """The draft reads as a message from the shop's first address to the sender, saying what is missing."""
    made = make(desk, tmp_path)
    mail = message_from_bytes(made.data, policy=default)
    assert str(mail["From"]) == "Tidewheel Sewing <desk@tidewheel.example>"
    assert str(mail["To"]) == "Marit Solvang <marit@solvang.example>"
    assert mail["Date"].datetime == WHEN
    assert (mail["Content-Language"], made.language) == ("en", "en")
    text = mail.get_content()
    assert text.replace("\r\n", "\n") == made.text
    assert text.startswith("Hello Marit Solvang,")
    assert "activation code" in text and "2024-06-01" in text
    assert made.questions == ("fact_missing",)
    assert max(map(len, made.data.split(b"\r\n"))) <= 78
    assert b"\n" not in made.data.replace(b"\r\n", b"")


def test_no_code_in_clear(desk: Desk, tmp_path: Path) -> None:
    """A code that the sender wrote into the subject is covered in the subject and text of the reply."""
    made = make(desk, tmp_path)
    key = MARIT[Kind.PRODUCT_KEY]
    assert key not in made.text + made.subject
    bare = key.replace("-", "").encode()
    assert bare not in made.data.replace(b"-", b"")
    assert made.subject.startswith("Re: Fwd: key ••••")


@pytest.mark.parametrize(
    ("subject", "expected"),
    [("Code", "Re: Code"), ("RE: Code", "Re: Code"), ("AW: SV: Code", "Re: Code"), ("", "Re:"), ("Reply", "Re: Reply")],
)
def test_one_re(subject: str, expected: str) -> None:
    """One `Re: ` stands before the subject, in place of those of other languages (RFC 5322, section 3.6.5)."""
    assert reply_subject(subject) == expected


@pytest.mark.parametrize(
    ("headers", "expected"),
    [
        # RFC 5322, section 3.6.4: the parent's References, with its Message-ID behind them.
        ("Message-ID: <c@x>\nReferences: <a@x>\n <b@x>\n", ("<c@x>", ("<a@x>", "<b@x>", "<c@x>"))),
        # Without References, an In-Reply-To of one identifier takes their place.
        ("Message-ID: <c@x>\nIn-Reply-To: <b@x>\n", ("<c@x>", ("<b@x>", "<c@x>"))),
        # More than one identifier in In-Reply-To: References is the Message-ID alone.
        ("Message-ID: <c@x>\nIn-Reply-To: <a@x> <b@x>\n", ("<c@x>", ("<c@x>",))),
        # Without a Message-ID there is no In-Reply-To.
        ("References: <a@x>\n", (None, ("<a@x>",))),
        ("Subject: none\n", (None, ())),
        ("Message-ID: <c@x\r\n", (None, ())),
    ],
)
def test_the_thread(headers: str, expected: tuple[str | None, tuple[str, ...]]) -> None:
    """In-Reply-To and References follow RFC 5322, section 3.6.4, whatever the original has."""
    assert references(headers.encode() + b"\nText <z@x>\n") == expected


def test_long_identifiers_stay_whole(desk: Desk, tmp_path: Path) -> None:
    """Identifiers longer than a line, as big mail services make them, are in the reply as they were: not encoded, not
    folded inside (RFC 5322, section 3.6.4; RFC 2047, section 5, forbids encoded words there)."""
    long = f"<{'AM0PR04MB1234567890' * 5}@AM0PR04MB.post.example>"
    head = f"Message-ID: {long}\r\nReferences: <first@post.example>\r\n {long[:-1]}2>\r\n\r\n".encode()
    made = draft(desk.store, SHOP, lambda _: head, "E1", own_texts=tmp_path, when=WHEN)
    lines = made.data.decode("ascii").split("\r\n")
    assert lines[:4] == [f"In-Reply-To: {long}", "References: <first@post.example>", f" {long[:-1]}2>", f" {long}"]
    mail = message_from_bytes(made.data, policy=compat32)
    assert mail["In-Reply-To"] == long and mail["References"].split()[-1] == long


@pytest.mark.parametrize(
    "evil",
    ["<a@x>\r\nBcc: all@post.example", "<a\x0b@x>", "<ü@x>", "<a@x\x00>", "<a b@x>", "<<a@x>", "=?utf-8?q?<a>?="],
)
def test_no_header_from_an_identifier(desk: Desk, tmp_path: Path, evil: str) -> None:
    """Whatever the original's identifiers hold, the reply has the headers it has, once, in ASCII."""
    head = f"Message-ID: {evil}\nIn-Reply-To: {evil}\nReferences: {evil} {evil}\n\n".encode()
    made = draft(desk.store, SHOP, lambda _: head, "E1", own_texts=tmp_path, when=WHEN)
    mail = message_from_bytes(made.data, policy=default)
    names = ["From", "To", "Date", "Message-ID", "Subject", "Content-Type", "Content-Transfer-Encoding"]
    assert [name for name in mail if name not in ("In-Reply-To", "References")] == [
        *names, "MIME-Version", "Content-Language",
    ]  # fmt: skip
    assert made.data.isascii()


def test_a_code_in_the_subject_that_was_not_read(desk: Desk, tmp_path: Path) -> None:
    """What looks like a code in the subject is covered though nothing was read from it; dates and words stay."""
    store = desk.store
    found: dict[Kind, str] = {k: v for k, v in MARIT.items() if k is not Kind.ACTIVATION_CODE}
    desk.confirm(
        found | {Kind.MACHINE_ID: "VM-1234567-D"},
        day="2024-06-02",
        subject="Fwd: ZZZZ-1111-WWWW on 2025-04-05, Aktivierungsbestaetigung",
    )
    assert [m.id for m in store.messages()][-1] == "E2"
    made = make(desk, tmp_path, "E2")
    assert "ZZZZ" not in made.text + made.subject + made.data.decode()
    assert "2025-04-05" in made.subject and "Aktivierungsbestaetigung" in made.subject


@pytest.mark.parametrize("local", ["no-reply", "noreply", "do_not_reply", "MAILER-DAEMON", "postmaster"])
def test_nobody_to_ask(desk: Desk, tmp_path: Path, local: str) -> None:
    """No draft is made to an address that nobody reads."""
    found: dict[Kind, str] = {k: v for k, v in MARIT.items() if k is not Kind.ACTIVATION_CODE}
    desk.confirm(found | {Kind.EMAIL_ADDRESS: f"{local}@maker.example"}, day="2024-06-03")
    with pytest.raises(UsageProblem, match="Nobody reads"):
        make(desk, tmp_path, "E2")


@settings(max_examples=150, deadline=None)
@given(
    st.text('ab.@ü\r\n,;:<>()[]"\\ \t\x00\u2028=?', max_size=8),
    st.text('ab.-@ü\r\n:<>[]" \x00', max_size=6),
    st.text('ab \r\n<>@,;:()"\\ü\u202e=?', max_size=10),
)
def test_whoever_wrote_gets_it_alone(local: str, domain: str, name: str) -> None:
    """Whatever the sender's address and name hold, the reply goes to that one address with no header added, or the
    address is refused in a sentence."""
    address = f"a{local}@b{domain}.example"
    try:
        mail = _mail(b"Message-ID: <a@x>\r\n\r\n", SHOP, Mailbox(name, plain_address(address)), WHEN)
    except UsageProblem:
        return
    mail.set_content("x")
    read = message_from_bytes(mail.as_bytes(policy=SMTP), policy=default)
    assert [box.addr_spec.partition("@")[0] for box in read["To"].addresses] == [address.strip().rpartition("@")[0]]
    assert [n for n in read if n[:8] != "Content-"] == ["From", "To", "Date", "Message-ID", "MIME-Version"]


def test_a_domain_with_other_letters(desk: Desk, tmp_path: Path) -> None:
    """The domain nähen.example is written as xn--nhen-loa.example, as in every header and envelope (RFC 5890)."""
    found: dict[Kind, str] = {k: v for k, v in MARIT.items() if k is not Kind.ACTIVATION_CODE}
    desk.confirm(found | {Kind.EMAIL_ADDRESS: "marit@nähen.example"}, day="2024-06-04")
    assert make(desk, tmp_path, "E2").to.address == "marit@xn--nhen-loa.example"


def test_a_domain_never_becomes_another() -> None:
    """RFC 5894, section 7.2: the older rules make strasse of straße, the newer keep it; that is another mailbox, so it
    is refused. What is in ASCII already stays."""
    with pytest.raises(UsageProblem, match="cannot be written to"):
        plain_address("marit@straße.example")
    assert plain_address("marit@xn--strae-oqa.example") == "marit@xn--strae-oqa.example"
    assert plain_address("marit@Strasse.example") == "marit@Strasse.example"


def test_a_long_thread_is_cut() -> None:
    """Of a very long thread the first message and the latest are kept."""
    ids = [f"<m{n}@x>" for n in range(500)]
    _, chain = references(f"Message-ID: <last@x>\nReferences: {' '.join(ids)}\n\n".encode())
    assert (chain[0], chain[-1], len(chain)) == ("<m0@x>", "<last@x>", 21)


def test_the_shops_own_texts(desk: Desk, tmp_path: Path) -> None:
    """A file of the archive takes the place of what it names; all else stays as shipped."""
    (tmp_path / "en.toml").write_text('closing = "Ring us: {shop}."\n[questions]\nfact_missing = "Send {what}!"\n')
    text = make(desk, tmp_path).text
    assert "Ring us: Tidewheel Sewing." in text and "Send activation code!" in text
    assert text.startswith("Hello Marit Solvang,")


@pytest.mark.parametrize(
    ("toml", "named"),
    [
        ("closing = 'x", "en.toml"),
        ("closing = 3", "closing"),
        ("clsing = 'x'", "clsing"),
        ("closing = '{whom}'", "closing"),
        ("closing = '{'", "closing"),
        ("closing = '{shop.wrong}'", "closing"),
    ],
)
def test_faulty_texts(desk: Desk, tmp_path: Path, toml: str, named: str) -> None:
    """A faulty file of the shop is refused by what is wrong in it."""
    (tmp_path / "en.toml").write_text(toml)
    with pytest.raises(SettingsFaulty, match=named):
        make(desk, tmp_path)


def test_languages(tmp_path: Path) -> None:
    """Each language is answered in its own; one without texts, or an unknown one, in English."""
    for language in LANGUAGES:
        assert load_texts(language, tmp_path)[0] == language
    assert {load_texts(language, tmp_path)[0] for language in ("pt", None, "", "../en")} == {"en"}


def test_what_gets_no_reply(desk: Desk, tmp_path: Path) -> None:
    """No draft without an own address, to the shop itself, for what is filed, or for what the sender cannot answer."""
    with pytest.raises(SettingsFaulty, match="no address"):
        make(desk, tmp_path, settings=replace(SHOP, shop_addresses=()))
    with pytest.raises(UsageProblem, match="shop itself"):
        make(desk, tmp_path, settings=replace(SHOP, shop_addresses=("Marit@solvang.example",)))
    desk.confirm(MARIT | {Kind.EMAIL_ADDRESS: "other@post.example"}, day="2024-07-01")
    assert desk.store.message("E2").standing == "filed"
    with pytest.raises(UsageProblem, match="is not open"):
        make(desk, tmp_path, "E2")
    with pytest.raises(RecordUnknown):
        make(desk, tmp_path, "E77")


def test_names_that_would_break_a_header(desk: Desk, tmp_path: Path) -> None:
    """A shop's name with line breaks cannot add headers."""
    made = make(desk, tmp_path, settings=replace(SHOP, shop_name="Tide\r\nBcc: all@post.example"))
    assert message_from_bytes(made.data, policy=default)["Bcc"] is None


def test_the_same_draft_twice(desk: Desk, tmp_path: Path) -> None:
    """Drafted at the same moment the bytes are the same; at another the Message-ID is another."""
    first = make(desk, tmp_path)
    assert make(desk, tmp_path).data == first.data
    later = draft(desk.store, SHOP, desk.originals.read, "E1", own_texts=tmp_path, when=WHEN.replace(minute=31))
    ids = {str(message_from_bytes(d.data, policy=default)["Message-ID"]) for d in (first, later)}
    assert len(ids) == 2 and all(i.endswith("@tidewheel.example>") for i in ids)
