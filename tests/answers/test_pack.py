"""A pack for the maker: which messages go into it, its list of hashes, and the setting of its summary."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from random import Random

import pypdfium2
import pytest
from answers_world import MARIT, TRADED_IN, Desk, machine, noted
from PIL import Image

from counterfoil.answers.coverage import Term
from counterfoil.answers.pack import Tools, manifest, write_pack
from counterfoil.answers.pack_evidence import Exhibit, Mark, decisive
from counterfoil.answers.pack_pdf import Summary, make_summary
from counterfoil.answers.pack_picture import spread
from counterfoil.answers.warranty import STANDING_NOTE, assess, warranty
from counterfoil.documents.message import read_message
from counterfoil.errors import NeedsALook, StorageFull, UsageProblem
from counterfoil.model import CustomerProfile, Kind, Place
from counterfoil.records.handover import hand_over
from counterfoil.records.settling import settle
from counterfoil.settings import Limits

ON = date(2025, 12, 1)
TERMS = (Term("machine", 24, number=1), Term("motor", 120, first_holder=True, number=2))
TOOLS = Tools(
    lambda _: b"", lambda data: read_message(data, Limits()), lambda *_: None, lambda _: [("Bestätigung.pdf", b"%PDF-")]
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive in which Marit's machine went to Tobias, with a message of each."""
    desk = Desk(tmp_path / "archive")
    desk.confirm(MARIT)
    second = desk.confirm(TRADED_IN, day="2025-06-12")
    settle(desk.store, desk.settings, second, customer="new", machine="M1", who="anna", why="traded in")
    return desk


def pack(desk: Desk, path: Path, **more: object) -> tuple[str, ...]:
    """Write a pack of the first machine; return the messages in it and the sentences on those left out."""
    answer = warranty(desk.store, TERMS, "M1", ON)
    options = {"shop_name": "Tidewheel Sewing", "made": ON, "who": "anna", "reason": "claim"} | more
    tools = replace(TOOLS, read_original=desk.originals.read)
    done = write_pack(desk.store, answer, path, tools, **options)  # type: ignore[arg-type]
    return (*done.messages, *done.left_out)


def test_only_the_present_holders_messages_go_in(desk: Desk, tmp_path: Path) -> None:
    """The former holder's mail stays with the shop, and is named with what it holds."""
    assert pack(desk, tmp_path / "claim.zip") == (
        "E2",
        "E1 came from a former holder and is not in this pack; it holds the purchase date.",
    )
    names = unzip(tmp_path / "claim.zip", tmp_path / "out")
    assert sorted(names) == [
        "READ-ME.txt", "SHA256SUMS", "originals/E2-Bestatigung.pdf", "originals/E2.eml", "summary.pdf",
    ]  # fmt: skip
    original = desk.originals.read(desk.store.message("E2").sha256)
    assert (tmp_path / "out" / "M1-warranty" / "originals" / "E2.eml").read_bytes() == original
    everything = b"".join(path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file())
    assert b"marit@solvang.example" not in everything
    text = text_of((tmp_path / "out" / "M1-warranty" / "summary.pdf").read_bytes())
    assert "Tobias Renn" in text
    assert "Marit" not in text


def test_the_journal_has_it_before_the_file(desk: Desk, tmp_path: Path) -> None:
    """Who, why, which messages and the hash of the pack stand in the journal; a file that cannot be written too."""
    pack(desk, tmp_path / "claim.zip")
    line = desk.store.journal(subject="M1")[-1]
    assert (line.action, line.who, line.why, line.detail["messages"]) == ("pack", "anna", "claim", ["E2"])
    assert line.detail["sha256"] == hashlib.sha256((tmp_path / "claim.zip").read_bytes()).hexdigest()
    with pytest.raises(StorageFull):
        pack(desk, tmp_path / "no-folder" / "claim.zip")
    assert [line.action for line in desk.store.journal(subject="M1")] == ["pack", "pack"]


def test_without_a_reason_nothing_is_made(desk: Desk, tmp_path: Path) -> None:
    """Originals show codes: without a reason the pack is refused, nothing is written and nothing noted."""
    before = len(desk.store.journal())
    with pytest.raises(UsageProblem, match="codes in clear"):
        pack(desk, tmp_path / "claim.zip", reason=" ")
    assert not (tmp_path / "claim.zip").exists()
    assert len(desk.store.journal()) == before


