"""Giving codes back: how the caller is known, what is refused, what is written, and what a terminal asks."""

from __future__ import annotations

import json
import re
import sys
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

import pypdfium2
import pytest
from cli_world import Desk, _tidy, desk, shown_secrets

__all__ = ["_tidy", "desk"]

#: In the samples: the machine whose board was swapped, its holder's address and number.
MACHINE, HOLDER = "M4", "C4"
ADDRESS, NUMBER = "fenna@vanderkluwen.example", "+44 1632 960611"
REVEAL = ("--reveal", "--reason", "factory reset", "--who", "Ada")
LIVE = "16046-25488-11905-22566"


def given(desk: Desk) -> list[dict[str, object]]:
    """Return the lines of the journal about codes given out."""
    return [line for line in desk("journal", "--json").lines() if line["action"] in ("reveal", "draft codes")]


def test_programs_need_reveal_and_reason_only(desk: Desk) -> None:
    """Without a terminal nothing is asked: the codes come, and the journal says that the way was not stated."""
    answer = desk("restore", MACHINE, *REVEAL, "--json").json()
    assert list(answer) == ["machine", "customer", "machine_id", "upgrades", "steps"]
    (line,) = given(desk)
    detail = line["detail"]
    assert isinstance(detail, dict)
    assert (detail["known_by"], detail["asked_by"], line["why"]) == ("not stated", None, "factory reset")


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ("shop", "in the shop with the machine"),
        ("call-back", f"called back on {NUMBER}"),
        ("01632 960611", f"called back on {NUMBER}"),
        ("e-mail", f"wrote from {ADDRESS}"),
    ],
)
def test_how_the_caller_was_known_is_shown_and_journalled(desk: Desk, way: str, said: str) -> None:
    """What is on file counts; the terminal, the journal and its full view say how the caller was known."""
    outcome = desk("restore", MACHINE, *REVEAL, "--known-by", way)
    assert outcome.code == 0
    assert f"how the caller was known: {said}." in " ".join(outcome.out.split())
    (line,) = given(desk)
    assert f"known by  {said}" in desk("journal", str(line["id"])).out


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--known-by", "07700 900999"), "+447700900999 is not on file of C4"),
        (("--known-by", "eve@postbox.example"), "eve@postbox.example is not on file of C4"),
        (("--customer", "C1", "--known-by", "shop"), "C1 does not have M4; C4 has it now."),
    ],
)
def test_a_mismatch_is_refused_and_can_be_overridden_with_a_reason(
    desk: Desk, words: tuple[str, ...], why: str
) -> None:
    """The refusal says why and shows nothing; with a reason the codes come, and the journal keeps both."""
    refused = desk("restore", MACHINE, *REVEAL, *words)
    assert (refused.code, refused.out) == (1, "")
    assert why in " ".join(refused.err.split())
    assert "--override" in refused.err
    assert given(desk) == []
    shown = desk("restore", MACHINE, *REVEAL, *words, "--override", "her new number; birthday told")
    assert shown.code == 0 and shown_secrets(shown.out)
    assert "Given although" in shown.out
    (line,) = given(desk)
    assert line["detail"]["override"] == "her new number; birthday told"  # type: ignore[index]
    assert why in line["detail"]["mismatch"][0]  # type: ignore[index]
    assert "because   her new number; birthday told" in desk("journal", str(line["id"])).out


def test_a_former_holder_gets_nothing_by_id_or_name(desk: Desk) -> None:
    """After a handover the former holder's id and name lead to a refusal, not to the codes of the present holder."""
    assert desk("handover", "M1", "--to", "C2", "--why", "gift").code == 0
    name = str(desk("customer", "C1", "--json").json()["names"][0])  # type: ignore[index]
    for ref in ("C1", name):
        outcome = desk("restore", ref, *REVEAL)
        assert outcome.code != 0, ref
        assert shown_secrets(outcome.out + outcome.err) == []
    assert given(desk) == []


