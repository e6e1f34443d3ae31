"""Whole groups and their rules, replies to senders, and the desk's figures, on the command line."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import time
import tomllib
from email import message_from_bytes
from email.policy import default
from email.utils import parseaddr
from pathlib import Path

import pytest
from cli_world import PATIENCE_SECONDS, Desk, _tidy, desk, empty, own_environment, shown_secrets
from conftest import TEXT_LETTERS
from pty_world import terminal
from smtp_world import PASSWORD, USER, server

from counterfoil.archive import Archive
from counterfoil.model import CODE_KINDS
from counterfoil.records.originals import Originals
from counterfoil.records.rules import add_rule

__all__ = ["_tidy", "desk", "empty"]


def open_with(desk: Desk, code: str, number: int = 0) -> str:
    """Return an open message with a question."""
    groups = desk("triage", "--json").json()["groups"]
    assert isinstance(groups, list)
    return str(next(g["messages"][number]["id"] for g in groups if g["code"] == code))


def sender(desk: Desk, ref: str) -> str:
    """Return the address a message came from."""
    return str(desk("triage", "show", ref, "--json").json()["sender"]).rpartition("<")[2].rstrip(">")


# --- groups and rules ---------------------------------------------------------------------------------


def test_a_group_put_aside_from_now_on(desk: Desk, tmp_path: Path) -> None:
    """All from an address go aside now, and what comes later too; rule and settlements are seen, removed and undone."""
    ref = open_with(desk, "attachment_missing")
    address = sender(desk, ref)
    before = desk("export").out
    words = ("triage", "settle", "--from", address.upper(), "--aside", "--from-now-on", "--sure", "--why", "no more")
    done = desk(*words, "--json").json()
    assert list(done) == ["from", "settled", "left", "rule", "undo"]
    assert (done["from"], done["rule"], [s["id"] for s in done["settled"]]) == (address, "R1", [ref])  # type: ignore[attr-defined]
    later = tmp_path / "later.eml"
    record = next(r for r in desk("export").lines() if r["id"] == ref)
    original = Originals(desk.folder / "originals").read(str(record["sha256"]))
    later.write_bytes(original.replace(str(record["message_id"]).encode(), b"<later@post.example>"))
    assert desk("ingest", str(later), "--json").json()["aside"] == 1
    rules = desk("triage", "rules", "--json").json()["rules"]
    assert isinstance(rules, list)
    (rule,) = rules
    assert (rule["id"], rule["address"], rule["messages"], rule["why"]) == ("R1", address, 1, "no more")
    assert address in desk("triage", "rules").out
    removed = desk("triage", "rules", "remove", "R1", "--json").json()
    assert desk("triage", "rules").out == "There are no rules.\n"
    undo = [str(removed["journal"]), *done["undo"]]  # type: ignore[misc]
    assert desk("triage", "undo", *undo, "--json").code == 0
    assert [line for line in desk("export").out.splitlines() if "later@post.example" not in line] == before.splitlines()
    assert desk("triage", "rules", "--json").json() == {"rules": []}


def test_what_may_be_a_confirmation_is_left(desk: Desk) -> None:
    """A message that holds codes is left open, named with the reason, and the exit code says that it needs a look."""
    ref = open_with(desk, "date_ambiguous")
    outcome = desk("triage", "settle", "--from", sender(desk, ref), "--aside")
    assert (outcome.code, outcome.out) == (1, f"{ref} is left open: It holds a code.\n")


def test_no_rule_hides_a_confirmation(empty: Desk) -> None:
    """With a rule for the sender of every sample, each that holds a code or an unread document stands as without."""
    mails = TEXT_LETTERS
    archive = Archive(empty.folder)
    for path in mails:
        address = parseaddr(str(message_from_bytes(path.read_bytes(), policy=default)["From"]))[1]
        if "@" in address and address.lower() not in archive.settings.shop_addresses:
            add_rule(archive.store, archive.settings, address, who="kim", why="all of them")
    archive.close()
    empty("ingest", *map(str, mails))
    standing = {Path(str(r["source"])).name: r["standing"] for r in empty("export").lines() if r["record"] == "message"}
    holding = 0
    for path in mails:
        expected = json.loads(path.with_suffix(".expected.json").read_text(encoding="utf-8"))
        if {kind.value for kind in CODE_KINDS} & set(expected["facts"]) or "document_unreadable" in expected[
            "questions"
        ]:
            holding += path.name in standing
            assert standing.get(path.name, expected["standing"]) == expected["standing"], path.name
    assert holding > 70
    assert sum(rule["messages"] for rule in empty("triage", "rules", "--json").json()["rules"]) > 0  # type: ignore[attr-defined]


def test_a_group_is_shown_before_it_is_settled(desk: Desk) -> None:
    """The messages of one address are listed with what settling changes, and which stay open; nothing changes."""
    ref = desk.message("barnaby-shared-address.eml")
    before = desk("export").out
    shown = desk("triage", "--from", sender(desk, ref).upper(), "--json").json()["messages"]
    assert isinstance(shown, list)
    assert [(m["id"], m["left_if_aside"]) for m in shown] == [(ref, "It holds a code.")]
    page = " ".join(desk("triage", "--from", sender(desk, ref)).out.split())
    assert "Settling files" in page and "With --aside it stays open: It holds a code." in page
    missing = open_with(desk, "attachment_missing")
    assert "is put aside with the others" in desk("triage", "--from", sender(desk, missing)).out
    assert desk("triage", "--from", "nobody@post.example").out == "Nothing is open from nobody@post.example.\n"
    assert desk("export").out == before


def test_a_group_filed_to_a_customer(desk: Desk) -> None:
    """Messages of one address are filed to one customer together."""
    ref = desk.message("barnaby-shared-address.eml")
    done = desk("triage", "settle", "--from", sender(desk, ref), "--customer", "Imogen Thackerby", "--json").json()
    assert [s["standing"] for s in done["settled"]] == ["filed"]  # type: ignore[attr-defined]
    assert desk("triage", "settle", "--from", "nobody@post.example", "--aside").out == (
        "Nothing is open from nobody@post.example.\n"
    )


@pytest.mark.parametrize(
    "words",
    [
        ("--from", "a@b.example"),
        ("E5", "--from", "a@b.example", "--aside"),
        ("--from", "a@b.example", "--aside", "--customer", "C1"),
        ("--from", "a@b.example", "--customer", "C1", "--from-now-on"),
        ("--from", "a@b.example", "--customer", "new"),
        ("--aside",),
        ("E5", "--aside", "--from-now-on"),
    ],
)
def test_groups_that_make_no_sense(desk: Desk, words: tuple[str, ...]) -> None:
    """What contradicts itself is refused with 2 and changes nothing."""
    before = desk("export").out
    assert desk("triage", "settle", *words).code == 2
    assert desk("export").out == before


# --- replies ------------------------------------------------------------------------------------------


def with_server(desk: Desk, port: int) -> None:
    """Write a mail server into the settings of the archive."""
    path = desk.folder / "counterfoil.toml"
    (desk.folder / "smtp.pw").write_text(f"{PASSWORD}\n")
    (desk.folder / "smtp.pw").chmod(0o600)
    more = f'smtp_host = "localhost"\nsmtp_port = {port}\nsmtp_user = "{USER}"\nsmtp_password_file = "smtp.pw"\n'
    path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")


@pytest.mark.parametrize(
    ("source", "language", "word"),
    [
        ("kaethe", "de", "Produktschlüssel"),
        ("bastien", "fr", "confirmation.pdf"),
        ("maarten", "nl", "machine-ID"),
        ("amparo", "es", "código de activación"),
        ("rosalind", "en", "2025-05-04 or 2025-04-05"),
    ],
)
def test_drafts_in_the_senders_language(desk: Desk, tmp_path: Path, source: str, language: str, word: str) -> None:
    """The draft is in the language of the message, in its thread, says what is needed, and holds no code."""
    groups = desk("triage", "--json").json()["groups"]
    assert isinstance(groups, list)
    found = {
        m["id"]: m for g in groups if g["code"] not in ("customer_unclear", "holder_unclear") for m in g["messages"]
    }
    ref = next(ref for ref, m in found.items() if source in m["sender"])
    out = tmp_path / "reply.eml"
    made = desk("triage", "reply", ref, "--out", str(out), "--json").json()
    assert (made["language"], made["sent"], made["file"]) == (language, False, str(out))
    assert word in " ".join(str(made["text"]).split())
    mail = message_from_bytes(out.read_bytes(), policy=default)
    original = next(r for r in desk("export").lines() if r["id"] == ref)["message_id"]
    assert str(mail["In-Reply-To"]) == original
    assert str(mail["References"]).split()[-1] == original
    assert shown_secrets(out.read_text(encoding="utf-8") + str(made["text"])) == []
    assert desk("journal", ref, "--json").lines()[-1]["action"] == "draft reply"
    assert desk("triage", "reply", ref, "--out", str(out)).code == 2


def test_the_archives_own_texts(desk: Desk) -> None:
    """A text in the archive's folder replies/ is used, a faulty one is named."""
    ref = open_with(desk, "fact_missing")  # the oldest, in German
    (desk.folder / "replies").mkdir(exist_ok=True)
    own = desk.folder / "replies" / "de.toml"
    own.write_text('closing = "Ring 020 7946 0000."\n', encoding="utf-8")
    assert "Ring 020 7946 0000." in desk("triage", "reply", ref).out
    own.write_text('closing = "{x}"\n', encoding="utf-8")
    faulty = desk("triage", "reply", ref)
    assert (faulty.code, "closing" in faulty.err) == (10, True)


