"""The restore sheet: which codes may be entered, in which order, for whom."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from answers_world import (
    MACHINE_ID,
    MARIT,
    MARIT_AGAIN,
    MARIT_SWAPPED,
    OLD_MACHINE_ID,
    TRADED_IN,
    Desk,
    machine,
    noted,
    upgrade,
)

from counterfoil.answers.guides import EntryGuide, UpgradeGuide, version_key
from counterfoil.answers.restore import (
    CAUTIONS,
    Revealed,
    assemble,
    held_machines,
    latest_firmware,
    restore,
)
from counterfoil.errors import NeedsALook, RecordUnknown, UsageProblem
from counterfoil.model import FirmwareNote, Holding, Kind
from counterfoil.records.settling import settle

GUIDE = EntryGuide(
    "Vellamar",
    also=("Vellamar Oy",),
    enter=(Kind.ACTIVATION_CODE, Kind.PRODUCT_KEY),
    where="Setup, Upgrades",
    upgrades=(
        UpgradeGuide("Embroidery Star", also=("Broderie Étoilée",), order=1, needs_firmware="2.10"),
        UpgradeGuide("Stitch Pack 2", order=2, needs_firmware="2.9"),
    ),
)
SHOWN = Revealed("anna", "machine was reset", "J1")
ID = noted(Kind.MACHINE_ID, MACHINE_ID)
STAR = upgrade("Broderie Étoilée", "BE11-5555-C3C3", "Q2Q2-8888-H7H7-10RT", source="E6")


def test_codes_are_entered_in_the_makers_order() -> None:
    """Upgrades follow the maker's order, under any of their names, and codes the maker's order of entry."""
    sheet = assemble(machine(ID, upgrades=(upgrade(), STAR)), [GUIDE], revealed=SHOWN)
    assert [u.name for u in sheet.upgrades] == ["Broderie Étoilée", "Stitch Pack 2"]
    entries = [(entry.kind, entry.code) for step in sheet.steps[3:] for entry in step.entries]
    assert entries == [
        (Kind.ACTIVATION_CODE, "Q2Q2-8888-H7H7-10RT"),
        (Kind.PRODUCT_KEY, "BE11-5555-C3C3"),
        (Kind.ACTIVATION_CODE, "7K5S-UV6G-99L1-44TT"),
        (Kind.PRODUCT_KEY, "SP2B-8XQ0-ZZ12"),
    ]
    assert (
        sheet.steps[3].text
        == "On the machine, open Setup, Upgrades and enter for Broderie Étoilée (needs firmware 2.10):"
    )
    assert sheet.sources == ("E6", "E5")


def test_the_machine_id_is_compared_before_anything_is_entered() -> None:
    """The first step guards against a board that was swapped since: the machine's ID is compared, and it says stop."""
    first = assemble(machine(ID, upgrades=(upgrade(),))).steps[0]
    assert [entry.code for entry in first.entries] == [MACHINE_ID]
    assert "If it is another one, stop" in first.text


def test_codes_are_masked_unless_revealed() -> None:
    """Without a journal entry no code leaves in clear, not in steps nor in JSON."""
    said = str(assemble(machine(ID, upgrades=(upgrade(), replace(STAR, live=False)))).to_json())
    for code in ("7K5S", "SP2B", "BE11", "Q2Q2", "UV6G"):
        assert code not in said
    assert "••••-••••-••••-44TT" in said


def test_a_dead_code_is_never_among_the_steps() -> None:
    """A code for another machine ID is listed as not to be entered, with what to ask the maker for."""
    dead = upgrade(machine_id=OLD_MACHINE_ID, live=False)
    sheet = assemble(machine(ID, upgrades=(dead, STAR)), [GUIDE], revealed=SHOWN)
    assert [(u.name, u.live, u.usable) for u in sheet.upgrades] == [
        ("Broderie Étoilée", True, True),
        ("Stitch Pack 2", False, False),
    ]
    assert "7K5S" not in " ".join(str(step) for step in sheet.steps)
    last = sheet.steps[-1]
    assert last.barred and "Ask the maker for a new code with the new machine ID and the product key." in last.text
    assert [(e.kind, e.code) for e in last.entries] == [
        (Kind.MACHINE_ID, MACHINE_ID),
        (Kind.PRODUCT_KEY, "SP2B-8XQ0-ZZ12"),
    ]


