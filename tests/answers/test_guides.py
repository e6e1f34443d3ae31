"""What maker files say about entering codes."""

from __future__ import annotations

import pytest

from counterfoil.answers.guides import EntryGuide, UpgradeGuide, guide_for, version_key
from counterfoil.model import Kind
from counterfoil.patterns.makers import MakerPattern, UpgradePattern


def test_a_guide_is_taken_from_a_maker_file() -> None:
    """Order of entry, menus, the maker's own steps, names, order and firmware come over from the maker's file."""
    upgrades = (UpgradePattern("Stitch Pack", ("Stichpaket",), 2, "2.40", "SP", ("Load the pack.",)),)
    maker = MakerPattern(
        "Vellamar",
        ("Vellamar Oy",),
        enter=(Kind.ACTIVATION_CODE,),
        where="Setup",
        upgrades=upgrades,
        where_save="Setup, Save",
        where_update="Setup, Update",
        manual="chapter 9",
        before=("Take the hoop off.",),
        after=("Compare the list.",),
    )
    expected = (UpgradeGuide("Stitch Pack", ("Stichpaket",), 2, "2.40", "SP", ("Load the pack.",)),)
    own = ("Setup, Save", "Setup, Update", "chapter 9", ("Take the hoop off.",), ("Compare the list.",))
    found = EntryGuide.of(maker)
    assert found == EntryGuide("Vellamar", ("Vellamar Oy",), (Kind.ACTIVATION_CODE,), "Setup", expected, *own)


def test_without_an_order_the_product_key_comes_first() -> None:
    """A maker file that does not say the order means product key, then activation code."""
    assert EntryGuide.of(MakerPattern("Vellamar")).enter == (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)


@pytest.mark.parametrize("name", ["Vellamar", "VELLAMAR", "vellamar oy", "Véllamar"])
def test_makers_and_upgrades_are_found_by_any_spelling(name: str) -> None:
    """Case, accents and other names do not matter; an unknown maker gets a guide that says nothing."""
    star = UpgradeGuide("Embroidery Star", also=("Broderie Étoilée",))
    guide = EntryGuide("Vellamar", also=("Vellamar Oy",), upgrades=(star,))
    assert guide_for(name, [EntryGuide("Ostrel"), guide]) is guide
    assert guide.upgrade("broderie etoilee") is star
    assert guide.upgrade(None) is None and guide.upgrade("Another") is None
    assert guide_for(None, [guide]) == EntryGuide("")


def test_a_key_that_fits_two_upgrades_tells_nothing() -> None:
    """Only a product key whose beginning fits one upgrade names it."""
    one, two = UpgradeGuide("One", key_prefix="SP"), UpgradeGuide("Two", key_prefix="SP-2")
    guide = EntryGuide("Vellamar", upgrades=(one, two))
    assert guide.upgrade(None, "SP1B8XQ0") is one
    assert guide.upgrade(None, "SP2B8XQ0") is None
    assert guide.upgrade("Another", "SP1B8XQ0") is None


def test_versions_are_compared_as_numbers() -> None:
    """2.10 is newer than 2.9, and 2.0 is 2."""
    assert version_key("2.10") > version_key("2.9")
    assert version_key("V2.0") == version_key("2")
    assert version_key("none yet") < version_key("0.1")
    assert version_key("2.10b") > version_key("2.10")