def test_the_texts_to_start_from(desk: Desk) -> None:
    """The texts of each language are printed as a file that replies take as it is; those of the shop are named."""
    ref = open_with(desk, "attachment_missing")
    before = desk("triage", "reply", ref).out
    names = desk("triage", "texts").out.split()
    assert names == ["en", "de", "es", "fr", "it", "nl", "sv"]
    (desk.folder / "replies").mkdir(exist_ok=True)
    for name in names:
        text = desk("triage", "texts", name).out
        (desk.folder / "replies" / f"{name}.toml").write_text(text, encoding="utf-8")
        assert set(tomllib.loads(text)["questions"]) <= {k.partition(".")[2] for k in _texts(desk, name)}
    assert desk("triage", "reply", ref).out == before
    assert str(desk.folder / "replies" / "en.toml") in desk("triage", "texts").out
    assert desk("triage", "texts", "xx").code == 2


def _texts(desk: Desk, language: str) -> dict[str, str]:
    found = desk("triage", "texts", language, "--json").json()["texts"]
    assert isinstance(found, dict)
    return found


def test_sent_when_told_to(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a server in the settings and --yes it is sent, once, over TLS; the journal has it, and it stays open."""
    ref = open_with(desk, "attachment_missing")
    with server(tmp_path, "starttls", auth=True) as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        with_server(desk, running.port)
        made = desk("triage", "reply", ref, "--send", "--yes", "--json").json()
        (kept,) = running.kept.messages
    assert made["sent"] is True
    assert kept[:2] == ("support@thimblewick.example", [made["to"]])
    assert str(message_from_bytes(kept[2], policy=default)["Subject"]) == made["subject"]
    assert [line["action"] for line in desk("journal", ref, "--json").lines()] == ["send reply", "reply sent"]
    assert desk("triage", "show", ref, "--json").json()["standing"] == "open"
    assert f"A reply to {ref} was sent already" in " ".join(desk("triage", "reply", ref).out.split())


def test_not_sent_twice(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second reply to the same message is refused with 2 unless --again says so; --again alone says nothing."""
    ref = open_with(desk, "attachment_missing")
    with server(tmp_path, "starttls", auth=True) as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        with_server(desk, running.port)
        assert desk("triage", "reply", ref, "--send", "--yes").code == 0
        refused = desk("triage", "reply", ref, "--send", "--yes")
        assert (refused.code, "was sent already" in refused.err, "--again" in refused.err) == (2, True, True)
        assert len(running.kept.messages) == 1
        assert desk("triage", "reply", ref, "--send", "--yes", "--again").code == 0
        assert len(running.kept.messages) == 2
    assert desk("triage", "reply", ref, "--again").code == 2


def test_killed_while_sending(desk: Desk, tmp_path: Path) -> None:
    """Killed with the message in the server's hands, the next run says that it may have been sent, and sends nothing
    unless told to."""
    ref = open_with(desk, "attachment_missing")
    with server(tmp_path, "starttls", auth=True) as running:
        with_server(desk, running.port)
        running.kept.hold = True
        words = [sys.executable, "-m", "counterfoil", "triage", "reply", ref, "--send", "--yes"]
        env = own_environment(SSL_CERT_FILE=str(running.authority), COUNTERFOIL_ARCHIVE=str(desk.folder))
        sending = subprocess.Popen(words, env=env, stdout=subprocess.DEVNULL)
        deadline = time.monotonic() + PATIENCE_SECONDS
        while not running.kept.messages and time.monotonic() < deadline:
            time.sleep(0.02)
        sending.kill()
        sending.wait()
        running.kept.hold = False
        again = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
        assert again.returncode == 2
        assert "may have been sent" in again.stderr
        assert len(running.kept.messages) == 1
    assert [line["action"] for line in desk("journal", ref, "--json").lines()] == ["send reply"]


def test_an_unclear_end_is_told(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A server that breaks off with the message in its hands: 15, and it is not sent again by itself."""
    ref = open_with(desk, "attachment_missing")
    with server(tmp_path, "starttls", auth=True) as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        with_server(desk, running.port)
        running.kept.drop = True
        assert desk("triage", "reply", ref, "--send", "--yes").code == 15
        running.kept.drop = False
        assert desk("triage", "reply", ref, "--send", "--yes").code == 2
        assert len(running.kept.messages) == 1


def test_sent_only_when_somebody_says_so(desk: Desk, tmp_path: Path) -> None:
    """On a terminal it asks first: n sends nothing, y sends; only the second is in the journal."""
    ref = open_with(desk, "attachment_missing")
    with server(tmp_path, "starttls", auth=True) as running:
        with_server(desk, running.port)
        words = ("triage", "reply", ref, "--send", "--archive", str(desk.folder))
        for key, number in (("n", 0), ("y", 1)):
            with terminal(*words, SSL_CERT_FILE=str(running.authority)) as window:
                window.wait_for("y n > ")
                window.press(key)
                assert window.leave() == 0
                assert ("Not sent." in window.text) is (key == "n")
            assert len(running.kept.messages) == number
    assert [line["action"] for line in desk("journal", ref, "--json").lines()] == ["send reply", "reply sent"]


def test_not_sent(desk: Desk, tmp_path: Path) -> None:
    """Without a server, a terminal or a certificate nothing is sent; a failure is in the journal and leaves with 14."""
    ref = open_with(desk, "attachment_missing")
    assert desk("triage", "reply", ref, "--send", "--yes").code == 10
    assert desk("triage", "reply", ref, "--yes").code == 2
    assert desk("journal", ref, "--json").lines() == []
    with server(tmp_path, "starttls", auth=True) as running:
        with_server(desk, running.port)
        asked = desk("triage", "reply", ref, "--send")
        assert (asked.code, "--yes" in asked.err) == (2, True)
        refused = desk("triage", "reply", ref, "--send", "--yes")
        assert (refused.code, "certificate" in refused.err) == (14, True)
        assert running.kept.messages == []
    assert [line["action"] for line in desk("journal", ref, "--json").lines()] == ["send reply", "reply failed"]


# --- figures ------------------------------------------------------------------------------------------


def test_the_desks_figures(desk: Desk) -> None:
    """The weeks, the totals and the oldest question agree with the export."""
    data = desk("report", "desk", "--on", "2026-11-25", "--weeks", "200", "--json").json()
    messages = [r for r in desk("export").lines() if r["record"] == "message"]
    weeks, total = data["weeks"], data["total"]
    assert isinstance(weeks, list) and isinstance(total, dict)
    for standing in ("filed", "open", "aside"):
        number = sum(m["standing"] == standing for m in messages)
        assert total[standing] == number
        assert sum(week[standing] for week in weeks) == number
    assert total["touchless"] == pytest.approx(total["filed"] / (total["filed"] + total["open"]), abs=1e-4)
    oldest = min((str(m["received"]), m["id"]) for m in messages if m["standing"] == "open")[1]
    assert data["oldest_question"]["id"] == oldest  # type: ignore[index]
    page = desk("report", "desk", "--on", "2026-11-25", "--weeks", "3").out
    assert "2026-W48" in page and "2026-W46" in page and "2026-W45" not in page
    assert f"{oldest}." in page


def test_figures_as_csv(desk: Desk) -> None:
    """As CSV the weeks are what JSON has, with a head row, lines ending in CR LF (RFC 4180, section 2)."""
    words = ("report", "desk", "--on", "2026-11-25", "--weeks", "60")
    text = desk(*words, "--csv").out
    weeks = desk(*words, "--json").json()["weeks"]
    assert isinstance(weeks, list)
    read = list(csv.DictReader(io.StringIO(text, newline="")))
    assert read == [{k: "" if v is None else str(v) for k, v in week.items()} for week in weeks]
    assert text.count("\r\n") == 61
    assert desk(*words, "--csv", "--json").code == 2


def test_figures_of_an_empty_archive(empty: Desk) -> None:
    """Without mail the table is there, and nothing is open."""
    assert empty("report", "desk").out.endswith("Nothing is open.\n")