def test_a_code_for_another_machine_id_is_dead_whatever_its_mark() -> None:
    """A code marked live for a machine ID that the machine no longer has is not entered either."""
    sheet = assemble(machine(ID, upgrades=(upgrade(machine_id=OLD_MACHINE_ID),)), revealed=SHOWN)
    assert (sheet.upgrades[0].live, sheet.upgrades[0].usable) == (False, False)


def test_two_codes_for_one_key_are_both_held_back() -> None:
    """Where the records contradict each other, neither code is entered until a person has settled it."""
    twice = (upgrade(), upgrade(code="XXXX-UV6G-99L1-44TT", source="E8"))
    sheet = assemble(machine(ID, upgrades=twice), revealed=SHOWN)
    assert [u.usable for u in sheet.upgrades] == [False, False]
    assert "another activation code for the same product key and machine ID (E8)" in sheet.steps[0].text
    settled = (upgrade(), upgrade(code="XXXX-UV6G-99L1-44TT", source="J8", confirmed=True))
    assert [u.usable for u in assemble(machine(ID, upgrades=settled)).upgrades] == [False, True]


def test_a_missing_activation_code_is_asked_for() -> None:
    """A product key without its code gives a step that says how to get one."""
    sheet = assemble(machine(ID, upgrades=(upgrade(code=None),)), revealed=SHOWN)
    assert len(sheet.steps) == 1
    assert "No activation code is on record. Ask the maker" in sheet.steps[0].text


def test_a_nameless_upgrade_is_told_by_its_key() -> None:
    """Where a confirmation named no upgrade, the beginning of the product key tells which one it is."""
    guide = EntryGuide("Vellamar", upgrades=(UpgradeGuide("Stitch Pack 2", needs_firmware="2.9", key_prefix="SP"),))
    sheet = assemble(machine(ID, upgrades=(upgrade(name=None),)), [guide])
    assert (sheet.upgrades[0].name, sheet.needs_firmware) == (None, "2.9")
    assert "enter for Stitch Pack 2 (told by its product key) (needs firmware 2.9):" in sheet.steps[3].text


def test_nothing_on_record_is_said() -> None:
    """A machine without upgrades gets a sheet that says so."""
    assert [str(step) for step in assemble(machine(ID)).steps] == [
        "No upgrade of this machine is on record: there is nothing to enter."
    ]


@pytest.mark.parametrize(
    ("noted_version", "said"),
    [
        ("2.9", "The upgrades need firmware 2.10 or newer (2.9 was noted on 2025-01-02)"),
        ("2.10", "Check that the machine shows firmware 2.10 or newer"),
        ("3.0", "Check that the machine shows firmware 2.10 or newer"),
    ],
)
def test_firmware_needed_is_held_against_firmware_noted(noted_version: str, said: str) -> None:
    """The highest version that an upgrade needs is compared number by number with the one noted last."""
    notes = (FirmwareNote(noted_version, "2025-01-02", "after", "J3"), FirmwareNote("4.0", "2024-01-01", None, "E5"))
    sheet = assemble(machine(ID, upgrades=(upgrade(), STAR), firmware=notes), [GUIDE])
    assert sheet.needs_firmware == "2.10"
    assert sheet.steps[2].text.startswith(said)


def test_firmware_not_noted_is_looked_up_first() -> None:
    """Without a firmware note the sheet says so."""
    sheet = assemble(machine(ID, upgrades=(upgrade(),)), [GUIDE])
    assert "2.9 or newer (none is noted)" in sheet.steps[2].text
    assert "note it in the profile" in assemble(machine(ID, upgrades=(upgrade(),))).steps[2].text


def test_versions_are_compared_as_numbers() -> None:
    """2.10 is newer than 2.9, 2.0 is 2; of two notes of one day the one after the update is the latest."""
    assert version_key("2.10") > version_key("2.9")
    assert version_key("V2.0") == version_key("2")
    notes = (FirmwareNote("2.9", "2025-01-02", "after", "J3"), FirmwareNote("2.10", "2025-01-02", "before", "J3"))
    found = latest_firmware(machine(firmware=notes))
    assert found is not None and found.version == "2.9"


