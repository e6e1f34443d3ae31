"""`warranty`, its pack for the maker, `coverage` and `report warranty`, as a desk uses them."""

from __future__ import annotations

import csv
import hashlib
import shutil
import subprocess
import zipfile
from io import BytesIO, StringIO
from pathlib import Path

import pypdfium2
import pytest
from cli_world import Desk, Outcome, _tidy, desk, empty, secrets, shelf, shown_secrets

from counterfoil.answers.warranty import STANDING_NOTE
from counterfoil.archive import Archive

__all__ = ["_tidy", "desk", "empty", "shelf"]

ON = ("--on", "2026-11-25")


def pack(desk: Desk, ref: str, *more: str) -> tuple[Outcome, Path]:
    """Make a pack beside the archive; return what was said and the file."""
    path = desk.folder.parent / "claim.zip"
    return desk("warranty", ref, *ON, "--pack", str(path), "--reason", "claim for the main board", *more), path


def unpacked(path: Path, folder: Path) -> Path:
    """Unpack a zip with Python's own tool; return the one folder in it."""
    with zipfile.ZipFile(path) as packed:
        packed.extractall(folder)
    (top,) = folder.iterdir()
    return top


def text_of(pdf: Path) -> str:
    """Return the text of a PDF as a plain reader shows it."""
    document = pypdfium2.PdfDocument(pdf.read_bytes())
    text = "\n".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    return text


def test_an_answer_says_rule_proof_and_what_is_missing(shelf: Desk) -> None:
    """Text and JSON name the rule, the message that proves the start, what is missing, both answers, who decides."""
    said = " ".join(shelf("warranty", "M4", *ON).out.split())
    for words in (
        "covered, assumed 2030-01-07 1139",
        "(E5, forward:1)",
        "- Cannot be told: if it was bought on 2021-11-24 or before, cover has ended.",
        "Missing: The purchase date: an invoice or a till receipt of the first sale.",
        "Rule: 5 years from the purchase; stays with the machine.",
        STANDING_NOTE,
    ):
        assert words in said
    answer = shelf("warranty", "M4", *ON, "--json").json()
    assert answer["note"] == STANDING_NOTE
    machine = answer["coverage"][0]  # type: ignore[index]
    assert (machine["proof"]["message"], machine["proof"]["document"]) == ("E5", "forward:1")
    assert [(a["covered"], a["ends"]) for a in machine["answers"]] == [(True, "2030-01-07"), (None, None)]
    assert machine["missing"] == ["The purchase date: an invoice or a till receipt of the first sale."]


