"""Customer lists and reading anew on whole archives: sizes, patterns that come and go, decisions that stand, kills."""

from __future__ import annotations

import csv
import io
import os
import shutil
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest
from confirmations import confirmations
from conftest import ROOT, SAMPLES, TEXT_LETTERS, sample_archive
from customer_lists import make_list

from counterfoil import pipeline, upkeep
from counterfoil.answers.customer_list import customer_table
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive
from counterfoil.errors import SettlementRefused
from counterfoil.model import Kind, MessageRecord, Standing
from counterfoil.sources.customer_list import read_customer_list

MAIL = [*map(str, TEXT_LETTERS), str(SAMPLES / "old.mbox"), str(SAMPLES / "Maildir")]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make an archive with the samples in it, read without any maker's file."""
    folder = tmp_path_factory.mktemp("plain") / "archive"
    archive = sample_archive(folder)
    for path in (folder / "patterns").glob("*.toml"):
        path.unlink()
    pipeline.ingest(archive, MAIL)
    archive.close()
    return folder


@pytest.fixture
def old(plain: Path, tmp_path: Path) -> Archive:
    """Give a copy of that archive, with the makers' files added since."""
    shutil.copytree(plain, tmp_path / "archive")
    for path in (SAMPLES / "patterns").glob("*.toml"):
        shutil.copy(path, tmp_path / "archive" / "patterns" / path.name)
    return Archive(tmp_path / "archive")


def reread(archive: Archive, **options: object) -> upkeep.RereadReport:
    """Read anew."""
    return upkeep.reread(archive, who="Ada", why="new files", **options)  # type: ignore[arg-type]


def state(archive: Archive) -> list[tuple[object, ...]]:
    """Return what can be seen of all messages, but the numbers of rows."""
    return [_state(message) for message in archive.store.messages()]


def _state(m: MessageRecord) -> tuple[object, ...]:
    facts = sorted((n.fact.kind, n.fact.normal, n.fact.pattern, n.chosen, n.confirmed) for n in m.facts)
    return m.id, m.standing, m.customer, m.machine, m.questions, facts, tuple(d.text for d in m.documents)


def without(archive: Archive, *names: str) -> Archive:
    """Take makers' files away and open the archive anew."""
    archive.close()
    for path in (archive.folder / "patterns").glob("*.toml"):
        if not names or path.stem in names:
            path.unlink()
    return Archive(archive.folder)


def test_a_dry_run_shows_what_a_run_does(old: Archive) -> None:
    """Without writing nothing changes, and what is shown is what a run that writes does, message by message."""
    before = state(old)
    dry = reread(old)
    assert (state(old), old.store.journal(), dry.journal) == (before, [], None)
    done = reread(old, write=True)
    assert [c.to_json() for c in dry.changes] == [c.to_json() for c in done.changes]
    assert state(old) != before
    (entry,) = old.store.journal()
    assert (entry.id, entry.action, entry.who, entry.why) == (done.journal, "reread", "Ada", "new files")
    assert entry.detail["changed"] == [c.to_json() for c in done.changes if c.seen]


def test_reading_anew_gives_what_a_fresh_archive_has(old: Archive, tmp_path: Path) -> None:
    """After reading anew with the makers' files, as many messages are filed as in an archive that had them from the
    start; index and records are whole, and a second run changes nothing."""
    fresh = sample_archive(tmp_path / "fresh")
    pipeline.ingest(fresh, MAIL)
    reread(old, write=True)
    assert len(old.store.messages(Standing.FILED)) >= len(fresh.store.messages(Standing.FILED))
    assert verify(old.store, old.originals, old.index).findings == ()
    again = reread(old, write=True)
    assert (again.changes, again.journal) == ([], None)
    texts = {m.sha256: [d.text for d in m.documents] for m in fresh.store.messages()}
    assert {m.sha256: [d.text for d in m.documents] for m in old.store.messages()} == texts
    fresh.close()


