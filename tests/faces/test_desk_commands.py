"""Whole groups and their rules, replies to senders, and the desk's figures, on the command line."""

from __future__ import annotations

from email import message_from_bytes
from email.policy import default
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty, shown_secrets
from pty_world import terminal
from smtp_world import PASSWORD, USER, server

from counterfoil.records.originals import Originals

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
    ref = open_with(desk, "fact_missing")
    (desk.folder / "replies").mkdir()
    own = desk.folder / "replies" / "en.toml"
    own.write_text('closing = "Ring 020 7946 0000."\n', encoding="utf-8")
    assert "Ring 020 7946 0000." in desk("triage", "reply", ref).out
    own.write_text('closing = "{x}"\n', encoding="utf-8")
    faulty = desk("triage", "reply", ref)
    assert (faulty.code, "closing" in faulty.err) == (10, True)


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
    assert desk("journal", ref, "--json").lines()[-1]["action"] == "send reply"
    assert desk("triage", "show", ref, "--json").json()["standing"] == "open"
    assert "A reply was sent already" in desk("triage", "reply", ref).out


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
    assert [line["action"] for line in desk("journal", ref, "--json").lines()] == ["send reply"]


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


def test_figures_of_an_empty_archive(empty: Desk) -> None:
    """Without mail the table is there, and nothing is open."""
    assert empty("report", "desk").out.endswith("Nothing is open.\n")
