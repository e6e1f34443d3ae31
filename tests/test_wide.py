"""Makers nobody described, fourteen languages, thirteen page layouts: what is read right, and that nothing is wrong.

The labels are written apart from the package's vocabulary. The long run takes more than a thousand of each set.
"""

from __future__ import annotations

from collections import Counter

import pytest
from ruled_papers import RULED
from wide_confirmations import Wide, wide
from wide_papers import LAYOUTS
from wide_words import LANGUAGES

from counterfoil.documents.message import read_message
from counterfoil.model import CODE_KINDS, Kind
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal
from counterfoil.patterns.words import fold
from counterfoil.records.case import CERTAIN_KINDS
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("help@threadworks.example",))


def tally(messages: list[Wide]) -> Counter[tuple[str, str]]:
    """Count the values that would be filed right and wrong, codes and others; by the bounds that filing uses."""
    patterns = Patterns.load(None)
    counts: Counter[tuple[str, str]] = Counter()
    for message in messages:
        reading = patterns.read(read_message(message.data, SETTINGS.limits), SETTINGS)
        for name, value in message.truth.items():
            kind = Kind(name)
            group = "code" if kind in CODE_KINDS else "other"
            counts[group, "all"] += 1
            fact = reading.chosen.get(kind)
            bound = SETTINGS.filing_odds if kind in CERTAIN_KINDS else 0.0
            if fact is None or fact.odds < bound or kind in reading.conflicts:
                continue
            # A customer who types in small letters has the same name and model.
            right = fold(fact.normal) == fold(normal(kind, value))
            counts[group, "right" if right else "wrong"] += 1
    return counts


def as_sent(number: int) -> list[Wide]:
    """Return confirmations as makers send them, every language in every medium, every layout among them."""
    return list(wide(number, seed=21))


def check_as_sent(messages: list[Wide]) -> None:
    """Hold codes to 99.5 % right and none wrong, other values to 98 % right."""
    counts = tally(messages)
    assert counts["code", "wrong"] == 0, counts
    assert counts["code", "right"] >= 0.995 * counts["code", "all"], counts
    assert counts["other", "right"] >= 0.98 * counts["other", "all"], counts


def test_codes_and_values_are_read() -> None:
    """Of 168 confirmations at least 99.5 % of the codes and 98 % of the other values are right, no code wrong."""
    messages = as_sent(168)
    assert {(m.language, m.medium) for m in messages} == {(a, b) for a in LANGUAGES for b in ("pdf", "html", "text")}
    assert {m.layout for m in messages if m.medium == "pdf"} == {layout.__name__ for layout in LAYOUTS}
    check_as_sent(messages)


def test_no_wrong_code_in_noise() -> None:
    """Old codes, other numbers, damaged values and typing by hand make codes uncertain, never certain and wrong."""
    counts = tally(list(wide(168, seed=5, noisy=True)))
    assert counts["code", "wrong"] == 0, counts
    assert counts["code", "right"] >= 0.85 * counts["code", "all"], counts


def check_ruled(messages: list[Wide]) -> None:
    """Hold values wrapped, centred and stacked in tables to none wrong, and with rules to 95 % right."""
    assert {m.layout for m in messages} == {layout.__name__ for layout in RULED}
    counts = tally(messages)
    assert counts["code", "wrong"] == counts["other", "wrong"] == 0, counts
    with_rules = tally([m for m in messages if m.layout != "unruled"])
    assert with_rules["code", "right"] >= 0.95 * with_rules["code", "all"], with_rules
    assert with_rules["other", "right"] >= 0.95 * with_rules["other", "all"], with_rules


def test_tables_are_read_by_their_rules() -> None:
    """Of 48 confirmations in twelve kinds of tables with wrapped cells nothing is wrong, and at least 95 % right."""
    check_ruled(list(wide(48, seed=5, ruled=True)))


@pytest.mark.long
def test_more_than_a_thousand_of_each() -> None:
    """The same holds for 1,176 confirmations as sent and 504 in tables, and no code is wrong in 1,400 noisy ones."""
    check_as_sent(as_sent(1_176))
    check_ruled(list(wide(504, seed=21, ruled=True)))
    counts = tally(list(wide(1_400, seed=6, noisy=True)))
    assert counts["code", "wrong"] == 0, counts