def test_a_draft_goes_to_an_address_on_file(desk: Desk, tmp_path: Path) -> None:
    """The draft is a message in the holder's language with the live code and no dead one; it is journalled."""
    path = tmp_path / "codes.eml"
    outcome = desk("restore", MACHINE, *REVEAL, "--known-by", "call-back", "--mail", str(path))
    assert outcome.code == 0
    mail = message_from_bytes(path.read_bytes(), policy=default)
    assert str(mail["To"]) == f"Fenna van der Kluwen <{ADDRESS}>"
    assert mail["Content-Language"] == "nl"
    assert len(shown_secrets(mail.get_content())) == 2 and LIVE in mail.get_content()
    assert [line["action"] for line in given(desk)] == ["reveal", "draft codes"]
    again = desk("restore", MACHINE, *REVEAL, "--known-by", "call-back", "--mail", str(path))
    assert again.code == 2 and "is there already" in again.err


def test_the_journal_has_a_draft_before_the_file(desk: Desk, tmp_path: Path) -> None:
    """Also a draft that then cannot be written stands in the journal: none is there that it does not name."""
    (tmp_path / "taken").write_text("a file, no folder")
    outcome = desk("restore", MACHINE, *REVEAL, "--known-by", "call-back", "--mail", str(tmp_path / "taken" / "c.eml"))
    assert outcome.code != 0
    assert shown_secrets(outcome.out + outcome.err) == []
    assert [line["action"] for line in given(desk)] == ["reveal", "draft codes"]


def test_no_draft_to_strangers_or_unknown_callers(desk: Desk, tmp_path: Path) -> None:
    """Without a terminal and without the option the draft fails and names it; another address is refused."""
    path = tmp_path / "codes.eml"
    unknown = desk("restore", MACHINE, *REVEAL, "--mail", str(path))
    assert unknown.code == 2 and "--known-by" in unknown.err
    words = ("--known-by", "call-back", "--to", "eve@postbox.example", "--override", "she said so")
    stranger = desk("restore", MACHINE, *REVEAL, "--mail", str(path), *words)
    assert stranger.code == 1 and "no codes are written to it" in stranger.err
    assert not path.exists()
    assert given(desk) == []


def test_a_draft_without_a_sender_reveals_nothing(desk: Desk, tmp_path: Path) -> None:
    """Where the settings name no address of the shop the draft is refused, and no reveal stands in the journal."""
    config = desk.folder / "counterfoil.toml"
    kept = [line for line in config.read_text(encoding="utf-8").splitlines() if not line.startswith("shop_addresses")]
    config.write_text("\n".join(kept), encoding="utf-8")
    refused = desk("restore", MACHINE, *REVEAL, "--known-by", "call-back", "--mail", str(tmp_path / "codes.eml"))
    assert refused.code == 10 and "no address of the shop" in refused.err
    assert given(desk) == []


@pytest.mark.parametrize("words", [("--known-by", "shop"), ("--mail", "x.eml"), ("--save", "x")])
def test_giving_out_needs_reveal(desk: Desk, words: tuple[str, ...]) -> None:
    """Options about giving codes out do nothing without --reveal, and say so."""
    outcome = desk("restore", MACHINE, *words)
    assert outcome.code == 2
    assert "--reveal" in outcome.err


@pytest.mark.parametrize(("paper", "edge"), [(None, 297), ("a4", 297), ("letter", 279)])
def test_the_sheet_is_written_on_the_paper_asked_for(desk: Desk, tmp_path: Path, paper: str | None, edge: int) -> None:
    """A4 is usual for the invented shop, Letter on demand."""
    words = () if paper is None else ("--paper", paper)
    outcome = desk("restore", MACHINE, *REVEAL, "--out", str(tmp_path / "sheet"), *words)
    assert outcome.code == 0
    page = pypdfium2.PdfDocument(tmp_path / "sheet" / "M4-restore-sheet.pdf")[0]
    assert round(page.get_height() / 72 * 25.4) == edge


