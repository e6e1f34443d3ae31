"""The printed sheet, read back with pdfium."""

from __future__ import annotations

from datetime import date

import pypdfium2
from answers_world import MACHINE_ID, machine, noted, upgrade

from counterfoil.answers.guides import EntryGuide, UpgradeGuide
from counterfoil.answers.restore import RestoreSheet, Revealed, assemble
from counterfoil.answers.sheet import make_pdf
from counterfoil.model import FirmwareNote, Kind

PRINTED = date(2026, 11, 25)
GUIDE = EntryGuide(
    "Vellamar", where="Setup, Upgrades", upgrades=(UpgradeGuide("Stitch Pack 2", needs_firmware="2.40"),)
)


def sheet(*, revealed: bool = True, upgrades: int = 1, holder: str = "Marit Solvang") -> RestoreSheet:
    """Return a sheet with a dead code and some live ones."""
    live = tuple(upgrade(key=f"SP2B-8XQ0-ZZ{n:02}", source=f"E{n + 10}") for n in range(upgrades))
    dead = upgrade("Old <Pack> & more", "OLDK-8XQ0-ZZ12", "DEAD-UV6G-99L1", machine_id="VM1", live=False, source="E3")
    notes = (FirmwareNote("2.31", "2025-11-02", "after", "J3"),)
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID), upgrades=(*live, dead), firmware=notes)
    shown = Revealed("anna", "machine was reset", "J12") if revealed else None
    return assemble(profile, [GUIDE], holder=holder, revealed=shown)


def pages(data: bytes) -> list[str]:
    """Return the text of each page, words apart by single spaces."""
    pdf = pypdfium2.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pdf]


def whole(data: bytes) -> str:
    """Return the text of all pages."""
    return " ".join(pages(data))


def test_everything_needed_is_on_the_sheet() -> None:
    """Shop, machine, holder, firmware, cautions, steps, codes, spelling and the day stand on the sheet."""
    text = whole(make_pdf(sheet(), shop_name="Tidewheel Sewing", printed=PRINTED))
    letters = text.replace(" ", "")
    for words in (
        "Tidewheel Sewing",
        "Vellamar Corvina 700",
        "Marit Solvang (C3)",
        "2.31, noted on 2025-11-02; the upgrades need 2.40 or newer",
        "switch it off and unplug it",
        "Setup, Upgrades",
        "Read aloud: SEV-en Kilo FIFE Sierra / Uniform Victor SIX Golf",
        "Look-alikes: digits 1 one, 5 five, 6 six; letters G Golf, L Lima, S Sierra, U Uniform, V Victor",
        "Old <Pack> & more: Do not enter",
        "Codes shown to anna (J12): machine was reset.",
        "Printed on 2026-11-25",
        "Page 1 of 2",
    ):
        assert words.replace(" ", "") in letters, words
    assert "7K5S-UV6G-99L1-44TT" in letters
    assert "DEAD" not in letters


def test_a_masked_sheet_shows_no_code() -> None:
    """Without a journal entry the printed sheet shows the last four characters at most, and says how to get more."""
    text = whole(make_pdf(sheet(revealed=False), shop_name="Tidewheel Sewing", printed=PRINTED))
    letters = text.replace(" ", "")
    assert "7K5S" not in letters and "SP2B" not in letters and "OLDK" not in letters
    assert "44TT" in letters
    assert "Print it with --reveal and a reason" in text


def test_pages_are_a4_and_numbered() -> None:
    """A long sheet goes on over numbered A4 pages (ISO 216: 210 by 297 mm), each with the head of the shop."""
    data = make_pdf(sheet(upgrades=7), shop_name="Tidewheel Sewing", printed=PRINTED)
    pdf = pypdfium2.PdfDocument(data)
    for page in pdf:
        assert [round(edge / 72 * 25.4) for edge in page.get_size()] == [210, 297]
    texts = pages(data)
    assert len(texts) > 1
    for number, text in enumerate(texts, start=1):
        assert f"Page {number} of {len(texts)}" in text
        assert "Tidewheel Sewing" in text


def test_names_the_type_cannot_show_are_marked() -> None:
    """A Polish or Greek name is printed in letters that the type has, with a mark and its explanation."""
    text = whole(make_pdf(sheet(holder="Świętosława Ελένη"), shop_name="Tidewheel Sewing", printed=PRINTED))
    assert "Swietosława Eleni* (C3)" in text
    assert "* Written here without letters that this sheet's type lacks" in text
    plain = whole(make_pdf(sheet(holder="Łucja Müller"), shop_name="Tidewheel Sewing", printed=PRINTED))
    assert "Łucja Müller (C3)" in plain and "letters that this sheet's type lacks" not in plain


def test_the_same_sheet_has_the_same_bytes() -> None:
    """Printing twice on one day gives the same file."""
    first, second = (make_pdf(sheet(), shop_name="Tidewheel Sewing", printed=PRINTED) for _ in range(2))
    assert first == second


def test_long_codes_stay_on_the_page() -> None:
    """A code of sixty characters without separators is broken into rows and complete."""
    code = "ABCDEFGHJK" * 6
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID), upgrades=(upgrade(code=code),))
    shown = Revealed("anna", "machine was reset", "J12")
    text = whole(make_pdf(assemble(profile, revealed=shown), shop_name="Tidewheel Sewing", printed=PRINTED))
    assert code in text.replace(" ", "")
