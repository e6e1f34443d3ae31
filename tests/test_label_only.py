"""Makers nobody described: codes are found by their labels alone, in five languages, from text, HTML and PDF."""

from __future__ import annotations

from collections import Counter

import pytest
from confirmations import LANGUAGES, MEDIA, Confirmation, confirmations

from counterfoil.documents.message import read_message
from counterfoil.model import CODE_KINDS, Kind
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal_code
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("help@threadworks.example",))
NUMBER = 300


@pytest.fixture(scope="module")
def results() -> list[tuple[Confirmation, dict[Kind, str], dict[Kind, float]]]:
    """Read every generated confirmation once: what stood in it, what was chosen, with which odds."""
    patterns = Patterns.load(None)
    out = []
    for confirmation in confirmations(NUMBER, seed=11):
        reading = patterns.read(read_message(confirmation.data, SETTINGS.limits), SETTINGS)
        chosen = {kind: fact.normal for kind, fact in reading.chosen.items()}
        out.append((confirmation, chosen, {kind: fact.odds for kind, fact in reading.chosen.items()}))
    return out


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("medium", MEDIA)
def test_codes_are_read(
    results: list[tuple[Confirmation, dict[Kind, str], dict[Kind, float]]], language: str, medium: str
) -> None:
    """At least 95 % of the codes are read right, and none wrong with odds at which it would be filed."""
    tally: Counter[str] = Counter()
    for confirmation, chosen, odds in results:
        if (confirmation.language, confirmation.medium) != (language, medium):
            continue
        for kind in CODE_KINDS:
            right = normal_code(confirmation.truth[kind.value])
            got = chosen.get(kind)
            certain = odds.get(kind, 0.0) >= SETTINGS.filing_odds
            tally[
                "right"
                if got == right and certain
                else "wrong"
                if got is not None and got != right and certain
                else "missed"
            ] += 1
    assert tally["wrong"] == 0, tally
    assert tally["right"] >= 0.95 * sum(tally.values()), tally


def test_dates_versions_and_names_are_read(
    results: list[tuple[Confirmation, dict[Kind, str], dict[Kind, float]]],
) -> None:
    """Registration date, firmware version, model, name and address are right in at least 95 of 100 confirmations."""
    kinds = (Kind.REGISTRATION_DATE, Kind.FIRMWARE_VERSION, Kind.MODEL, Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS)
    for kind in kinds:
        right = sum(chosen.get(kind) == confirmation.truth[kind.value] for confirmation, chosen, _ in results)
        assert right >= 0.95 * len(results), (kind, right, len(results))
