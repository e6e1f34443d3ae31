"""Long runs: more of what the suite checks in small. `pytest -m long` runs them; `.ci/run` does."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from confirmations import confirmations
from conftest import SAMPLES, sample_archive
from test_samples import expectations

from counterfoil import pipeline
from counterfoil.documents.message import read_message
from counterfoil.model import CODE_KINDS, Standing
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal_code
from counterfoil.settings import Limits, Settings
from counterfoil.sources import Received, collect

pytestmark = pytest.mark.long

ORDERS = 12
CONFIRMATIONS = 6_000


@pytest.mark.parametrize("seed", range(ORDERS))
def test_in_any_order_nobody_is_mixed_up(tmp_path: Path, seed: int) -> None:
    """However the samples are shuffled, no profile holds mail of two people and nobody's mail is in two profiles.

    Who comes first of two that are alike is filed and the other asked about, so standings may differ.
    """
    paths = [str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")]
    items = [item for item in collect(paths, Limits()) if isinstance(item, Received)]
    random.Random(seed).shuffle(items)
    archive = sample_archive(tmp_path / "archive")
    pipeline.take_in(archive, items, pipeline.IngestReport())
    expected = dict(expectations())
    profiles: dict[object, set[str | None]] = {}
    people: dict[str | None, set[object]] = {}
    for message in archive.store.messages(Standing.FILED):
        person = expected[Path(message.source).relative_to(SAMPLES).as_posix()]["customer"]
        if person is not None:
            profiles.setdefault(person, set()).add(message.customer)
            people.setdefault(message.customer, set()).add(person)
    archive.close()
    assert len(profiles) > 40
    assert {p: found for p, found in profiles.items() if len(found) > 1} == {}
    assert {p: found for p, found in people.items() if len(found) > 1} == {}


def test_makers_nobody_described_in_bulk() -> None:
    """Of the codes of unknown makers in thousands of confirmations, at least 99 % are right and certain, none wrong."""
    settings = Settings(shop_addresses=("help@threadworks.example",))
    patterns = Patterns.load(None)
    right = wrong = total = 0
    for confirmation in confirmations(CONFIRMATIONS, seed=2026):
        reading = patterns.read(read_message(confirmation.data, settings.limits), settings)
        for kind in CODE_KINDS:
            total += 1
            fact = reading.chosen.get(kind)
            if fact is not None and fact.odds >= settings.filing_odds:
                good = fact.normal == normal_code(confirmation.truth[kind.value])
                right += good
                wrong += not good
    assert wrong == 0
    assert right >= 0.99 * total, (right, total)
