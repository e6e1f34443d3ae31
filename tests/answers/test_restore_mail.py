"""A draft with codes: to an address on file of the present holder, in their language, with the cautions."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import default
from importlib import resources
from pathlib import Path
from string import Formatter

import pytest
from answers_world import MARIT, Desk

from counterfoil.answers.guides import EntryGuide, UpgradeGuide
from counterfoil.answers.restore import RestoreSheet, restore
from counterfoil.answers.restore_giving import KnownBy, Way
from counterfoil.answers.restore_mail import DRAFT_ACTION, CodesMail, address_for, draft_codes, note_draft
from counterfoil.errors import NeedsALook, SettingsFaulty, UsageProblem
from counterfoil.model import Kind
from counterfoil.settings import Settings

WHEN = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
SHOP = Settings(shop_name="Tidewheel Sewing", shop_addresses=("desk@tidewheel.example",))
CALL = KnownBy(Way.CALL_BACK, "+442079460011")
GUIDE = EntryGuide("Vellamar", where="Setup, Upgrades", upgrades=(UpgradeGuide("Stitch Pack 2", needs_firmware="2.9"),))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with one machine, its holder with a number and an address on file."""
    desk = Desk(tmp_path / "archive")
    desk.confirm(MARIT | {Kind.PHONE_NUMBER: "+442079460011"})
    return desk


def sheet_of(desk: Desk, known_by: KnownBy | None = CALL) -> RestoreSheet:
    """Return the sheet with its codes shown to a caller known in this way."""
    return restore(desk.store, "M1", [GUIDE], reveal=True, who="anna", reason="lost mail", known_by=known_by)


def make(desk: Desk, own: Path, settings: Settings = SHOP) -> CodesMail:
    """Draft the mail."""
    to = address_for(desk.store, "C1", "", CALL)
    return draft_codes(desk.store, settings, sheet_of(desk), to, [GUIDE], own_texts=own, when=WHEN)


def test_the_draft_reads_as_a_message(desk: Desk, tmp_path: Path) -> None:
    """It goes from the shop to the holder and holds machine ID, codes in their order, firmware and cautions."""
    made = make(desk, tmp_path)
    mail = message_from_bytes(made.data, policy=default)
    assert str(mail["From"]) == "Tidewheel Sewing <desk@tidewheel.example>"
    assert str(mail["To"]) == "Marit Solvang <marit@solvang.example>"
    assert str(mail["Subject"]) == "The codes of your Vellamar Corvina 700"
    assert (mail["Date"].datetime, mail["Content-Language"]) == (WHEN, "en")
    text = mail.get_content().replace("\r\n", "\n")
    assert text == made.text
    flat = " ".join(text.split())
    order = [
        "Hello Marit Solvang,",
        "only while the machine shows the machine ID VM-204817-K",
        "save your own stitches and settings",
        "needs firmware 2.9 or newer",
        "do not cut the power and do not pull out the stick",
        "open Setup, Upgrades",
        "Stitch Pack 2 product key: SP2B-8XQ0-ZZ12 activation code: 7K5S-UV6G-99L1-44TT",
        "switch it off and unplug it",
        "qualified technicians",
        "Keep this message like a key",
        "Tidewheel Sewing",
    ]
    places = [flat.index(words) for words in order]
    assert places == sorted(places)
    assert "anna" not in text and "lost mail" not in text
    assert max(map(len, made.data.split(b"\r\n"))) <= 78


def test_a_draft_is_journalled_without_the_codes(desk: Desk, tmp_path: Path) -> None:
    """The journal says to whom the draft was written and how the caller was known, and holds no code."""
    made = make(desk, tmp_path)
    note_draft(desk.store, sheet_of(desk), made)
    entry = desk.store.journal(subject="M1")[-1]
    assert (entry.action, entry.why) == (DRAFT_ACTION, "lost mail")
    assert entry.detail == {"to": "marit@solvang.example", "known_by": "called back on +442079460011", "language": "en"}


