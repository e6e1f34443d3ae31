"""The desk's figures, counted by hand for an archive of a few messages."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from answers_world import MARIT, Desk

from counterfoil.answers.desk import desk as figures
from counterfoil.model import Kind
from counterfoil.records.settling import settle, undo

OLA = MARIT | {Kind.CUSTOMER_NAME: "Ola Solvang", Kind.MACHINE_ID: "VM-555000-C", Kind.SERIAL_NUMBER: "700-99-4444"}
TODAY = date(2025, 1, 8)


def of(number: int) -> dict[Kind, str]:
    """Return the values of another machine of Ola Solvang, at Marit's address."""
    codes = {Kind.MACHINE_ID: f"VM-55500{number}-C", Kind.SERIAL_NUMBER: f"700-99-444{number}"}
    more = {
        Kind.PRODUCT_KEY: f"SP7{number}-8XQ0-ZZ9{number}",
        Kind.ACTIVATION_CODE: f"OLA{number}-UV6G-99L1-44T{number}",
    }
    return OLA | codes | more


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """One filed on 2 January 2025, one open the same week (2025-W01, from 30 December); one open on 6 January."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT, day="2025-01-02")
    desk.confirm(of(1), day="2024-12-30")
    desk.confirm(of(2), day="2025-01-06")
    return desk


def test_weeks_are_those_of_iso_8601(desk: Desk) -> None:
    """Messages count in their week by ISO 8601 (2024-12-30 is of 2025-W01), empty weeks are shown, older are not."""
    found = figures(desk.store, today=TODAY, weeks=3)
    assert [(w.week, w.begins.isoformat()) for w in found.weeks] == [
        ("2024-W52", "2024-12-23"),
        ("2025-W01", "2024-12-30"),
        ("2025-W02", "2025-01-06"),
    ]
    assert [(w.came_in, w.filed, w.open, w.aside) for w in found.weeks] == [(0, 0, 0, 0), (2, 1, 1, 0), (1, 0, 1, 0)]
    assert [w.touchless for w in found.weeks] == [None, 0.5, 0.0]
    assert found.total.came_in == 3
    assert found.total.touchless == pytest.approx(1 / 3)
    assert [w.came_in for w in figures(desk.store, today=TODAY, weeks=1).weeks] == [1]


def test_the_oldest_question(desk: Desk) -> None:
    """The oldest open message is named with its age in days; none is where all is settled."""
    found = figures(desk.store, today=TODAY)
    assert (found.oldest, found.oldest_days) == ("E2", 9)
    settle(desk.store, desk.settings, "E2", customer="new", who="kim", why="")
    assert figures(desk.store, today=TODAY).oldest == "E3"
    settle(desk.store, desk.settings, "E3", aside=True, who="kim", why="")
    last = figures(desk.store, today=TODAY)
    assert (last.oldest, last.oldest_days) == (None, None)
    assert last.to_json()["oldest_question"] is None


def test_what_a_person_filed_is_not_touchless(desk: Desk) -> None:
    """A message filed by a person counts as filed, by hand; after the undoing it is open again."""
    settle(desk.store, desk.settings, "E2", customer="new", who="kim", why="")
    total = figures(desk.store, today=TODAY).total
    assert (total.filed, total.by_hand, total.open) == (2, 1, 1)
    assert total.touchless == pytest.approx(1 / 3)
    undo(desk.store, desk.settings, "J1", "kim", "")
    total = figures(desk.store, today=TODAY).total
    assert (total.filed, total.by_hand, total.open) == (1, 0, 2)


def test_figures_as_json(desk: Desk) -> None:
    """The figures are plain JSON with stable keys."""
    data = figures(desk.store, today=TODAY, weeks=1).to_json()
    assert json.loads(json.dumps(data)) == data
    assert data["weeks"] == [
        {"week": "2025-W02", "begins": "2025-01-06", "came_in": 1, "filed": 0, "open": 1, "aside": 0, "by_hand": 0}
        | {"touchless": 0.0}
    ]
    assert data["oldest_question"] == {"id": "E2", "days": 9}


def test_an_empty_archive(tmp_path: Path) -> None:
    """Without messages every figure is nought and no share is told."""
    found = figures(Desk(tmp_path).store, today=TODAY, weeks=2)
    assert (found.total.came_in, found.total.touchless, found.oldest) == (0, None, None)


def test_weeks_before_the_first_day_are_none(tmp_path: Path) -> None:
    """In the calendar's first week there are no weeks before: only those that there are, are counted."""
    found = figures(Desk(tmp_path).store, today=date(1, 1, 10), weeks=12)
    assert [week.begins for week in found.weeks] == [date(1, 1, 1), date(1, 1, 8)]
