"""The list of cover that ends soon."""

from __future__ import annotations

import csv
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from answers_world import MARIT, TRADED_IN, Desk

from counterfoil.answers.coverage import Term
from counterfoil.answers.warranty import STANDING_NOTE
from counterfoil.answers.warranty_ending import COLUMNS, ending, last_day_within
from counterfoil.model import Kind
from counterfoil.records.extensions import extend

TERMS = (Term("machine", 24, number=1), Term("motor", 36, start="registration", number=2))
#: Another machine, of which only the registration is known.
TOBIAS: dict[Kind, str] = TRADED_IN | {
    Kind.MACHINE_ID: "VM-300300-T",
    Kind.SERIAL_NUMBER: "700-88-0001",
    Kind.REGISTRATION_DATE: "2024-02-10",
}
del TOBIAS[Kind.PURCHASE_DATE]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Two machines: one bought on 15 January 2024, one registered on 10 February 2024."""
    desk = Desk(tmp_path / "archive")
    desk.confirm(MARIT)
    desk.confirm(TOBIAS, day="2024-02-11")
    return desk


@pytest.mark.parametrize(
    ("within", "last"),
    [("60d", "2026-03-01"), ("60", "2026-03-01"), ("0d", "2025-12-31"), ("8w", "2026-02-25"), ("2m", "2026-02-28"),
     (" 2 months ", "2026-02-28"), ("1 Week", "2026-01-07")],
)  # fmt: skip
def test_a_time_is_read(within: str, last: str) -> None:
    """Days, weeks and months are read; months go to the day with the same number or the month's last."""
    assert last_day_within(date(2025, 12, 31), within) == date.fromisoformat(last)


@pytest.mark.parametrize("within", ["", "d", "-3d", "3y", "3.5d", "sixty", "99999d"])
def test_what_is_no_time_is_refused(within: str) -> None:
    """What is no such time is said."""
    with pytest.raises(ValueError, match="no time such as"):
        last_day_within(date(2025, 12, 31), within)


def test_what_ends_in_the_time_is_listed_by_last_day(desk: Desk) -> None:
    """Both ends of the time count; what is certain comes first, what is assumed stands apart; all have contacts."""
    found = ending(desk.store, TERMS, date(2025, 12, 1), date(2026, 2, 10))
    (sure,) = found.parts[0].rows
    assert [sure[key] for key in ("machine", "part", "last_day", "days_left", "state")] == [
        "M1", "machine", "2026-01-15", 45, "covered",
    ]  # fmt: skip
    assert (sure["name"], sure["email"]) == ("Marit Solvang", "marit@solvang.example")
    (assumed,) = found.parts[1].rows
    assert (assumed["machine"], assumed["last_day"], assumed["state"]) == ("M2", "2026-02-10", "covered, assumed")
    assert ending(desk.store, TERMS, date(2025, 12, 1), date(2026, 1, 14)).rows == ()
    assert ending(desk.store, TERMS, date(2026, 1, 16), date(2026, 2, 9)).rows == ()


def test_every_row_and_form_says_who_decides(desk: Desk) -> None:
    """The sentence that the maker decides stands under the list, in the JSON, and in every row of the CSV."""
    found = ending(desk.store, TERMS, date(2025, 12, 1), date(2026, 12, 1))
    assert found.notes == (STANDING_NOTE,)
    assert STANDING_NOTE in str(found.to_json()["notes"])
    rows = list(csv.DictReader(StringIO(found.to_csv())))
    assert len(rows) == 2
    assert {row["note"] for row in rows} == {STANDING_NOTE}
    assert set(rows[0]) == {column.replace("_", " ") for column in COLUMNS} | {"group"}


def test_an_extension_moves_the_last_day(desk: Desk) -> None:
    """With an extension the row moves to the new last day."""
    extend(desk.store, "M1", ["machine"], 12, date(2025, 12, 1), who="anna", why="sold")
    assert ending(desk.store, TERMS, date(2025, 12, 1), date(2026, 12, 1)).rows == ()
    (row,) = ending(desk.store, TERMS, date(2026, 12, 1), date(2027, 2, 1)).parts[0].rows
    assert (row["part"], row["last_day"]) == ("machine", "2027-01-15")
