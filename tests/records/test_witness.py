"""What the records say of themselves, so that an index is known to be of them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, take

from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    made.close()


def _copy(store: Store, to: Path) -> Store:
    with sqlite3.connect(store.path) as source, sqlite3.connect(to) as target:
        source.backup(target)
    source.close()
    target.close()
    return Store(to, settings=SETTINGS)


def test_later_records_bear_out_what_they_said(store: Store) -> None:
    """What records say, empty ones too, they bear out ever after, whatever messages and lines are added."""
    said = [store.testimony()]
    take(store, MARIT)
    said.append(store.testimony())
    store.note("kim", "reveal", "E1", "asked", {})
    said.append(store.testimony())
    take(store, another(2))
    said.append(store.testimony())
    assert len(set(said)) == 4
    assert all(map(store.bears_out, said))


def test_records_put_back_bear_out_their_own_past_only(store: Store, tmp_path: Path) -> None:
    """A copy that goes on by itself bears out what was said before it parted, and nothing said after."""
    take(store, MARIT)
    shared = store.testimony()
    copy = _copy(store, tmp_path / "copy.db")
    take(store, another(2))
    message = store.testimony()
    store.note("kim", "reveal", "E1", "asked", {})
    line = store.testimony()
    assert (copy.bears_out(shared), copy.bears_out(message), copy.bears_out(line)) == (True, False, False)
    # The same message taken in once more, and a line that says the same, are another past all the same.
    take(copy, another(2))
    assert not copy.bears_out(message)
    copy.note("kim", "reveal", "E1", "asked", {})
    assert not copy.bears_out(line)
    assert not store.bears_out(copy.testimony())
    copy.close()


def test_what_records_never_said_is_not_borne_out(store: Store) -> None:
    """A text in any other form is of no records."""
    take(store, MARIT)
    good = store.testimony()
    message, line = good.split(" ")
    wrong = ["", " ", "-", message, f"{message} J1/0", f"{line} {message}", good[:-1], f"{good} ", good.upper()]
    wrong += ["E1/ -", "E99999999999999999999/a/b -", "E١/a/b -", "E-1/a/b -", good.replace("E1", "E2")]
    assert store.bears_out(good)
    assert not any(store.bears_out(text) for text in wrong)