def test_codes_are_written_to_addresses_on_file_only(desk: Desk) -> None:
    """Another address is refused however the caller was known, and so is a machine that nobody has."""
    assert address_for(desk.store, "C1", "Marit@Solvang.example", CALL) == "marit@solvang.example"
    with pytest.raises(NeedsALook, match=r"eve@elsewhere\.example is not on file of C1"):
        address_for(desk.store, "C1", "eve@elsewhere.example", CALL)
    with pytest.raises(NeedsALook, match="Nobody has the machine now"):
        address_for(desk.store, None, "", CALL)


def test_nobody_is_written_to_unknown(desk: Desk, tmp_path: Path) -> None:
    """Where it was not stated how the caller was known there is no draft, and the refusal names the option."""
    with pytest.raises(UsageProblem, match="how the caller was known") as refused:
        address_for(desk.store, "C1", "", None)
    assert "--known-by" in refused.value.next_step
    for shown in (sheet_of(desk, None), restore(desk.store, "M1")):
        with pytest.raises(UsageProblem, match="revealed and the caller known"):
            draft_codes(desk.store, SHOP, shown, "marit@solvang.example", own_texts=tmp_path, when=WHEN)


def test_a_shop_without_an_address_writes_nothing(desk: Desk, tmp_path: Path) -> None:
    """The settings must name the shop's own address."""
    with pytest.raises(SettingsFaulty, match="no address of the shop"):
        make(desk, tmp_path, Settings())


@pytest.mark.parametrize("language", ["de", "fr", "nl", "es", "it", "sv"])
def test_every_language_says_the_same(language: str) -> None:
    """Each language has the texts of English with the same places to fill in."""

    def places(name: str) -> dict[str, set[str | None]]:
        path = resources.files("counterfoil.answers") / "reply_texts" / f"{name}.toml"
        texts = tomllib.loads(path.read_text(encoding="utf-8"))["restore"]
        return {key: {field for _, field, _, _ in Formatter().parse(text) if field} for key, text in texts.items()}

    assert places(language) == places("en")


def test_a_shop_may_word_it_in_its_own_way(desk: Desk, tmp_path: Path) -> None:
    """A text of the archive takes the place of the one it names; a wrong placeholder is said."""
    (tmp_path / "en.toml").write_text('[restore]\nopening = "codes for {machine}!"\n', encoding="utf-8")
    assert "codes for Vellamar Corvina 700!" in make(desk, tmp_path).text
    (tmp_path / "en.toml").write_text('[restore]\nopening = "codes for {owner}!"\n', encoding="utf-8")
    with pytest.raises(SettingsFaulty, match=r"restore\.opening"):
        make(desk, tmp_path)


def test_the_maker_s_order_holds_in_the_mail(desk: Desk, tmp_path: Path) -> None:
    """Where the maker wants the activation code alone, or first, the mail says just that."""
    only = EntryGuide("Vellamar", enter=(Kind.ACTIVATION_CODE,))
    shown = restore(desk.store, "M1", [only], reveal=True, who="anna", reason="lost mail", known_by=CALL)
    text = draft_codes(desk.store, SHOP, shown, "marit@solvang.example", [only], own_texts=tmp_path, when=WHEN).text
    assert "activation code: 7K5S-UV6G-99L1-44TT" in text and "product key" not in text


def test_domains_with_other_letters(desk: Desk, tmp_path: Path) -> None:
    """Domains are written as every server takes them (RFC 5890): solvång.example is xn--solvng-jua.example."""
    values = MARIT | {Kind.EMAIL_ADDRESS: "marit@solvång.example", Kind.PHONE_NUMBER: "+442079460011"}
    other = Desk(tmp_path / "other")
    other.confirm(values)
    made = make(other, tmp_path, replace(SHOP, shop_addresses=("desk@räder.example",)))
    head = made.data.partition(b"\r\n\r\n")[0]
    assert b"To: Marit Solvang <marit@" + "solvång.example".encode("idna") + b">" in head
    assert b"<desk@xn--rder-loa.example>" in head


def test_an_address_that_cannot_be_written_to_costs_no_reveal(tmp_path: Path) -> None:
    """An address with other letters before its @ is refused before codes are shown."""
    other = Desk(tmp_path / "other")
    other.confirm(MARIT | {Kind.EMAIL_ADDRESS: "mårit@solvang.example", Kind.PHONE_NUMBER: "+442079460011"})
    with pytest.raises(UsageProblem, match="cannot be written to"):
        address_for(other.store, "C1", "", CALL)
