"""Ingest beside its floor: the same mail through the bare libraries, in the same run.

    python tests/bench/bench_ingest.py [--messages 500] [--rounds 3]

Floor: mail-parser parses, pdfium gives the text of each PDF, the original is written with the same syncs, one SQLite
transaction a message (WAL, synchronous FULL), one whoosh document a message. No facts, no filing, no questions.
Plain way: the same with pdfplumber (text and tables) in place of pdfium.
The rounds take turns, so that a machine whose speed drifts does not favour one; the median round is printed.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import os
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
warnings.filterwarnings("ignore", module="whoosh")

import mailparser
import pdfplumber
import pypdfium2
from confirmations import confirmations
from sqlcipher3 import dbapi2
from whoosh import fields, index

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.durable import sync_folder

PdfText = Callable[[bytes], str]


def pdfium_text(data: bytes) -> str:
    """Return a PDF's text as pdfium gives it."""
    document = pypdfium2.PdfDocument(data)
    try:
        return "\n".join(document[n].get_textpage().get_text_range() for n in range(len(document)))
    finally:
        document.close()


def plumber_text(data: bytes) -> str:
    """Return a PDF's text and the cells of its tables as pdfplumber gives them."""
    with pdfplumber.open(io.BytesIO(data)) as document:
        parts = []
        for page in document.pages:
            parts.append(page.extract_text() or "")
            parts.extend(" ".join(cell or "" for cell in row) for table in page.extract_tables() for row in table)
            page.close()
    return "\n".join(parts)


def bare(folder: Path, mails: Sequence[bytes], pdf_text: PdfText) -> float:
    """Do the bare work and return the seconds."""
    start = time.perf_counter()
    (folder / "originals").mkdir(parents=True)
    (folder / "index").mkdir()
    base = dbapi2.connect(str(folder / "bare.db"), isolation_level=None)
    base.execute("pragma journal_mode=wal")
    base.execute("pragma synchronous=full")
    base.execute(
        "create table message (id integer primary key, sha256 text unique, subject text, sender text, at text)"
    )
    base.execute("create table document (message integer, name text, text text)")
    schema = fields.Schema(id=fields.ID(stored=True), subject=fields.TEXT, sender=fields.TEXT, body=fields.TEXT)
    writer = index.create_in(str(folder / "index"), schema).writer()
    for data in mails:
        sha256 = _keep(folder / "originals", data)
        mail = mailparser.parse_from_bytes(data)
        texts = [("body", "\n".join(mail.text_plain or mail.text_html))]
        for part in mail.message.walk():
            if part.get_content_type() == "application/pdf":
                texts.append(("pdf", pdf_text(part.get_payload(decode=True))))
        sender = " ".join(mail.from_[0]) if mail.from_ else ""
        base.execute("begin immediate")
        row = base.execute(
            "insert into message values (null, ?, ?, ?, ?)", (sha256, mail.subject, sender, str(mail.date))
        )
        base.executemany("insert into document values (?, ?, ?)", [(row.lastrowid, *text) for text in texts])
        base.execute("commit")
        writer.add_document(
            id=str(row.lastrowid), subject=mail.subject, sender=sender, body="\n".join(t for _, t in texts)
        )
    writer.commit()
    base.close()
    return time.perf_counter() - start


def _keep(folder: Path, data: bytes) -> str:
    sha256 = hashlib.sha256(data).hexdigest()
    temporary = folder / f"{sha256}.tmp"
    with temporary.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    temporary.rename(folder / sha256)
    sync_folder(folder)
    return sha256


def ours(folder: Path, mails: Sequence[bytes]) -> float:
    """Ingest the same mails and return the seconds, opening of the archive's parts included."""
    box = folder / "box"
    box.mkdir(parents=True)
    for n, data in enumerate(mails):
        (box / f"{n:06}.eml").write_bytes(data)
    archive = Archive.create(folder / "archive", shop_name="Bench")
    start = time.perf_counter()
    report = pipeline.ingest(archive, [str(box)])
    seconds = time.perf_counter() - start
    assert report.new == len(mails), report
    archive.close()
    return seconds


def measure(mails: Sequence[bytes], rounds: int) -> dict[str, float]:
    """Return the median seconds of each way over some rounds that take turns."""
    ways: dict[str, Callable[[Path], float]] = {
        "counterfoil": lambda folder: ours(folder, mails),
        "floor": lambda folder: bare(folder, mails, pdfium_text),
        "plain": lambda folder: bare(folder, mails, plumber_text),
    }
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            with tempfile.TemporaryDirectory() as folder:
                seconds[name].append(way(Path(folder) / name))
    return {name: statistics.median(values) for name, values in seconds.items()}


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    for title, share, full_pages in (
        ("half with a full page as PDF", 0.5, 1.0),
        ("all with a full page as PDF", 1.0, 1.0),
        ("all with a short page as PDF", 1.0, 0.0),
    ):
        mails = [c.data for c in confirmations(arguments.messages, pdf_share=share, full_pages=full_pages)]
        result = measure(mails, arguments.rounds)
        print(f"{len(mails)} messages, {title}, median of {arguments.rounds}:")
        for name, value in result.items():
            print(f"  {name:12} {value:7.2f} s  {1000 * value / len(mails):6.2f} ms a message")
        print(f"  counterfoil / floor = {result['counterfoil'] / result['floor']:.2f}")
        print(f"  plain / counterfoil = {result['plain'] / result['counterfoil']:.2f}")


if __name__ == "__main__":
    main()
