"""The printed sheet: its text read back with pdfium, its QR symbols with zxing-cpp."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pypdfium2
import pytest
import zxingcpp
from answers_world import MACHINE_ID, machine, noted, upgrade

from counterfoil.answers.guides import EntryGuide, UpgradeGuide
from counterfoil.answers.restore import RestoreSheet, Revealed, assemble
from counterfoil.answers.sheet import make_pdf
from counterfoil.answers.sheet_type import usual_paper
from counterfoil.errors import UsageProblem
from counterfoil.model import FirmwareNote, Kind

PRINTED = date(2026, 11, 25)
SHOP = "Tidewheel Sewing"
GUIDE = EntryGuide(
    "Vellamar", where="Setup, Upgrades", upgrades=(UpgradeGuide("Stitch Pack 2", needs_firmware="2.40"),)
)
#: Width and height in millimetres: ISO 216, and 8.5 by 11 inches.
PAPERS = {"a4": (210, 297), "letter": (216, 279)}
SHOWN = Revealed(
    "anna",
    "machine was reset",
    "J12",
    "2026-11-25T13:40:12.123456+00:00",
    "Marit Solvang (C3)",
    "called back on +44 20 7946 0011",
)


def sheet(
    *, revealed: Revealed | None = SHOWN, upgrades: int = 1, holder: str = "Marit Solvang", dead: bool = True
) -> RestoreSheet:
    """Return a sheet with a dead code and some live ones."""
    live = tuple(upgrade(key=f"SP2B-8XQ0-ZZ{n:02}", source=f"E{n + 10}") for n in range(upgrades))
    old = upgrade("Old <Pack> & more", "OLDK-8XQ0-ZZ12", "DEAD-UV6G-99L1", machine_id="VM1", live=False, source="E3")
    notes = (FirmwareNote("2.31", "2025-11-02", "after", "J3"),)
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID), upgrades=(*live, *([old] if dead else [])), firmware=notes)
    return assemble(profile, [GUIDE], holder=holder, revealed=revealed)


def printed(of: RestoreSheet, paper: str = "a4", shop: str = SHOP) -> bytes:
    """Return the PDF of a sheet."""
    return make_pdf(of, shop_name=shop, printed=PRINTED, paper=paper)


def pages(data: bytes) -> list[str]:
    """Return the text of each page, words apart by single spaces."""
    pdf = pypdfium2.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pdf]


def whole(data: bytes) -> str:
    """Return the text of all pages."""
    return " ".join(pages(data))


def symbols(data: bytes, dots_an_inch: int = 150) -> list[str]:
    """Return what the QR symbols of all pages hold, from top to bottom, as a camera would see them."""
    found: list[tuple[int, int, str]] = []
    for number, page in enumerate(pypdfium2.PdfDocument(data)):
        picture = page.render(scale=dots_an_inch / 72).to_pil().convert("L")
        for code in zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)):
            found.append((number, code.position.top_left.y, code.text))
    return [text for _, _, text in sorted(found)]


def test_everything_needed_is_on_the_sheet() -> None:
    """Shop, machine, holder, who asked, who gave, when, why, firmware, cautions, steps, codes, spelling, the day."""
    text = whole(printed(sheet()))
    letters = text.replace(" ", "")
    for words in (
        "Tidewheel Sewing",
        "Vellamar Corvina 700",
        "Marit Solvang (C3)",
        "Marit Solvang (C3); called back on +44 20 7946 0011",
        "anna, 2026-11-25 13:40 UTC (J12)",
        "machine was reset",
        "2.31, noted 2025-11-02; 2.40 or newer is needed",
        "2.31: update first",
        "before opening the machine, switch it off and unplug it",
        "Save own stitches and settings to a memory stick",
        "Never interrupt a firmware update",
        "Do not cut the power",
        "Follow the maker's manual",
        "qualified technicians",
        "Setup, Upgrades",
        "SEV-en Kilo FIFE Sierra / Uniform Victor SIX Golf",
        "Activation code, 16 letters and digits",
        "letters, never 0 or 1",
        "Old <Pack> & more: Do not enter",
        "Printed on 2026-11-25",
        "Page 1 of 2",
    ):
        assert words.replace(" ", "") in letters, words
    assert "7K5S-UV6G-99L1-44TT" in letters
    assert "DEAD" not in letters


def test_what_was_overridden_stands_on_the_sheet() -> None:
    """A sheet given although the caller did not agree with the records says so."""
    given = Revealed("anna", "reset", "J12", mismatch=("C2 does not have M7.",), override="her husband")
    text = whole(printed(sheet(revealed=given)))
    assert "C2 does not have M7. Reason: her husband" in text
    assert "Asked by not stated" in text


@pytest.mark.parametrize("paper", list(PAPERS))
def test_each_code_to_be_entered_is_a_qr_symbol(paper: str) -> None:
    """Read back by zxing-cpp from the page, each symbol is the code beside it, as printed; no dead code is one."""
    codes = [code for n in range(3) for code in (f"SP2B-8XQ0-ZZ{n:02}", "7K5S-UV6G-99L1-44TT")]
    asked = [MACHINE_ID, "OLDK-8XQ0-ZZ12"]
    assert symbols(printed(sheet(upgrades=3), paper)) == codes + asked


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("code", ["16046-25488-11905-22566", "O0I1l-B8S5-Z2", "a.b/c:d", "ABCDEFGHJK" * 6])
def test_codes_of_every_shape_come_back(code: str, paper: str) -> None:
    """Digits, small letters, other separators and long codes are read back to the character."""
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID), upgrades=(upgrade(code=code),))
    data = printed(assemble(profile, revealed=SHOWN), paper)
    assert symbols(data, 200) == ["SP2B-8XQ0-ZZ12", code]
    assert code.replace(" ", "") in whole(data).replace(" ", "")


def test_a_masked_sheet_shows_no_code() -> None:
    """Without a journal entry the printed sheet shows the last four characters at most, and says how to get more."""
    data = printed(sheet(revealed=None))
    letters = whole(data).replace(" ", "")
    assert "7K5S" not in letters and "SP2B" not in letters and "OLDK" not in letters
    assert "44TT" in letters
    assert "Print it with --reveal and a reason" in whole(data)
    assert symbols(data) == [MACHINE_ID]


@pytest.mark.parametrize("paper", list(PAPERS))
def test_pages_have_the_size_of_the_paper_and_are_numbered(paper: str) -> None:
    """A long sheet goes on over numbered pages of the paper asked for, each with the head of the shop."""
    data = printed(sheet(upgrades=7), paper)
    for page in pypdfium2.PdfDocument(data):
        assert tuple(round(edge / 72 * 25.4) for edge in page.get_size()) == PAPERS[paper]
    texts = pages(data)
    assert len(texts) > 1
    for number, text in enumerate(texts, start=1):
        assert f"Page {number} of {len(texts)}" in text
        assert SHOP in text


@pytest.mark.parametrize("paper", list(PAPERS))
def test_nothing_stands_outside_the_margins(paper: str) -> None:
    """Names and codes of any length, and a shop with a long name, leave 12 mm free at the sides, 7 above and below."""
    long = "Donaudampfschifffahrtsgesellschaftskapitänsmützenstickmuster" * 4
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID * 3), upgrades=(upgrade(long, code="ABCDEFGHJK" * 12),))
    given = Revealed("anna " * 30, long, "J12", asked_by=long)
    data = printed(assemble(profile, holder=long, revealed=given), paper, shop=long)
    for page in pypdfium2.PdfDocument(data):
        picture = page.render(scale=2).to_pil().convert("L")
        ink = picture.point(lambda value: 255 if value < 200 else 0).getbbox()
        assert ink is not None
        left, top, right, bottom = (edge / 2 / 72 * 25.4 for edge in ink)
        width, height = (edge / 72 * 25.4 for edge in page.get_size())
        assert left >= 12 and width - right >= 12
        assert top >= 7 and height - bottom >= 7


def test_a_step_and_its_codes_stay_on_one_page() -> None:
    """Each step is followed by its codes on the same page: nobody turns the page between sentence and code."""
    texts = pages(printed(sheet(upgrades=12)))
    for n in range(12):
        (at,) = [text for text in texts if f"SP2B-8XQ0-ZZ{n:02}" in text.replace(" ", "")]
        assert f"{n + 4}. On the machine, open Setup, Upgrades" in at


def test_one_upgrade_fits_one_page() -> None:
    """The usual case, one upgrade, is one sheet of paper."""
    assert len(pages(printed(sheet(dead=False)))) == 1


@pytest.mark.parametrize("name", ["Świętosława Źdźbło", "Ελένη Παπαδοπούλου", "Юлия Ковалёва", "Nguyễn Thị Ánh Tuyết"])
def test_names_are_printed_in_their_own_letters(name: str) -> None:
    """Names in Latin letters with any accents, in Greek and in Cyrillic are printed as written."""
    text = whole(printed(sheet(holder=name)))
    assert f"{name} (C3)" in text and "letters that this sheet's type lacks" not in text


@pytest.mark.parametrize("name", ["山田花子", "שרה כהן", "สมชาย ใจดี", "\x00\ud800\U0001f9f5"])
def test_names_the_type_cannot_show_are_marked(name: str) -> None:
    """Other scripts, and what is no text at all, do not break the sheet: they are replaced, and a note says so."""
    text = whole(printed(sheet(holder=name)))
    assert "? (C3)*" in text
    assert "* Written here without letters that this sheet's type lacks" in text


def test_no_text_is_too_long_or_too_strange_for_the_sheet() -> None:
    """Names and reasons of thousands of characters, and names that are markup, are printed as far as there is room."""
    long = "<b>&amp; embroidery " * 500
    given = Revealed("anna", long, "J12", asked_by=long, mismatch=(long,), override=long)
    upgrades = (upgrade(long), upgrade("amp", "AMPX-1111", where_code := "AMPC-2222"), upgrade("On", None, "ONON-3333"))
    guide = EntryGuide("Vellamar", where="Setup & <Upgrades>", manual=long)
    profile = machine(noted(Kind.MACHINE_ID, MACHINE_ID), upgrades=upgrades, model=long)
    text = whole(make_pdf(assemble(profile, [guide], holder=long, revealed=given), shop_name=long, printed=PRINTED))
    assert "Setup & <Upgrades> and enter for amp:" in text
    assert where_code in text.replace(" ", "") and "…" in text


def test_thirty_upgrades_are_printed() -> None:
    """The overview and the steps go over as many pages as they need, and no code is missing."""
    texts = "".join(pages(printed(sheet(upgrades=30)))).replace(" ", "")
    assert all(f"SP2B-8XQ0-ZZ{n:02}" in texts for n in range(30))


def test_however_many_codes_the_last_line_says_to_keep_them() -> None:
    """Below the codes of sixty messages stand all of these, and whole the line that says to hand the sheet to nobody
    else."""
    last = " ".join(pages(printed(sheet(upgrades=60)))[-1].split())
    assert "E10, E11," in last and "E68, E69." in last
    assert "hand it to the holder of the machine only, or destroy it after use." in last


def test_the_same_sheet_has_the_same_bytes() -> None:
    """Printing twice on one day gives the same file."""
    first, second = (printed(sheet()) for _ in range(2))
    assert first == second


def test_an_unknown_paper_is_refused() -> None:
    """A paper nobody knows is a wrong use, and the refusal lists those there are."""
    with pytest.raises(UsageProblem, match=r"no paper 'a3'.* a4, letter"):
        printed(sheet(), "a3")


def test_the_usual_paper_of_a_country() -> None:
    """Letter where Unicode CLDR (supplemental data, paperSize) has it, A4 in all other countries."""
    # UTS #35, part 6, example of paperSize: the territories of US-Letter.
    for region in ("BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"):
        assert usual_paper(region) == "letter"
    assert {usual_paper(region) for region in ("GB", "DE", "SE", "AU", "JP", "BR", "us2", "")} == {"a4"}


def test_look_alikes_are_in_the_order_of_the_steps() -> None:
    """Steps are numbered through, those about dead codes last."""
    text = whole(printed(sheet(upgrades=2)))
    places = [text.index(f"{n}. ") for n in range(1, 7)]
    assert all(a < b for a, b in pairwise(places))
    assert text.index("Not to be entered") < text.index("Old <Pack>", text.index("Not to be entered"))
