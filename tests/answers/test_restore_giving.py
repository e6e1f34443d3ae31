"""Codes go to the present holder, known by what is on file; all else is refused, or overridden with a reason."""

from __future__ import annotations

from pathlib import Path

import pytest
from answers_world import MARIT, TRADED_IN, Desk

from counterfoil.answers.restore import RestoreSheet, restore
from counterfoil.answers.restore_giving import KnownBy, Way, allow, mismatches, on_file, read_known_by, ways
from counterfoil.errors import NeedsALook, UsageProblem
from counterfoil.model import Kind
from counterfoil.records.settling import settle

NUMBER, OTHER_NUMBER = "+442079460011", "+442079460012"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with a machine that was traded in: C1 had M1, C2 has it now; both have a number on file."""
    desk = Desk(tmp_path / "archive")
    desk.confirm(MARIT | {Kind.PHONE_NUMBER: OTHER_NUMBER})
    second = desk.confirm(TRADED_IN | {Kind.PHONE_NUMBER: NUMBER}, day="2025-06-12")
    settle(desk.store, desk.settings, second, customer="new", machine="M1", who="anna", why="traded in at the shop")
    return desk


def ask(desk: Desk, known: str, customer: str | None = None, override: str = "") -> RestoreSheet:
    """Ask for the codes of the machine as one who is known in this way."""
    known_by = read_known_by(known, desk.store.customer("C2"), "GB")
    return restore(
        desk.store,
        "M1",
        customer=customer,
        reveal=True,
        who="anna",
        reason="reset",
        known_by=known_by,
        override=override,
    )


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("shop", "in the shop with the machine"),
        ("call-back", f"called back on {NUMBER}"),
        ("020 7946 0011", f"called back on {NUMBER}"),
        ("E-Mail", "wrote from tobias@renn.example"),
        ("Tobias@Renn.example", "wrote from tobias@renn.example"),
    ],
)
def test_a_caller_known_by_what_is_on_file_gets_the_codes(desk: Desk, typed: str, said: str) -> None:
    """In the shop, by a number or by an address on file: shown, and the journal says how the caller was known."""
    sheet = ask(desk, typed)
    entry = desk.store.journal(subject="M1")[-1]
    assert sheet.revealed is not None and sheet.revealed.known_by == said
    assert (entry.detail["known_by"], entry.detail["asked_by"], entry.why) == (said, "C2", "reset")
    assert "mismatch" not in entry.detail


@pytest.mark.parametrize(
    ("typed", "customer", "why"),
    [
        ("shop", "C1", "C1 had M1 until 2025-06-10; C2 has it now."),
        ("020 7946 0099", None, r"\+442079460099 is not on file of C2, who has M1 now\."),
        ("020 7946 0012", None, r"\+442079460012 is not on file of C2, who has M1 now; it is on file of C1\."),
        ("eve@elsewhere.example", None, "eve@elsewhere.example is not on file of C2"),
        ("marit@solvang.example", None, "it is on file of C1"),
    ],
)
def test_what_does_not_agree_is_refused_with_the_reason(desk: Desk, typed: str, customer: str | None, why: str) -> None:
    """A former holder, a strange number, a strange address: no code is shown, and the journal stays as it was."""
    before = desk.store.journal()
    with pytest.raises(NeedsALook, match=why) as refused:
        ask(desk, typed, customer)
    assert "--override" in refused.value.next_step
    assert desk.store.journal() == before


def test_an_override_needs_a_reason_and_is_journalled(desk: Desk) -> None:
    """Given all the same, the journal and the sheet hold what did not agree and why it was overridden."""
    with pytest.raises(NeedsALook):
        ask(desk, "shop", "C1", override="  ")
    sheet = ask(desk, "020 7946 0099", "C1", override="estate papers seen")
    mismatch = (
        "C1 had M1 until 2025-06-10; C2 has it now.",
        "+442079460099 is not on file of C2, who has M1 now.",
    )
    entry = desk.store.journal(subject="M1")[-1]
    assert (entry.action, entry.detail["override"], entry.detail["asked_by"]) == ("reveal", "estate papers seen", "C1")
    assert entry.detail["mismatch"] == list(mismatch)
    assert sheet.revealed is not None
    assert (sheet.revealed.mismatch, sheet.revealed.override) == (mismatch, "estate papers seen")
    assert sheet.revealed.asked_by == "Marit Solvang (C1)"


def test_not_stated_is_journalled_as_such(desk: Desk) -> None:
    """Where nobody says how the caller was known, the journal says that."""
    restore(desk.store, "M1", reveal=True, who="anna", reason="reset")
    assert desk.store.journal(subject="M1")[-1].detail["known_by"] == "not stated"


def test_a_machine_that_nobody_has_is_nobody_s_to_ask_for(desk: Desk) -> None:
    """A caller for a machine without a holder agrees with nothing on record, however known."""
    from dataclasses import replace

    machine = desk.store.machine("M1")
    free = replace(machine, holders=tuple(replace(h, until="2025-12-01") for h in machine.holders))
    assert mismatches(desk.store, free, None, KnownBy(Way.SHOP)) == ("Nobody has M1 now.",)
    assert mismatches(desk.store, free, None, None) == ()


def test_known_by_nothing_is_a_mismatch(desk: Desk) -> None:
    """Who chooses on the terminal that no way holds is refused like any other mismatch."""
    found = mismatches(desk.store, desk.store.machine("M1"), None, KnownBy(Way.NONE))
    assert found == ("The caller is known neither by a contact on file nor by the machine.",)
    with pytest.raises(NeedsALook):
        allow(found, "")


def test_the_ways_offered_are_those_on_file(desk: Desk) -> None:
    """The shop, each number, each address, none: nothing that is not on file is offered."""
    said = [str(way) for way in ways(desk.store.customer("C2"))]
    numbers = on_file(desk.store.customer("C2"), Kind.PHONE_NUMBER)
    assert list(numbers) == [NUMBER]
    assert said == [
        "in the shop with the machine",
        f"called back on {NUMBER}",
        "wrote from tobias@renn.example",
        "by none of these",
    ]
    assert [str(way) for way in ways(None)] == [said[0], said[-1]]


def test_a_contact_that_is_lacking_or_not_the_only_one(desk: Desk) -> None:
    """Without a number on file a call back proves nothing; of several the one used must be named."""
    nobody = read_known_by("call-back", None, "GB")
    assert nobody.contact == ""
    assert mismatches(desk.store, desk.store.machine("M1"), None, nobody) == ("No telephone number of C2 is on file.",)
    third = desk.confirm(TRADED_IN | {Kind.EMAIL_ADDRESS: "t.renn@post.example"}, day="2025-07-01")
    settle(desk.store, desk.settings, third, customer="C2", machine="M1", who="anna", why="his other address")
    with pytest.raises(UsageProblem, match=r"C2 has 2 addresses on file: tobias@renn\.example, t\.renn@post\.example"):
        read_known_by("e-mail", desk.store.customer("C2"), "GB")


@pytest.mark.parametrize("typed", ["", "yes", "12", "@", "known to me"])
def test_what_says_nothing_is_refused(desk: Desk, typed: str) -> None:
    """Any other text is a wrong use, and the refusal lists what can be said."""
    with pytest.raises(UsageProblem, match="does not say how the caller was known") as refused:
        read_known_by(typed, desk.store.customer("C2"), "GB")
    assert "call-back" in refused.value.next_step