def test_a_pack_passes_sha256sum_and_opens_in_a_plain_reader(desk: Desk, tmp_path: Path) -> None:
    """Every file of the pack passes `sha256sum -c`; the summary opens; the originals are those of the archive."""
    outcome, path = pack(desk, "M2")
    assert outcome.code == 0
    assert "product keys and activation codes in clear" in " ".join(outcome.out.split())
    top = unpacked(path, tmp_path / "out")
    tool = shutil.which("sha256sum") or shutil.which("shasum")
    lines = (top / "SHA256SUMS").read_text().splitlines()
    if tool is not None:
        option = ["-a", "256"] if tool.endswith("shasum") else []
        done = subprocess.run([tool, *option, "-c", "SHA256SUMS"], cwd=top, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert done.stdout.splitlines() == [f"{line[66:]}: OK" for line in lines]
    assert {line[66:]: line[:64] for line in lines} == {
        p.relative_to(top).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in top.rglob("*")
        if p.is_file() and p.name != "SHA256SUMS"
    }
    archive = Archive(desk.folder)
    for original in top.glob("originals/*.eml"):
        kept = archive.store.message(original.stem)
        assert original.read_bytes() == archive.originals.read(kept.sha256)
        assert (kept.machine, kept.customer) == ("M2", archive.store.machine("M2").holder)
    archive.close()
    text = " ".join(text_of(top / "summary.pdf").split())
    for words in (
        "Warranty summary",
        "Kestrelle Aria 5 (M2)",
        "COVERED",
        STANDING_NOTE,
        "Evidence: E3, Bestätigung.pdf, page 1",
    ):
        assert words in text


def test_a_changed_file_fails_the_check(desk: Desk, tmp_path: Path) -> None:
    """The list of hashes finds a changed original: its check can fail."""
    _, path = pack(desk, "M2")
    top = unpacked(path, tmp_path / "out")
    original = next(top.glob("originals/*.eml"))
    original.write_bytes(original.read_bytes() + b" ")
    wanted = next(line for line in (top / "SHA256SUMS").read_text().splitlines() if line.endswith(original.name))
    assert wanted[:64] != hashlib.sha256(original.read_bytes()).hexdigest()


def test_the_summary_masks_codes_and_the_page_has_none_left(desk: Desk, tmp_path: Path) -> None:
    """No code of the samples can be read from the summary; where a code stood on the page, the picture is black."""
    _, path = pack(desk, "M2")
    summary = unpacked(path, tmp_path / "out") / "summary.pdf"
    assert shown_secrets(text_of(summary)) == []
    bars = [_black_rows(image) for image in _pictures(summary)]
    assert max(bars) >= 2
    path.unlink()
    _, shown = pack(desk, "M2", "--reveal")
    revealed = unpacked(shown, tmp_path / "revealed") / "summary.pdf"
    assert max(_black_rows(image) for image in _pictures(revealed)) == 0


def _pictures(pdf: Path) -> list[object]:
    """Return the pictures in a PDF, as pdfium gives them back."""
    document = pypdfium2.PdfDocument(pdf.read_bytes())
    kind = pypdfium2.raw.FPDF_PAGEOBJ_IMAGE
    found = [item.get_bitmap().to_pil().convert("L") for page in document for item in page.get_objects(filter=[kind])]
    document.close()
    assert found
    return found


def _black_rows(image: object) -> int:
    """Count the bars in a picture: bands of rows in which at least forty pixels in a row are black."""
    width, height = image.size  # type: ignore[attr-defined]
    data = image.tobytes()  # type: ignore[attr-defined]
    dark = [b"\0" * 40 in data[y * width : (y + 1) * width] for y in range(height)]
    # A bar is higher than any ruled line.
    return sum(all(dark[y : y + 12]) and not dark[y - 1] for y in range(1, height - 12))


def test_the_journal_keeps_who_and_why(desk: Desk) -> None:
    """A pack is noted with who, why, the messages in it, and whether the summary shows codes."""
    pack(desk, "M2", "--who", "Ada Bobbin")
    line = desk("journal", "M2", "--json").lines()[-1]
    assert (line["who"], line["action"], line["why"]) == ("Ada Bobbin", "pack", "claim for the main board")
    detail = line["detail"]
    assert isinstance(detail, dict)
    assert (detail["messages"], detail["codes_in_summary"]) == (["E3"], False)


def test_a_pack_without_a_reason_is_refused(desk: Desk, tmp_path: Path) -> None:
    """Originals show codes: without --reason the pack is wrong use, says why, and writes nothing."""
    outcome = desk("warranty", "M2", "--pack", str(tmp_path / "claim.zip"))
    assert outcome.code == 2
    assert "codes in clear" in outcome.err
    assert "--reason" in outcome.err
    assert not (tmp_path / "claim.zip").exists()
    assert desk("journal", "--json").out == ""
    assert desk("warranty", "M2", "--reveal").code == 2


def test_no_pack_holds_another_customers_mail(desk: Desk, tmp_path: Path) -> None:
    """Of every machine of the samples: no original of another customer or machine, no other customer's address."""
    archive = Archive(desk.folder)
    machines = archive.store.machines()
    people = {c.id: c for c in archive.store.customers()}
    made = 0
    for machine in machines[::4]:
        path = tmp_path / f"{machine.id}.zip"
        outcome = desk("warranty", machine.id, *ON, "--pack", str(path), "--reason", "claim", "--json")
        if outcome.code:
            assert not path.exists()
            continue
        made += 1
        top = unpacked(path, tmp_path / machine.id)
        for original in top.glob("originals/*.eml"):
            kept = archive.store.message(original.stem)
            assert (kept.machine, kept.customer) == (machine.id, machine.holder)
        text = text_of(top / "summary.pdf")
        assert shown_secrets(text) == []
        own = people[str(machine.holder)].name
        others = {p.name for p in people.values() if p.id != machine.holder} - {own}
        assert [name for name in others if len(name.split()) > 1 and name in text] == []
    archive.close()
    assert made >= 8


def test_both_papers(desk: Desk, tmp_path: Path) -> None:
    """The summary comes on A4 and on Letter (ISO 216; ANSI/ASME Y14.1)."""
    for paper, size in (("a4", (595, 842)), ("letter", (612, 792))):
        path = tmp_path / f"{paper}.zip"
        desk("warranty", "M1", *ON, "--pack", str(path), "--reason", "claim", "--paper", paper)
        with zipfile.ZipFile(path) as packed:
            page = pypdfium2.PdfDocument(BytesIO(packed.read("M1-warranty/summary.pdf")))[0]
        assert tuple(round(edge) for edge in page.get_size()) == size


def test_extensions_are_entered_shown_and_undone(desk: Desk) -> None:
    """An extension moves the last day, stands in the answer and the list, and goes away with undo."""
    before = desk("warranty", "M1", *ON, "--json").json()["coverage"][1]  # type: ignore[index]
    outcome = desk("coverage", "extend", "M1", "--part", "electronics", "--years", "2", "--bought", "2024-11-28",
                   "--number", "X-2204", "--json")  # fmt: skip
    journal = str(outcome.json()["journal"])
    after = desk("warranty", "M1", *ON, "--json").json()["coverage"][1]  # type: ignore[index]
    assert (before["ends"], after["ends"], after["extensions"]) == ("2026-11-28", "2028-11-28", [journal])
    assert f"2 years more by the extension {journal}, number X-2204" in after["why"]
    listed = desk("coverage", "list", "--json").json()
    assert [e["id"] for e in listed["extensions"]] == [journal]  # type: ignore[attr-defined]
    assert desk("undo", journal).code == 0
    assert desk("warranty", "M1", *ON, "--json").json()["coverage"][1] == before  # type: ignore[index]


def test_an_extension_needs_a_length(desk: Desk) -> None:
    """Without years or months nothing is entered."""
    assert desk("coverage", "extend", "M1", "--part", "motor").code == 2
    assert desk("journal", "--json").out == ""


def test_the_terms_are_checked_with_lines(desk: Desk) -> None:
    """Good terms and examples end with 0, a wrong example with 1, a fault with 10, each with file and line."""
    good = desk("coverage", "check")
    assert (good.code, "12 of 12 examples come out as written" in good.out) == (0, True)
    path = desk.folder / "coverage.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("last_day = 2026-11-25", "last_day = 2026-11-24", 1), encoding="utf-8")
    wrong = desk("coverage", "check", "--json")
    assert wrong.code == 1
    line = text[: text.index("\n[[example]]")].count("\n") + 2
    assert [w["line"] for w in wrong.json()["wrong"]] == [line]  # type: ignore[attr-defined]
    path.write_text(text.replace("years = 5", "years = 500", 1), encoding="utf-8")
    faulty = desk("coverage", "check")
    assert (faulty.code, f"{path}:7: " in faulty.out) == (10, True)
    refused = desk("warranty", "M1")
    assert (refused.code, "line 7, term 1" in refused.err, "coverage check" in refused.err) == (10, True, True)


def test_the_terms_are_listed_as_sentences(shelf: Desk) -> None:
    """Each term is listed with its rule in words, and the list says who decides."""
    said = " ".join(shelf("coverage", "list").out.split())
    assert "3 years from the purchase if registered within 28 days of the purchase, else 1 year" in said
    assert STANDING_NOTE in said


def test_whose_cover_ends_is_listed(shelf: Desk) -> None:
    """As a table, CSV and JSON: the same rows, by last day, with contacts, and who decides."""
    words = ("report", "warranty", *ON, "--ending-within", "60d")
    rows = list(csv.DictReader(StringIO(shelf(*words, "--csv").out)))
    listing = shelf(*words, "--json").json()
    assert [row["last_day"] for row in listing["rows"]] == [  # type: ignore[attr-defined]
        row["last day"] for row in rows if row["group"] == "certain"
    ]
    assert rows[0]["name"] == "Hetty Oakenshaw"
    assert {row["note"] for row in rows} == {STANDING_NOTE}
    assert all("2026-11-25" <= row["last day"] <= "2027-01-24" for row in rows)
    table = shelf(*words).out
    assert STANDING_NOTE in " ".join(table.split())
    assert rows[0]["email"] in table
    assert shelf("report", "warranty", "--ending-within", "soon").code == 2
    assert shown_secrets(table) == []
    assert secrets()


@pytest.mark.parametrize("words", [("coverage", "check"), ("coverage", "list"), ("report", "warranty")])
def test_an_archive_without_terms_says_so(empty: Desk, words: tuple[str, ...]) -> None:
    """Without coverage terms nothing breaks."""
    (empty.folder / "coverage.toml").unlink()
    assert empty(*words).code == 0
