"""The hostile set taken in as mail is: bounded, kept, and the next good message files."""

from __future__ import annotations

import hashlib
import random
import resource
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from conftest import SAMPLES, sample_archive
from forward_styles import Inner, dashed
from hostile_cut import lengths_in_each_other, object_stream_bomb, object_stream_flood
from hostile_files import mail
from hostile_set import HEAVY, LIGHT, Make
from odd_mail import SYLLABLES

from counterfoil import pipeline
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive
from counterfoil.documents.attachments import attachments
from counterfoil.documents.message import read_message
from counterfoil.documents.opening import Opening
from counterfoil.model import Standing
from counterfoil.patterns import Patterns
from counterfoil.sandbox.pool import Worker
from counterfoil.sandbox.reader import Task
from counterfoil.sandbox.wire import Json
from counterfoil.settings import Limits, Settings
from counterfoil.sources import Received

LIMITS = Limits()
#: Times a message with one file is given to a reader, each under the reader's own clock: whole, bare, the file, again.
MOST_TRIES = 4
#: What the run itself may take over all cases, in bytes: it never opens a hostile file.
RUN_BYTES = 600_000_000
LETTERS = sorted((SAMPLES / "mailbox").glob("*.eml"))


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """One archive for all cases: what one leaves behind, the next one meets."""
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "tmp").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        # Only what these readers leave behind is looked for, not what others on this machine do.
        patch.setenv("TMPDIR", str(folder / "tmp"))
        patch.setattr(tempfile, "tempdir", str(folder / "tmp"))
        made = sample_archive(folder / "shop")
        yield made
        made.close()


def good(number: int) -> bytes:
    """Return a confirmation like no other."""
    rng = random.Random(number)
    given, family = ("".join(rng.choice(SYLLABLES) for _ in range(3)).capitalize() for _ in range(2))
    to = (f"{given} {family}", f"{given}.{family}@letterbox.example".lower())
    machine, key, code = ("".join(rng.choice("2345679ACDEFGHJKLMNPRTUVWY") for _ in range(12)) for _ in range(3))
    text = f"Machine ID: Z3{machine}\nProduct key: Q7{key}\nActivation code: 4R{code}\n"
    inner = replace(Inner(), sender=("Upgrades", "noreply@upgrades.example"), to=(to,), text=text)
    head = f"From: {to[0]} <{to[1]}>\nTo: desk@naht.example\nSubject: Fwd: Your activation code\n"
    return f"{head}Date: Wed, 5 Mar 2025 08:00:00 +0000\n\nPlease keep.\n\n{dashed('en', inner)}".encode()


def _peak(whose: int) -> int:
    """Return the most memory held so far, in bytes; other tests of the same process may have held more."""
    return resource.getrusage(whose).ru_maxrss * 1024


@contextmanager
def counted() -> Iterator[list[bool]]:
    """Note each time a reading process is asked: whether it lived to answer."""
    tries: list[bool] = []
    honest = Worker.ask

    def ask(self: Worker, wanted: Json, data: bytes) -> Json:
        tries.append(False)
        answer = honest(self, wanted, data)
        tries[-1] = True
        return answer

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Worker, "ask", ask)
        yield tries


def _take(archive: Archive, tmp_path: Path, name: str, make: Make) -> list[bool]:
    """Take a case in; return of each try at it whether its reader lived."""
    path = tmp_path / name
    path.write_bytes(make())
    before = _peak(resource.RUSAGE_SELF)
    with counted() as tries:
        report = pipeline.ingest(archive, [str(path)])
    assert len(tries) <= MOST_TRIES * report.received
    assert report.received == report.new + report.unreadable > 0
    if path.suffix == ".eml":
        assert report.new == 1
        data = path.read_bytes()
        assert archive.originals.read(hashlib.sha256(data).hexdigest()) == data
        assert archive.store.message(report.messages[0]).standing is not Standing.FILED
    assert list(Path(tempfile.gettempdir()).iterdir()) == []
    path.write_bytes(good(archive.store.message_count()))
    assert pipeline.ingest(archive, mail=[Received(path.read_bytes(), "next.eml")]).filed == 1
    assert _peak(resource.RUSAGE_SELF) <= max(before, RUN_BYTES)
    return tries


def test_the_set_is_large() -> None:
    """There are at least 40 cases, none of them twice."""
    assert len(LIGHT) + len(HEAVY) >= 40
    assert not LIGHT.keys() & HEAVY.keys()


@pytest.mark.long
@pytest.mark.parametrize("name", LIGHT)
def test_what_is_hostile_is_bounded(archive: Archive, tmp_path: Path, name: str) -> None:
    """It is kept byte for byte and not filed, no reader ends over it, no file is left over, the next one files."""
    assert all(_take(archive, tmp_path, name, LIGHT[name]))