def test_cautions_say_what_can_hurt() -> None:
    """Every sheet warns of mains power, interrupted updates, lost stitches and the needle, and points to the manual."""
    text = " ".join(assemble(machine()).cautions)
    assert assemble(machine()).cautions == CAUTIONS
    for words in (
        "before opening the machine, switch it off and unplug it",
        "Never interrupt a firmware update",
        "Save own stitches and settings to a memory stick",
        "needle",
        "Follow the maker's manual and local rules",
        "qualified technicians",
    ):
        assert words in text


def test_json_has_the_keys_of_the_contract() -> None:
    """The JSON form has the agreed keys and nothing else."""
    sheet = assemble(machine(ID, upgrades=(upgrade(),)), revealed=SHOWN).to_json()
    assert list(sheet) == ["machine", "customer", "machine_id", "upgrades", "steps"]
    assert sheet["upgrades"] == [
        {
            "name": "Stitch Pack 2",
            "product_key": "SP2B-8XQ0-ZZ12",
            "activation_code": "7K5S-UV6G-99L1-44TT",
            "live": True,
            "message": "E5",
        }
    ]
    assert (sheet["machine"], sheet["customer"], sheet["machine_id"]) == ("M7", "C3", MACHINE_ID)


def test_revealing_writes_the_journal_first(tmp_path: Path) -> None:
    """Codes in clear come with a journal entry that says who, what and why, and holds no code."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    sheet = restore(desk.store, "M1", reveal=True, who="anna", reason="machine was reset")
    assert sheet.upgrades[0].activation_code == MARIT[Kind.ACTIVATION_CODE]
    (entry,) = desk.store.journal(subject="M1")
    assert (entry.who, entry.action, entry.why) == ("anna", "reveal", "machine was reset")
    assert sheet.revealed == Revealed("anna", "machine was reset", entry.id, entry.at, "", "not stated")
    assert (entry.detail["asked_by"], entry.detail["known_by"]) == (None, "not stated")
    assert "7K5S" not in str(entry.detail)


@pytest.mark.parametrize(("who", "reason"), [("", "why"), ("anna", ""), ("anna", "  ")])
def test_revealing_without_who_or_why_is_refused(tmp_path: Path, who: str, reason: str) -> None:
    """Nobody sees a code without a name and a reason, and a refusal leaves no journal entry."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    with pytest.raises(UsageProblem, match="only to a named person and for a reason"):
        restore(desk.store, "M1", reveal=True, who=who, reason=reason)
    assert desk.store.journal() == []


def test_masked_sheets_leave_no_journal_entry(tmp_path: Path) -> None:
    """Looking at a masked sheet is no event."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    assert restore(desk.store, "C1").machine == "M1"
    assert desk.store.journal() == []


def test_a_swapped_board_makes_old_codes_dead(tmp_path: Path) -> None:
    """After the machine was activated anew under a new machine ID, codes for the old one are not to be entered."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    desk.confirm(MARIT_AGAIN, day="2024-03-01")
    desk.confirm(MARIT_SWAPPED, day="2025-05-05")
    sheet = restore(desk.store, "M1", reveal=True, who="anna", reason="board was swapped")
    assert sheet.machine_id == "VM-999001-P"
    assert [(u.activation_code, u.usable) for u in sheet.upgrades] == [
        ("NEWC-0DE5-1111-7PPL", True),
        ("7K5S-UV6G-99L1-44TT", False),
        ("Q2Q2-8888-H7H7-10RT", False),
    ]
    replaced, asked = [step for step in sheet.steps if step.barred]
    assert replaced.text.endswith("it was made for another machine ID and is replaced by that of E3.")
    assert replaced.entries == ()
    assert [entry.code for entry in asked.entries] == ["VM-999001-P", "BE11-5555-C3C3"]