def test_questions_that_answer_themselves_close(old: Archive) -> None:
    """A message that waited and can be read with the makers' files is filed, and its questions are answered."""
    report = reread(old, write=True)
    filed = [c for c in report.changes if c.before is Standing.OPEN and c.after is Standing.FILED]
    assert filed
    for change in filed:
        message = old.store.message(change.id)
        assert change.answered
        assert (message.questions, message.customer, message.machine) == ((), change.customer, change.machine)
        assert message.customer is not None
        assert message.id in old.store.customer(message.customer).messages


def test_a_filed_value_never_changes_silently(old: Archive) -> None:
    """Where the patterns no longer find what is filed, or find another value, the value stays in the profile and the
    message gets a question that covers codes."""
    reread(old, write=True)
    before = {m.id: m for m in old.store.messages(Standing.FILED)}
    machines = {m.id: m for m in old.store.machines()}
    archive = without(old)
    report = reread(archive, write=True)
    opened = [c for c in report.changes if c.before is Standing.FILED and c.after is Standing.OPEN]
    assert opened
    for change in opened:
        message, was = archive.store.message(change.id), before[change.id]
        assert (message.customer, message.machine) == (was.customer, was.machine)
        assert {q.code for q in message.questions} == {"code_conflict"}
        assert {q.sentence for q in message.questions} == set(change.asked)
    for number, machine in machines.items():
        now = archive.store.machine(number)
        codes = [(n.fact.kind, n.fact.normal) for n in machine.facts if n.fact.kind is not Kind.UPGRADE_NAME]
        assert [(n.fact.kind, n.fact.normal) for n in now.facts if n.fact.kind is not Kind.UPGRADE_NAME] == codes
    keys = {u.activation_code.fact.value for m in machines.values() for u in m.upgrades if u.activation_code}
    assert not [s for c in report.changes for s in c.asked for key in keys if key in s]


def test_a_question_of_reading_anew_goes_when_the_patterns_come_back(old: Archive) -> None:
    """With the old files put back, what was asked is answered by itself, and the messages are filed as before."""
    reread(old, write=True)
    filed = {m.id for m in old.store.messages(Standing.FILED)}
    archive = without(old)
    reread(archive, write=True)
    assert {m.id for m in archive.store.messages(Standing.FILED)} < filed
    archive.close()
    for path in (SAMPLES / "patterns").glob("*.toml"):
        shutil.copy(path, archive.folder / "patterns" / path.name)
    archive = Archive(archive.folder)
    reread(archive, write=True)
    assert {m.id for m in archive.store.messages(Standing.FILED)} == filed


def test_what_a_person_decided_stands(old: Archive) -> None:
    """A message put aside stays aside, a value that was corrected or dropped stays so, a customer chosen stays; undoing
    those settlements still works afterwards."""
    waiting = [m.id for m in old.store.messages(Standing.OPEN)]
    aside = pipeline.settle(old, waiting[0], aside=True, who="Ada", why="")
    filed = next(m for m in old.store.messages(Standing.FILED) if m.facts)
    corrected = pipeline.settle(
        old, filed.id, customer=filed.customer, machine=filed.machine,
        values=[(Kind.UPGRADE_NAME, "Own name")], drop=[Kind.MODEL], sure=True, who="Ada", why="",
    )  # fmt: skip
    customer = corrected.message.customer
    reread(old, write=True)
    assert old.store.message(waiting[0]).standing is Standing.ASIDE
    message = old.store.message(filed.id)
    chosen = {n.fact.kind: n for n in message.facts if n.chosen}
    assert (message.standing, message.customer) == (Standing.FILED, customer)
    assert (chosen[Kind.UPGRADE_NAME].fact.value, chosen[Kind.UPGRADE_NAME].confirmed) == ("Own name", True)
    assert Kind.MODEL not in chosen
    pipeline.undo(old, aside.journal, who="Ada", why="")
    assert old.store.message(waiting[0]).standing is Standing.OPEN