def test_nothing_is_overwritten(desk: Desk, tmp_path: Path) -> None:
    """A file that is there stays as it is."""
    (tmp_path / "claim.zip").write_bytes(b"mine")
    with pytest.raises(UsageProblem, match="there already"):
        pack(desk, tmp_path / "claim.zip")
    assert (tmp_path / "claim.zip").read_bytes() == b"mine"


def test_a_machine_of_nobody_has_no_pack(desk: Desk, tmp_path: Path) -> None:
    """A pack is made of what the present holder sent; where nobody is, there is none, and none of a former one's."""
    hand_over(desk.store, desk.settings, "M1", "nobody", on=date(2025, 11, 1), who="anna", why="back in the shop")
    with pytest.raises(NeedsALook, match="Nobody has M1 now"):
        pack(desk, tmp_path / "claim.zip")
    hand_over(desk.store, desk.settings, "M1", "C1", on=date(2025, 11, 2), who="anna", why="bought it back")
    assert pack(desk, tmp_path / "claim.zip")[0] == "E1"


def test_the_same_pack_has_the_same_bytes(desk: Desk, tmp_path: Path) -> None:
    """Made twice on one day, a pack has the same bytes, whoever made it."""
    pack(desk, tmp_path / "one.zip")
    pack(desk, tmp_path / "two.zip", who="kim", reason="once more")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()


def test_the_manifest_is_as_sha256sum_writes_it(tmp_path: Path) -> None:
    """Two blanks between hash and name, a line feed behind; the hash of "abc" is that of FIPS 180-2, B.1."""
    listed = manifest({"summary.pdf": b"abc", "originals/E1.eml": b""})
    assert listed.splitlines()[0] == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  summary.pdf"
    assert listed.endswith("  originals/E1.eml\n")


def test_what_is_needed_anyway_says_which_machine_it_is(tmp_path: Path) -> None:
    """Maker, model and numbers are taken from a message with a date, so that no other message need leave the house."""
    bought = noted(Kind.PURCHASE_DATE, "2024-01-15", "E5", number=11)
    first, again = (noted(Kind.SERIAL_NUMBER, "700-1", ref, number=n) for ref, n in (("E5", 12), ("E8", 13)))
    maker, model = noted(Kind.MAKER, "Vellamar", "E5", number=14), noted(Kind.MODEL, "Corvina 700", "E5", number=15)
    later = noted(Kind.MODEL, "Corvina 700", "E8", number=16)
    desk = Desk(tmp_path / "archive")
    record = replace(desk.store.message(desk.confirm(MARIT)), customer="C3", machine="M7")
    profile = machine(bought, first, again, maker, model, later, maker=None, model=None)
    found = decisive(profile, assess(profile, TERMS, ON), lambda ref: replace(record, id=ref))
    assert {n.source for n in found} == {"E5"}
    assert [n.fact.kind for n in found] == [Kind.PURCHASE_DATE, Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER]


def test_callouts_never_overlap() -> None:
    """Heights too close are moved apart, stay in order and inside, and move no farther than they must."""
    random = Random(7)
    for _ in range(500):
        wanted = sorted((random.uniform(0, 100) for _ in range(random.randint(1, 9))), reverse=True)
        placed = spread(wanted, 9, 5, 100)
        assert all(upper - lower >= 9 - 1e-9 for upper, lower in pairwise(placed))
        assert placed[0] <= 100
        assert placed[-1] >= 5 - 1e-9
    assert spread([80, 40], 9, 5, 100) == [80, 40]
    assert spread([50, 50], 10, 5, 100) == [55, 45]
    assert spread([], 9, 5, 100) == []


# --- the summary on paper ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Page:
    """A picture of a page with frames."""

    png: bytes
    width: int
    height: int
    frames: tuple[tuple[float, float, float, float], ...]


def picture(width: int, height: int, number: int) -> Page:
    """Return a white page with as many frames, close together."""
    out = BytesIO()
    Image.new("RGB", (width, height), "white").save(out, "PNG")
    frames = tuple((0.3, 0.1 + n * 0.012, 0.5, 0.11 + n * 0.012) for n in range(number))
    return Page(out.getvalue(), width, height, frames)


LONG = "Maria-Theodora Friederike Annegret von und zu Hohenfadenberg-Nadelstein-Spulenburg"
UNBROKEN = "Donaudampfschifffahrtsnähmaschinenstickrahmenhalterungsschraube" * 2


