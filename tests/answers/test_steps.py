"""The steps of a restore sheet: their order, the maker's own ones, and the cautions beside them."""

from __future__ import annotations

import pytest
from answers_world import MACHINE_ID

from counterfoil.answers.guides import EntryGuide
from counterfoil.answers.steps import (
    CAUTIONS,
    SAVE_CAUTION,
    UPDATE_CAUTION,
    SheetUpgrade,
    cautions_for,
    is_enough,
    list_steps,
)
from counterfoil.model import FirmwareNote

GUIDE = EntryGuide(
    "Vellamar",
    where="Setup, Upgrades",
    where_save="Setup, Save",
    where_update="Setup, Update",
    manual="chapter 9",
    before=("Take the hoop off.",),
    after=("Compare the list of upgrades.",),
)
PACK = SheetUpgrade(
    "Motifs", "SP2B", "7K5S", True, "E5", True, "Motifs", needs_firmware="2.10", steps=("Load the pack.",)
)
NOTED = FirmwareNote("2.9", "2025-01-02", "after", "J3")


def test_steps_come_in_the_order_of_the_bench() -> None:
    """Compare, save, update, the maker's own steps, enter, what follows the upgrade, what follows all, switch off."""
    said = [step.text for step in list_steps(MACHINE_ID, GUIDE, [PACK], NOTED, "2.10")]
    beginnings = (
        "Let the machine show its machine ID",
        "Save own stitches and settings to a memory stick (Setup, Save).",
        "The upgrades need firmware 2.10 or newer (2.9 was noted on 2025-01-02): update the machine first (Setup, ",
        "Take the hoop off.",
        "On the machine, open Setup, Upgrades and enter for Motifs (needs firmware 2.10; 2.9 was noted):",
        "Motifs: Load the pack.",
        "Compare the list of upgrades.",
        "Switch the machine off and on again",
    )
    assert len(said) == len(beginnings)
    for text, beginning in zip(said, beginnings, strict=True):
        assert text.startswith(beginning)


def test_an_update_never_stands_without_its_caution() -> None:
    """Saving and updating carry what can go wrong, in the step itself and in its text for programs."""
    steps = list_steps(MACHINE_ID, GUIDE, [PACK], NOTED, "2.10")
    assert [step.caution for step in steps[1:3]] == [SAVE_CAUTION, UPDATE_CAUTION]
    assert "Do not cut the power" in str(steps[2])
    up_to_date = list_steps(MACHINE_ID, GUIDE, [PACK], FirmwareNote("2.10", "2025-01-02", None, "J3"), "2.10")
    assert up_to_date[2].caution == ""


def test_without_a_maker_file_the_manual_is_named() -> None:
    """A maker nobody described gets the same steps, with the maker's manual in place of the menus."""
    said = " ".join(str(step) for step in list_steps(None, EntryGuide(""), [PACK], None, None))
    for words in (
        "No machine ID is on record",
        "memory stick (see the maker's manual)",
        "open the menu for upgrades (see the maker's manual)",
    ):
        assert words in said


def test_the_place_in_the_manual_is_in_the_cautions() -> None:
    """Where the maker file names a chapter of the manual, the last caution does; all others stay."""
    assert cautions_for(EntryGuide("")) == CAUTIONS
    named = cautions_for(GUIDE)
    assert named[:-1] == CAUTIONS[:-1]
    assert named[-1].startswith("Follow the maker's manual (chapter 9) and local rules")


@pytest.mark.parametrize(
    ("noted", "needs", "expected"),
    [("2.9", "2.10", False), ("2.10", "2.10", True), ("10.0", "9.9", True), ("2.9", None, None), (None, "2.9", None)],
)
def test_firmware_is_held_against_what_is_needed(noted: str | None, needs: str | None, expected: bool | None) -> None:
    """Versions are compared number by number; without a note or a need there is nothing to tell."""
    note = None if noted is None else FirmwareNote(noted, "2025-01-02", None, "J3")
    assert is_enough(note, needs) is expected


def test_each_upgrade_says_what_to_do_with_its_code() -> None:
    """A code is entered, asked for, or left alone."""
    words = {(True, False): "enter", (False, True): "ask the maker", (False, False): "do not enter"}
    for (usable, ask), expected in words.items():
        assert SheetUpgrade(None, None, None, False, "E5", usable, "Motifs", ask=ask).state == expected
