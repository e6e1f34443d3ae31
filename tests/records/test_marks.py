"""Marks of folders on mail servers: one a folder, never back within a numbering, in old archives too."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from counterfoil.records import schema
from counterfoil.records.marks import Mark, move_mark, read_mark
from counterfoil.records.store import Store

KEY = ("desk@mail.shop.example:993", "INBOX")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give new records."""
    made = Store(tmp_path / "records.db", create=True)
    yield made
    made.close()


def test_a_mark_never_goes_back(store: Store) -> None:
    """Within one numbering the last UID only grows, also when two runs report in turn."""
    assert read_mark(store, *KEY) is None
    move_mark(store, *KEY, 7, kept=[1, 2, 5], left=[3])
    move_mark(store, *KEY, 7, kept=[4], left=[])
    assert read_mark(store, *KEY) == Mark(7, 5, (3,))
    move_mark(store, *KEY, 7, kept=[3, 6], left=[9])
    assert read_mark(store, *KEY) == Mark(7, 9, (9,))


def test_another_numbering_begins_anew(store: Store) -> None:
    """With another UIDVALIDITY nothing of the old mark is left; other folders and accounts have their own."""
    move_mark(store, *KEY, 7, kept=[5], left=[3])
    move_mark(store, KEY[0], "Archive", 7, kept=[50], left=[])
    move_mark(store, *KEY, 8, kept=[1], left=[])
    assert read_mark(store, *KEY) == Mark(8, 1)
    assert read_mark(store, KEY[0], "Archive") == Mark(7, 50)


def test_records_of_an_older_version_get_the_table(tmp_path: Path) -> None:
    """Records made before there were marks are brought up to date when they are opened."""
    path = tmp_path / "records.db"
    old = Store(path, create=True)
    with old.write() as conn:
        conn.execute(sa.text("DROP TABLE mailbox_mark"))
        conn.execute(sa.delete(schema.migration).where(schema.migration.c.name == "0009 mailbox marks"))
    old.close()
    opened = Store(path)
    move_mark(opened, *KEY, 7, kept=[5], left=[])
    assert read_mark(opened, *KEY) == Mark(7, 5)
    opened.close()