def summary(**more: object) -> Summary:
    """Return a summary with everything long: names, reasons, values, and pages of each form."""
    facts = [
        noted(Kind.PURCHASE_DATE, "2024-04-03", readings=("2024-04-03", "2024-03-04"), number=2),
        noted(Kind.INVOICE_NUMBER, UNBROKEN, number=3),
        noted(Kind.SERIAL_NUMBER, "700-55-1203 " * 6, number=4),
    ]
    maker, model = (
        noted(Kind.MAKER, "Vellamar", number=5),
        noted(Kind.MODEL, "Corvina 700 Grand Édition " * 3, number=6),
    )
    profile = machine(*facts, maker, model, maker=None, model=None)
    terms = [
        Term(f"part {n} {UNBROKEN[:40]}", 24, note="Keep the invoice. " * 6, number=n, register_days=28, else_months=6)
        for n in range(1, 8)
    ]
    answer = assess(profile, terms, date(2026, 3, 20))
    holder = CustomerProfile("C3", (noted(Kind.CUSTOMER_NAME, LONG),), (), ("E5",))
    marks = tuple(Mark(n, Kind.SERIAL_NUMBER, UNBROKEN) for n in range(1, 9))
    lines = tuple(((f"Seriennummer {UNBROKEN} ", None), (UNBROKEN, 9), (" <b>&amp;", None)) for _ in range(12))
    exhibits = (
        Exhibit("E5", LONG * 2, "2024-04-05", "pdf:confirmation.pdf", 1, marks, picture(600, 850, 8)),
        Exhibit("E6", "", "", "pdf:wide.pdf", 2, marks[:2], picture(900, 300, 2)),
        Exhibit(
            "E7", LONG, "2024-04-05", "forward:1", None, (Mark(9, Kind.SERIAL_NUMBER, UNBROKEN),), None, (None, *lines)
        ),
    )
    files = {f"originals/E{n}-{UNBROKEN[:60]}.pdf": "0" * 64 for n in range(1, 40)}
    left_out = tuple(f"E{n} came from a former holder and is not in this pack." for n in range(3))
    made = Summary(profile, holder, answer, tuple(facts), exhibits, left_out, files, LONG, date(2026, 3, 20))
    return replace(made, **more)  # type: ignore[arg-type]


def text_of(pdf: bytes) -> str:
    """Return the text of a PDF as pdfium reads it, on one line."""
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)


def words_of(pdf: bytes) -> Iterator[tuple[float, float, list[tuple[float, float, float, float]]]]:
    """Yield width, height and the boxes of the characters of each page."""
    for page in pypdfium2.PdfDocument(pdf):
        text = page.get_textpage()
        boxes = [text.get_charbox(n) for n in range(text.count_chars()) if text.get_text_range(n, 1).strip()]
        yield (*page.get_size(), boxes)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_long_names_stay_on_the_paper(paper: str, size: tuple[int, int]) -> None:
    """On both papers no character leaves the page's margins, however long names, values and sentences are."""
    pages = list(words_of(make_summary(summary(), paper)))
    assert len(pages) >= 5
    for width, height, boxes in pages:
        assert (round(width), round(height)) == size
        assert boxes
        # 15 mm of margin at the sides, 10 mm above and below; letters may reach a point beyond their box.
        assert min(box[0] for box in boxes) >= 42 - 1
        assert max(box[2] for box in boxes) <= width - 42 + 1.5
        assert min(box[1] for box in boxes) >= 28
        assert max(box[3] for box in boxes) <= height - 28