@pytest.mark.long
@pytest.mark.parametrize("name", HEAVY)
def test_what_ends_its_reader_is_bounded(archive: Archive, tmp_path: Path, name: str) -> None:
    """The same holds for what a reading process does not survive, or takes seconds over."""
    before = _peak(resource.RUSAGE_CHILDREN)
    _take(archive, tmp_path, name, HEAVY[name])
    assert _peak(resource.RUSAGE_CHILDREN) <= max(before, LIMITS.reader_bytes, LIMITS.picture_memory_bytes)


@pytest.mark.long
@pytest.mark.parametrize("make", [object_stream_bomb, object_stream_flood, lengths_in_each_other])
def test_a_confirmation_with_a_swelling_pdf_files(archive: Archive, make: Make) -> None:
    """What swells only once it is mended keeps neither the text beside it nor its own page from being read."""
    number = 1_000_000 + archive.store.message_count()
    beside = good(number).partition(b"\n\n")[2].decode()
    sender = good(number).partition(b"From: ")[2].partition(b"\n")[0]
    data = mail(("thanks.pdf", make()), text=beside)
    data = data.replace(b"Marit Solvang <marit@letterbox.example>", sender)
    report = pipeline.ingest(archive, mail=[Received(data, "swelling.eml")])
    assert report.filed == 1
    assert archive.store.message(report.messages[0]).standing is Standing.FILED
    read, _ = next(archive.reader.read([Task(hashlib.sha256(data).hexdigest(), data)], apart=True))
    assert any(d.name == "pdf:thanks.pdf" and d.text == "Thank you for the machine" for d in read.documents)


@pytest.mark.long
def test_the_archive_is_whole_after_all(archive: Archive, tmp_path: Path) -> None:
    """After the lot, originals, records, journal and index agree."""
    _take(archive, tmp_path, "zero bytes.eml", lambda: LIGHT["zero bytes.eml"]() + b"again")
    assert verify(archive.store, archive.originals, archive.index).findings == ()


# --- cut off and changed ----------------------------------------------------------------------------------------------

PLACES = 20
_PUT_IN = (b"\r\n", b"\n\n", b"\0", b"--", b"=?utf-8?b?", b"\xff\xfe", b";", b'"', b"<")


def _survives(data: bytes, patterns: Patterns) -> bool:
    """Read a message without its files; say whether no fault came as far as the last net."""
    message = read_message(data, LIMITS, opening=Opening(frozenset()))
    patterns.read(message, Settings())
    return not any("nested too deeply" in defect for defect in message.defects)


@pytest.mark.long
def test_samples_cut_off_anywhere() -> None:
    """Every sample, cut off at 20 places, is read without a fault."""
    patterns = Patterns.load(SAMPLES / "patterns")
    failed = []
    for path in LETTERS:
        data = path.read_bytes()
        for number in range(1, PLACES + 1):
            if not _survives(data[: len(data) * number // (PLACES + 1)], patterns):
                failed.append((path.name, number))
    assert failed == []


def mutate(data: bytes, rng: random.Random) -> bytes:
    """Change a message at a few places: bytes flipped, cut out, doubled, put in, or taken from elsewhere in it."""
    changed = bytearray(data)
    for _ in range(rng.randint(1, 12)):
        at = rng.randrange(len(changed) + 1)
        length = rng.choice((1, 1, 2, 8, 40, 300))
        match rng.randrange(5):
            case 0 if at < len(changed):
                changed[at] = rng.randrange(256)
            case 1:
                del changed[at : at + length]
            case 2:
                changed[at:at] = changed[at : at + length]
            case 3:
                changed[at:at] = rng.choice(
                    (b"\r\n", b"\n\n", b"\0", b"--", b"=?utf-8?b?", b"\xff\xfe", b";", b'"', b"<")
                )
            case _:
                other = rng.randrange(len(changed) + 1)
                changed[at : at + length] = changed[other : other + length]
    return bytes(changed)


@pytest.mark.long
def test_samples_changed_at_random() -> None:
    """Two thousand changed samples are read without a fault."""
    rng, patterns = random.Random(20260303), Patterns.load(SAMPLES / "patterns")
    samples = [path.read_bytes() for path in LETTERS]
    failed = [n for n in range(2_000) if not _survives(mutate(rng.choice(samples), rng), patterns)]
    assert failed == []


@pytest.mark.long
def test_pdfs_changed_at_random(tmp_path: Path) -> None:
    """Three hundred changed and cut PDFs end no run, and the message around each is read."""
    rng = random.Random(20260304)
    papers = [data for p in LETTERS for _, data in attachments(p.read_bytes(), LIMITS) if data.startswith(b"%PDF-")]
    mails = []
    for _ in range(300):
        data = rng.choice(papers)
        mails.append(mail(("a.pdf", mutate(data, rng) if rng.random() < 0.7 else data[: rng.randrange(len(data))])))
    made = sample_archive(tmp_path / "shop")
    try:
        read = list(made.reader.read([Task(hashlib.sha256(data).hexdigest(), data) for data in mails]))
    finally:
        made.close()
    assert len(read) == 300
    assert all(message.documents[0].text.startswith("See the files.") for message, _ in read)
    assert all(any(d.name == "pdf:a.pdf" for d in message.documents) for message, _ in read)
