"""The slip of a bench entry: everything that was entered, cautions, and no code in clear."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from answers_world import MARIT, Desk, fact

from counterfoil.answers.slip import make_slip, slip_of
from counterfoil.errors import SettlementRefused
from counterfoil.model import Kind
from counterfoil.records.bench import record
from counterfoil.records.correcting import correct
from counterfoil.records.settling import undo

SHOP = "Tidewheel Sewing"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Give records with one entry at the bench, J1."""
    made = Desk(tmp_path)
    facts = [fact(kind, value) for kind, value in (MARIT | {Kind.CUSTOMER_NAME: "Marit Solvång-Łęska"}).items()]
    record(
        made.store,
        made.settings,
        customer="new",
        facts=facts,
        firmware_before="2.9",
        firmware_after="2.10",
        who="kim",
        why="",
    )
    return made


def text_of(data: bytes) -> str:
    """Return the text of a one-page PDF on one line."""
    document = pypdfium2.PdfDocument(data)
    try:
        assert len(document) == 1
        page = document[0]
        width, height = page.get_size()
        # ISO 216: A5 is 148 mm by 210 mm; a point is 1/72 inch.
        assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (148, 210)
        return " ".join(page.get_textpage().get_text_range().split())
    finally:
        document.close()


def test_a_slip_says_what_was_entered(desk: Desk) -> None:
    """Shop, machine, customer, firmware before and after, the upgrade and who entered it stand on one A5 page."""
    text = text_of(make_slip(slip_of(desk.store, "J1"), shop_name=SHOP))
    for part in (SHOP, "Bench slip J1", "Marit Solvång-Łęska (C1)", "M1", "kim", "VM-204817-K", "700-55-1203"):
        assert part in text
    assert "Firmware before the update 2.9 Firmware after the update 2.10" in text
    assert "Stitch Pack 2" in text and "2024-01-15" in text


def test_no_code_in_clear(desk: Desk) -> None:
    """Product key and activation code are there by their last four characters only."""
    data = make_slip(slip_of(desk.store, "J1"), shop_name=SHOP)
    text = text_of(data)
    for code in (MARIT[Kind.PRODUCT_KEY], MARIT[Kind.ACTIVATION_CODE]):
        assert code not in text and code[:9] not in text
        assert code[-4:] in text


def test_cautions_are_on_every_slip(desk: Desk) -> None:
    """The slip warns of mains power, an interrupted update and the needle, and defers to the maker's manual."""
    text = text_of(make_slip(slip_of(desk.store, "J1"), shop_name=SHOP)).lower()
    for word in ("mains power", "interrupt", "needle", "manual", "qualified technicians", "maker's decision"):
        assert word in text


def test_the_same_slip_twice(desk: Desk) -> None:
    """Printed again it has the same bytes."""
    one, two = (make_slip(slip_of(desk.store, "j1"), shop_name=SHOP) for _ in range(2))
    assert one == two


def test_the_slip_of_a_correction(desk: Desk) -> None:
    """It has all values that hold now, and names the entry it corrects."""
    correct(desk.store, desk.settings, "J1", firmware_after="2.11", who="ada", why="")
    text = text_of(make_slip(slip_of(desk.store, "J2"), shop_name=SHOP))
    assert "corrects J1" in text and "2.11" in text and "Stitch Pack 2" in text


def test_a_long_entry_with_hostile_text(desk: Desk) -> None:
    """Markup in a name stays text, and a very long one does not break the page."""
    facts = [fact(Kind.MACHINE_ID, "VM-999001-P"), fact(Kind.CUSTOMER_NAME, f"<b>&{'Longname' * 30}")]
    record(desk.store, desk.settings, customer="new", facts=facts, sure=True, who="<i>", why="")
    text = text_of(make_slip(slip_of(desk.store, "J2"), shop_name="A & B <Shop>"))
    assert "A & B <Shop>" in text and "<b>&Longname" in text


def test_no_slip(desk: Desk) -> None:
    """A line that is no entry, that does not exist or was undone has no slip."""
    desk.store.note("ada", "reveal", "M1", "reset", {})
    for line in ("J2", "J9", "M1"):
        with pytest.raises(SettlementRefused, match="no entry at the bench"):
            slip_of(desk.store, line)
    undo(desk.store, desk.settings, "J1", "kim", "")
    with pytest.raises(SettlementRefused, match="was undone by J3"):
        slip_of(desk.store, "J1")