def test_no_line_lies_on_another() -> None:
    """On no page do two characters overlap: nothing is set over anything else."""
    for number, (_, _, boxes) in enumerate(words_of(make_summary(summary()))):
        placed: dict[tuple[int, int], list[Sequence[float]]] = {}
        for box in boxes:
            middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
            near = [
                other
                for dx in (-1, 0, 1)
                for dy in (-1, 0, 1)
                for other in placed.get((int(middle[0] // 12) + dx, int(middle[1] // 12) + dy), [])
            ]
            for other in near:
                inside = other[0] + 0.6 < middle[0] < other[2] - 0.6 and other[1] + 0.6 < middle[1] < other[3] - 0.6
                assert not inside, (number, box, other)
            placed.setdefault((int(middle[0] // 12), int(middle[1] // 12)), []).append(box)


def test_long_texts_run_over_pages() -> None:
    """Forty lines of a text that wrap and wrap go on on the next page: nothing is too high to be set."""
    lines = tuple(((UNBROKEN + " " + UNBROKEN[:90], None), (UNBROKEN, 1)) for _ in range(44))
    shown = Exhibit("E5", LONG, "2024-04-05", "body", None, (Mark(1, Kind.INVOICE_NUMBER, UNBROKEN),), None, lines)
    files = {f"originals/E{n}.eml": "0" * 64 for n in range(90)}
    assert len(list(words_of(make_summary(summary(exhibits=(shown,), files=files))))) >= 8


def test_documents_that_stay_with_the_shop_are_not_named() -> None:
    """The name of a former holder's attachment may say who they are: only the message's id is on paper."""
    place = Place("pdf:Rechnung Runa Aldermoor.pdf", 1)
    bought = noted(Kind.PURCHASE_DATE, "2024-01-15", "E1", number=2)
    bought = replace(bought, fact=replace(bought.fact, place=place))
    profile = machine(bought)
    answer = assess(profile, TERMS, ON)
    assert "Runa" in answer.coverage[0].why
    files = {"originals/E2.eml": "0" * 64}
    made = summary(machine=profile, answer=answer, facts=(bought,), exhibits=(), files=files)
    text = text_of(make_summary(made))
    assert "Runa" not in text
    assert "E1, not in this pack" in text


def test_the_summary_says_who_decides_on_every_page() -> None:
    """The sentence that these are the shop's records and the maker decides stands on every page."""
    document = pypdfium2.PdfDocument(make_summary(summary()))
    for page in document:
        text = " ".join(page.get_textpage().get_text_bounded().split())
        assert STANDING_NOTE in text


def test_the_summary_gives_both_answers() -> None:
    """Where a date can be read two ways, both last days, what is missing, and the rule are on paper."""
    text = text_of(make_summary(summary()))
    assert "CANNOT BE TOLD" in text
    for words in ("2026-03-04", "2026-04-03", "Missing.", "if registered within 28 days of the purchase"):
        assert words in text
    assert "E2 came from a former holder and is not in this pack." in text


def unzip(path: Path, folder: Path) -> list[str]:
    """Unpack with Python's own tool as a process; return the names below the pack's folder."""
    subprocess.run([sys.executable, "-m", "zipfile", "-e", str(path), str(folder)], check=True)
    (top,) = folder.iterdir()
    return [str(p.relative_to(top)).replace("\\", "/") for p in top.rglob("*") if p.is_file()]


def test_files_of_a_pack_are_what_their_names_say(desk: Desk, tmp_path: Path) -> None:
    """In a pack a program has an ending that nothing runs, and an Outlook message the one that opens it."""
    answer = warranty(desk.store, TERMS, "M1", ON)
    outlook = bytes.fromhex("D0CF11E0A1B11AE1")
    tools = replace(
        TOOLS,
        read_original=lambda _: outlook,
        open_message=lambda _: read_message(b"From: a@b.example\n\nhello", Limits()),
        attachments=lambda _: [("photo.exe", b"MZ"), ("photo.exe", b"PE")],
    )
    made = write_pack(
        desk.store, answer, tmp_path / "p.zip", tools, shop_name="Tidewheel", made=ON, who="anna", reason="claim"
    )
    names = [name for name in made.files if name.startswith("originals/")]
    assert names == ["originals/E2.msg", "originals/E2-photo.exe_", "originals/E2-photo~2.exe_"]


def test_many_answers_fit_a_page() -> None:
    """Sixty purchase dates give sixty answers: the first and the last are on paper, and how many lie between."""
    days = [f"20{10 + n // 12:02}-{n % 12 + 1:02}-05" for n in range(60)]
    bought = [noted(Kind.PURCHASE_DATE, day, f"E{n + 5}", number=n) for n, day in enumerate(days)]
    profile = machine(*bought)
    answer = assess(profile, [Term("machine", 240, number=1)], ON)
    assert len(answer.coverage[0].answers) == 60
    text = text_of(make_summary(summary(machine=profile, answer=answer, facts=(), exhibits=())))
    assert "53 more answers between these" in text
    assert "last day 2030-01-05" in text and "last day 2034-12-05" in text