def test_what_a_person_says_to_a_question_stands(old: Archive) -> None:
    """A person who keeps the filed value is not asked again: the message is filed to the same customer and machine, and
    the next run leaves it so."""
    reread(old, write=True)
    archive = without(old)
    opened = [c for c in reread(archive, write=True).changes if c.before is Standing.FILED and c.after is Standing.OPEN]
    asked = [c for c in opened if len(c.asked) == 1 and "machine ID" in c.asked[0]]
    assert asked
    was = archive.store.message(asked[0].id)
    kept = next(n.fact.value for n in was.facts if n.chosen and n.fact.kind is Kind.MACHINE_ID)
    with pytest.raises(SettlementRefused, match="already"):
        pipeline.settle(archive, was.id, customer="new", values=[(Kind.MACHINE_ID, kept)], who="Ada", why="")
    settled = pipeline.settle(archive, was.id, values=[(Kind.MACHINE_ID, kept)], who="Ada", why="").message
    assert (settled.standing, settled.customer, settled.machine) == (Standing.FILED, was.customer, was.machine)
    reread(archive, write=True)
    again = archive.store.message(was.id)
    assert (again.standing, again.customer, again.machine) == (Standing.FILED, was.customer, was.machine)
    assert again.questions == ()


def test_since_and_maker_narrow_the_run(old: Archive) -> None:
    """Only messages received since the day, or of the maker, are touched."""
    maker = next(m.name for m in old.patterns.makers)
    days = sorted(m.received or m.kept for m in old.store.messages())
    middle = days[len(days) // 2][:10]
    late = {c.id for c in reread(old, since=date.fromisoformat(middle)).changes}
    assert late
    assert all((old.store.message(ref).received or old.store.message(ref).kept) >= middle for ref in late)
    mine = reread(old, maker=maker.upper(), write=True)
    makers = {_maker(old.store.message(c.id)) for c in mine.changes}
    assert makers == {maker}
    assert 0 < len(mine.changes) < len(reread(old).changes) + len(mine.changes)


def _maker(message: MessageRecord) -> str | None:
    return next((n.fact.normal for n in message.facts if n.chosen and n.fact.kind is Kind.MAKER), None)


def test_a_damaged_original_is_named_and_left(old: Archive) -> None:
    """A message whose original is damaged is named and stays as it was; all others are read."""
    message = old.store.messages()[0]
    path = next((old.folder / "originals").rglob(f"*{message.sha256[4:]}*"))
    path.chmod(0o600)
    path.write_bytes(b"other bytes")
    before = _state(message)
    report = reread(old, write=True)
    assert len(report.problems) == 1
    assert report.problems[0].startswith(message.id)
    assert _state(old.store.message(message.id)) == before
    assert report.read == old.store.message_count() - 1


def test_the_index_finds_what_is_read_now(old: Archive) -> None:
    """After a run the index stands at the revision of the records."""
    reread(old, write=True)
    assert old.index.position() == old.store.revision()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL; the transaction is the same there")
def test_a_kill_leaves_every_message_old_or_new(plain: Path, tmp_path: Path) -> None:
    """Killed at several moments, a run leaves the state before or the state after, and whole records."""
    expected: list[list[tuple[object, ...]]] = []
    for number, delay in enumerate((None, 0.9, 1.3, 1.7)):
        folder = tmp_path / f"archive{number}"
        shutil.copytree(plain, folder)
        for path in (SAMPLES / "patterns").glob("*.toml"):
            shutil.copy(path, folder / "patterns" / path.name)
        if not expected:
            archive = Archive(folder)
            expected.append(state(archive))
        command = [sys.executable, "-m", "counterfoil", "reread", "--write", "--json", "--archive", str(folder)]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
        if delay is not None:
            time.sleep(delay)
            if process.poll() is None:
                os.kill(process.pid, signal.SIGKILL)
        process.wait(60)
        archive = Archive(folder)
        found = state(archive)
        if delay is None:
            expected.append(found)
        assert found in expected
        assert archive.store.integrity() == []
        assert archive.store.journal_break() is None
        assert len(archive.store.journal()) == expected.index(found)
        archive.close()
    assert expected[0] != expected[1]


def test_more_than_one_batch_is_read_anew_in_order(tmp_path: Path) -> None:
    """Reading 200 messages anew tells how far it is after each, and that nothing changed."""
    box = tmp_path / "box"
    box.mkdir()
    for n, confirmation in enumerate(confirmations(200, pdf_share=0.02)):
        (box / f"{n:03}.eml").write_bytes(confirmation.data)
    archive = Archive.create(tmp_path / "archive", shop_name="Many")
    pipeline.ingest(archive, [str(box)])
    reread(archive, write=True)
    steps: list[tuple[int, int]] = []
    report = reread(archive, write=True, progress=lambda done, every: steps.append((done, every)))
    assert (report.read, report.changes) == (200, [])
    assert steps == [(number, 200) for number in range(1, 201)]
    archive.close()


# --- customer lists ---------------------------------------------------------------------------------


def test_a_long_list_names_all_bad_rows_and_is_taken_once(tmp_path: Path) -> None:
    """Of 2,000 rows with 40 bad ones just these are named; the second import changes nothing; undo takes all back."""
    made = make_list(2_000, 40)
    path = tmp_path / "list.csv"
    path.write_bytes(made.text.encode("utf-8", errors="surrogateescape"))
    archive = Archive.create(tmp_path / "archive", shop_name="List")
    listed = read_customer_list(path, mapping=[("name", "Kundin")])
    first = upkeep.import_customers(archive, listed, write=True, who="Ada", why="")
    assert tuple(row.line for row in first.bad) == made.bad
    assert len(first.new) + len(first.merged) + len(first.questions) + first.same == made.good
    assert len(archive.store.customers()) == len(first.new) > 0.98 * made.good
    second = upkeep.import_customers(archive, listed, write=True, who="Ada", why="")
    assert (second.changes, second.journal, second.same) == (
        False,
        None,
        len(first.new) + len(first.merged) + first.same,
    )
    assert [q.line for q in second.questions] == [q.line for q in first.questions]
    pipeline.undo(archive, str(first.journal), who="Ada", why="")
    assert archive.store.customers() == []
    archive.close()


def test_an_export_read_into_a_new_archive_gives_the_same_customers(tmp_path: Path) -> None:
    """All customers of the samples, look-alikes and households included, are the same customers after export and import
    into an archive of another country."""
    archive = sample_archive(tmp_path / "archive")
    pipeline.ingest(archive, MAIL)
    upkeep.import_customers(
        archive, read_customer_list(SAMPLES / "customers.csv"), write=True, who="Ada", why="", distinct=True
    )
    out = io.StringIO(newline="")
    csv.writer(out).writerows(customer_table(archive.store))
    path = tmp_path / "out.csv"
    path.write_text(out.getvalue(), encoding="utf-8", newline="")
    other = Archive.create(tmp_path / "other", shop_name="Other", region="SE")
    report = upkeep.import_customers(other, read_customer_list(path), write=True, distinct=True, who="Ada", why="")
    assert (report.questions, report.bad, report.merged) == ([], [], [])
    assert customers(other) == customers(archive)
    archive.close()
    other.close()


def customers(archive: Archive) -> list[list[tuple[Kind, str]]]:
    """Return what is known of each customer, in normal form."""
    return sorted(sorted({(n.fact.kind, n.fact.normal) for n in c.facts}) for c in archive.store.customers())


def test_an_exported_name_is_no_formula(tmp_path: Path) -> None:
    """A name or address that a spreadsheet would calculate is written with an apostrophe, and read back without."""
    archive = Archive.create(tmp_path / "archive", shop_name="Formula")
    path = tmp_path / "list.csv"
    path.write_text("name,phone\n=HYPERLINK(0) Ilse,+44 20 7946 0101\n", encoding="utf-8")
    upkeep.import_customers(archive, read_customer_list(path), write=True, who="Ada", why="")
    header, row = customer_table(archive.store)
    assert (header, row) == (("name", "email", "phone", "address"), ("'=HYPERLINK(0) Ilse", "", "+442079460101", ""))
    out = io.StringIO(newline="")
    csv.writer(out).writerows([header, row])
    path.write_text(out.getvalue(), encoding="utf-8", newline="")
    assert upkeep.import_customers(archive, read_customer_list(path), write=True, who="Ada", why="").same == 1
    archive.close()
