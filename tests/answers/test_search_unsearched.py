"""Searches while the index cannot be asked: what was not looked through is said, never passed for not there."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from search_world import Shop

from counterfoil.answers.search import SearchAnswer, search
from counterfoil.index import Hit, Index
from counterfoil.index import index as index_module
from counterfoil.model import IndexEntry


def ask(shop: Shop, text: str) -> SearchAnswer:
    """Search the shop's records."""
    return search(shop.store, shop.index, text, settings=shop.settings)


def ids(answer: SearchAnswer) -> list[str]:
    """Return the messages found."""
    return [message.id for message in answer.messages]


def test_an_index_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """Without an index, and with no way to make one, nobody reads that no message has the words."""
    shop = Shop(tmp_path)
    shutil.rmtree(tmp_path / "index")
    (tmp_path / "index").write_text("mine")
    answer = ask(shop, "bobbin winder")
    assert "which no message has" not in answer.understood
    assert "No message was searched for words." in answer.understood
    assert "stands a file" in answer.understood and "Move it away" in answer.understood
    # What the records know by themselves is found all the same.
    assert [customer.id for customer in ask(shop, "Marit Solvang").customers] == ["C1"]
    shop.store.close()


def test_an_index_being_built_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While another run builds the first index for longer than is waited, a search says that it searched nothing."""
    monkeypatch.setattr(index_module, "LOCK_WAIT_SECONDS", 0.05)
    shop = Shop(tmp_path)
    shutil.rmtree(tmp_path / "index")
    answers: list[SearchAnswer] = []

    def fetch(after: int, limit: int) -> Sequence[IndexEntry]:
        answers.append(ask(shop, "hoop library"))
        return shop.store.index_entries(after, limit)

    Index(tmp_path / "index").catch_up(fetch)
    assert "No message was searched for words. Another run is writing" in answers[0].understood
    assert ids(answers[0]) == []
    assert ids(ask(shop, "hoop library")) == ["E5", "E1"]
    shop.store.close()


def test_an_index_taken_away_while_it_is_asked_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An index that another run builds anew between two looks at it gives an answer that is said not to be whole."""
    shop = Shop(tmp_path)
    as_it_was = Index.search

    def emptied(
        self: Index, text: str, limit: int = 20, since: date | None = None, until: date | None = None, *,
        any_word: bool = False,
    ) -> list[Hit]:  # fmt: skip
        for path in (tmp_path / "index").glob("*.toc"):
            path.unlink()
        return as_it_was(self, text, limit, since, until, any_word=any_word)

    monkeypatch.setattr(Index, "search", emptied)
    answer = ask(shop, '"hoop library"')
    assert ids(answer) == []
    assert "Some messages are not in the full-text index yet." in answer.understood
    shop.store.close()