def test_only_the_present_holder_gets_codes(tmp_path: Path) -> None:
    """A customer without the machine, and an id nobody has, are refused before anything is shown."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    other = MARIT | {
        Kind.CUSTOMER_NAME: "Tobias Renn",
        Kind.EMAIL_ADDRESS: "tobias@renn.example",
        Kind.MACHINE_ID: "VM-300000-B",
        Kind.SERIAL_NUMBER: "700-55-7777",
        Kind.PRODUCT_KEY: "SP9B-8XQ9-Z912",
        Kind.ACTIVATION_CODE: "A9K5-U96G-79L1-F4TT",
    }
    desk.confirm(other)
    assert held_machines(desk.store, "C2") == ("M2",)
    with pytest.raises(NeedsALook, match="C2 does not have M1; C1 has it now"):
        restore(desk.store, "M1", customer="C2", reveal=True, who="anna", reason="asked")
    assert desk.store.journal() == []
    with pytest.raises(RecordUnknown):
        restore(desk.store, "M9")


def test_who_had_it_before_is_told_apart() -> None:
    """A machine that changed hands is the later holder's; the former holder's name is not on the sheet."""
    holders = (Holding("C3", "M7", "2024-01-15", "2025-06-10", "E5"), Holding("C4", "M7", "2025-06-10", None, "E9"))
    sheet = assemble(machine(ID, upgrades=(upgrade(),), holders=holders), holder="Tobias Renn", withheld=("E5",))
    assert (sheet.customer, sheet.holder) == ("C4", "Tobias Renn")
    assert sheet.sources == ()


def test_a_trade_in_moves_the_codes_and_leaves_the_former_holder_out(tmp_path: Path) -> None:
    """After a trade-in the codes go to the new holder only, and the former holder's message is held back."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    second = desk.confirm(TRADED_IN, day="2025-06-12")
    settle(desk.store, desk.settings, second, customer="new", machine="M1", who="anna", why="traded in at the shop")
    sheet = restore(desk.store, "M1", customer="C2", reveal=True, who="anna", reason="machine was reset")
    assert (sheet.customer, sheet.holder) == ("C2", "Tobias Renn")
    assert [u.activation_code for u in sheet.upgrades if u.usable] == ["7K5S-UV6G-99L1-44TT", "TOBI-8888-H7H7-10RT"]
    assert (sheet.sources, sheet.withheld) == ((second,), ("E1",))
    with pytest.raises(NeedsALook, match="C1 had M1 until 2025-06-10; C2 has it now"):
        restore(desk.store, "M1", customer="C1")
    with pytest.raises(NeedsALook, match=r"C1 has no machine now \(had M1 until 2025-06-10\)"):
        restore(desk.store, "C1")


def test_two_persons_words_are_no_code_to_enter() -> None:
    """Two different activation codes for one product key, each entered by a person, are both barred: one is wrong."""
    first, second = (upgrade(code=c, source=s, confirmed=True) for c, s in (("AAAA-1111", "J1"), ("BBBB-2222", "J2")))
    read = upgrade(code="CCCC-3333", source="E5")
    sheet = assemble(machine(ID, upgrades=(read, first, second)), [], revealed=SHOWN)
    assert [u.usable for u in sheet.upgrades] == [False, False, False]
    assert "(J2)" in sheet.upgrades[1].instead and "(J1)" in sheet.upgrades[2].instead
    assert not any(entry.kind is Kind.ACTIVATION_CODE for step in sheet.steps for entry in step.entries)
    one = assemble(machine(ID, upgrades=(read, first)), [], revealed=SHOWN)
    assert [(u.message, u.usable) for u in one.upgrades] == [("E5", False), ("J1", True)]


def test_a_late_confirmation_does_not_bring_an_old_board_back(tmp_path: Path) -> None:
    """After a swap of the main board, a mail about an upgrade of the old board that comes in later makes neither its
    own code nor the older ones live, and the new board's stay; a person who notes the old machine ID again does."""
    desk = Desk(tmp_path / "archive")
    late = MARIT_AGAIN | {Kind.PURCHASE_DATE: "2024-01-15"}
    for values, day in ((MARIT, "2024-01-20"), (MARIT_SWAPPED, "2024-06-01"), (late, "2025-02-02")):
        ref = desk.confirm(values, day=day)
        if desk.store.message(ref).machine is None:
            settle(desk.store, desk.settings, ref, customer="C1", machine="M1", who="anna", why="board swapped")
    profile = desk.store.machine("M1")
    assert len(profile.messages) == 3
    sheet = restore(desk.store, "M1")
    assert sheet.machine_id == MARIT_SWAPPED[Kind.MACHINE_ID]
    assert {u.message: u.live for u in sheet.upgrades} == {"E1": False, "E2": True, "E3": False}
    back = noted(Kind.MACHINE_ID, MACHINE_ID, "J9", confirmed=True, number=99, at="2025-03-01T10:00:00+00:00")
    again = replace(profile, facts=(*profile.facts, back)).latest(Kind.MACHINE_ID)
    assert again is not None and again.fact.value == MACHINE_ID
