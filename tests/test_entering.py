"""What is typed at the bench is checked at once, without writing anything."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import sample_archive

from counterfoil import entering, pipeline
from counterfoil.archive import Archive
from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import Kind


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give an archive with the makers of the samples and one machine, M1."""
    made = sample_archive(tmp_path / "archive")
    pipeline.record(
        made,
        customer="new",
        values=[(Kind.CUSTOMER_NAME, "Ada Birkeland"), (Kind.MACHINE_ID, "VL-8157-3252-4"), (Kind.MAKER, "Vesterlyng")],
        firmware_after="2.40",
        who="kim",
        why="",
    )
    yield made
    made.close()


def test_a_value_is_checked_as_it_is_typed(archive: Archive) -> None:
    """A good code is passed, a wrong check digit and a date with two readings are named, look-alikes offered."""
    good = entering.check_typed(archive, Kind.MACHINE_ID, "vl 8157 3252 4")
    assert (good.odd, good.meant) == ((), ())
    wrong = entering.check_typed(archive, Kind.MACHINE_ID, "VL-8157-3252-5")
    assert wrong.odd == ("The check digit of the machine ID VL-8157-3252-5 does not fit.",)
    meant = entering.check_typed(archive, Kind.MACHINE_ID, "VL-8I57-3Z52-4")
    assert meant.meant == ("VL-8157-3252-4",)
    day = entering.check_typed(archive, Kind.PURCHASE_DATE, "3/4/2026")
    assert set(day.fact.readings) == {"2026-03-04", "2026-04-03"} and len(day.odd) == 1
    with pytest.raises(SettlementRefused, match="is no email address"):
        entering.check_typed(archive, Kind.EMAIL_ADDRESS, "ada")


def test_no_code_is_said_of_a_wrong_one(archive: Archive) -> None:
    """What is odd about a product key is said with the key masked."""
    (said,) = entering.check_typed(archive, Kind.PRODUCT_KEY, "QP12-4444-5555-61", maker="Vesterlyng").odd
    assert "4444" not in said and "5-61" in said


@pytest.mark.parametrize(
    ("typed", "kinds"),
    [
        ("VL-8157-3252-4", (Kind.MACHINE_ID,)),
        ("VL-8I57-3252-4", (Kind.MACHINE_ID,)),
        ("VB45-2268294", (Kind.SERIAL_NUMBER,)),
        ("no maker's 123456", (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)),
    ],
)
def test_which_identifier_it_may_be(archive: Archive, typed: str, kinds: tuple[Kind, ...]) -> None:
    """The makers' shapes tell a machine ID from a serial number, also through a look-alike; else it may be both."""
    assert entering.kinds_of(archive, typed) == kinds


def test_known_machines_are_found(archive: Archive) -> None:
    """A known number is found whole in any spelling; its end and a slip find it as one that is like it."""
    whole, alike = entering.identified(archive, "vl81573252-4")
    assert ([h.machine for h in whole], alike) == (["M1"], [])
    for typed in ("VL-8157-3252-5", "3252-4", "VL-8157-3225-4"):
        whole, alike = entering.identified(archive, typed)
        assert (whole, [h.machine for h in alike]) == ([], ["M1"]), typed
    assert entering.identified(archive, "HG-000000-K") == ([], [])


def test_firmware_that_goes_backwards_is_said(archive: Archive) -> None:
    """Against the version noted last and within an update; a new machine has no last one."""
    assert len(entering.firmware_backwards(archive, "M1", "2.9", None)) == 1
    assert entering.firmware_backwards(archive, "M1", "2.40", "2.41") == ()
    assert len(entering.firmware_backwards(archive, None, "2.10", "2.9")) == 1
    assert entering.firmware_backwards(archive, None, "2.9", None) == ()
    with pytest.raises(UsageProblem, match="no firmware version"):
        entering.firmware_backwards(archive, "M1", "new", None)


def test_asking_and_correcting(archive: Archive) -> None:
    """What speaks against an entry is said before it is made; a correction is held against the machine's maker."""
    values = [(Kind.MACHINE_ID, "VL-8157-3252-4")]
    assert len(entering.objections(archive, customer=None, values=values, firmware_after="2.9")) == 1
    assert len(archive.store.journal()) == 1
    with pytest.raises(SettlementRefused, match="check digit"):
        entering.correct(archive, "J1", values=[(Kind.MACHINE_ID, "VL-8157-3252-5")], who="kim", why="")
    done = entering.correct(archive, "j1", values=[(Kind.MODEL, "Brise 300")], who="kim", why="")
    assert done == ("C1", "M1", "J2")