def test_content_packs_are_saved_beside_the_sheet(desk: Desk, tmp_path: Path) -> None:
    """A content pack that came with a confirmation is saved byte for byte, a program without its ending."""
    pack = b"PK\x03\x04 five hundred motifs \x00\xff"
    source = next(Path(str(r["source"])) for r in desk("export").lines() if r.get("id") == "E53")
    first = message_from_bytes(source.read_bytes(), policy=default)
    mail = EmailMessage()
    for name in ("From", "To", "Subject", "Date"):
        mail[name] = first[name]
    mail["Message-ID"] = "<with-pack@postbox.example>"
    body = first.get_body(("plain",))
    assert body is not None
    mail.set_content(body.get_content())
    mail.add_attachment(pack, maintype="application", subtype="zip", filename="../motifs.zip")
    mail.add_attachment(b"MZ", maintype="application", subtype="octet-stream", filename="loader.exe")
    (tmp_path / "with-pack.eml").write_bytes(mail.as_bytes())
    assert desk("ingest", str(tmp_path / "with-pack.eml"), "--json").code == 0
    (open_one,) = [r for r in desk("export").lines() if str(r.get("source", "")).endswith("with-pack.eml")]
    ref = str(open_one["id"])
    if open_one["standing"] == "open":
        assert desk("triage", "settle", ref, "--customer", HOLDER, "--machine", MACHINE, "--why", "her pack").code == 0
    out = tmp_path / "saved"
    answer = desk("restore", MACHINE, *REVEAL, "--save", str(out), "--json").json()
    assert answer["files"] == [str(out / f"M4-{ref}-motifs.zip"), str(out / f"M4-{ref}-loader.exe_")]
    assert (out / f"M4-{ref}-motifs.zip").read_bytes() == pack
    assert "is a program: it was not run" in str(answer["left_out"])
    assert desk("restore", MACHINE, *REVEAL, "--save", str(out)).code == 2


def test_cautions_stand_on_the_terminal(desk: Desk) -> None:
    """Mains power, interrupted updates, lost stitches, the manual and qualified people are on every answer."""
    text = " ".join(desk("restore", MACHINE).out.split())
    for words in (
        "before opening the machine, switch it off and unplug it",
        "Do not cut the power and do not pull out the stick",
        "Save own stitches and settings to a memory stick",
        "Follow the maker's manual (chapter 11, Upgrades) and local rules",
        "qualified technicians",
    ):
        assert words in text
    steps = desk("restore", MACHINE, "--json").json()["steps"]
    assert "Do not cut the power" in json.dumps(steps)


def test_each_upgrade_says_live_or_dead(desk: Desk) -> None:
    """The overview tells which code is live for the machine ID of now and which died with the old board."""
    lines = desk("restore", MACHINE).out.splitlines()
    rows = [re.split(r"\s{2,}", line.strip()) for line in lines if line.startswith("Borduurmodule Plus  ")]
    assert rows == [
        ["Borduurmodule Plus", "live: enter", "2.40", "E53"],
        ["Borduurmodule Plus", "dead: do not enter", "2.40", "E5"],
    ]


def test_a_version_ahead_of_the_one_needed_is_not_enough(desk: Desk) -> None:
    """A firmware noted as 2.40 beta is older than the 2.40 that an upgrade needs: sheet and lists say so."""
    machine_id = str(desk("restore", MACHINE, "--json").json()["machine_id"])
    entry = ("--customer", HOLDER, "--set", f"machine_id={machine_id}", "--firmware-after", "2.40 beta", "--sure")
    assert desk("record", *entry).code == 0
    shown = " ".join(desk("restore", MACHINE).out.split())
    assert "firmware 2.40 beta, noted" in shown
    assert "2.40 2.40 beta noted: update first" in shown
    listed = desk("report", "firmware", "--model", "Orkan 720", "--below", "2.40", "--json").json()["rows"]
    assert isinstance(listed, list)
    assert MACHINE in [row["machine"] for row in listed]


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are POSIX")
def test_a_terminal_asks_how_the_caller_is_known(desk: Desk) -> None:
    """On a terminal the ways on file are offered by number; the answer is journalled, none of them is refused."""
    from pty_world import terminal

    words = ("restore", MACHINE, "--archive", str(desk.folder), "--reveal", "--reason", "reset")
    with terminal(*words) as screen:
        asked = screen.wait_for("Number")
        assert f"2  called back on {NUMBER}" in asked and f"3  wrote from {ADDRESS}" in asked
        for key in ("2", "\n"):
            screen.press(key)
        assert screen.leave() == 0
    assert LIVE in screen.text
    with terminal(*words) as screen:
        screen.wait_for("Number")
        for key in ("4", "\n"):
            screen.press(key)
        assert screen.leave() == 1
    assert LIVE not in screen.text
    (line,) = given(desk)
    assert line["detail"]["known_by"] == f"called back on {NUMBER}"  # type: ignore[index]
