"""Odds mean what they say: of the values given 99 in 100, at least 99 in 100 are right, on messages apart."""

from __future__ import annotations

from math import log, sqrt

import pytest
from calibration import SETTINGS, Judged, chance, estimate, judged, table
from calibration_mail import NOISES, mail

from counterfoil.model import CODE_KINDS, Kind
from counterfoil.patterns import odds
from counterfoil.patterns.odds_data import ESTIMATED


def check(values: list[Judged]) -> None:
    """Hold values to what their odds say, and the codes among those that would be filed to the truth."""
    sure = [value for value in values if value.odds >= log(99)]
    assert sum(value.right for value in sure) >= 0.99 * len(sure)
    filed = [v for v in values if v.odds >= SETTINGS.filing_odds and v.kind in CODE_KINDS]
    assert [v for v in filed if not v.right and odds.CONFLICT not in v.signs] == []


def test_of_the_values_given_99_in_100_99_are_right() -> None:
    """Other makers, labels and layouts than those the weights come from, three in four of the messages with noise."""
    values = judged(mail(240, 303, held_out=True), held_out=True)
    assert {value.noise for value in values} == set(NOISES)
    assert len([value for value in values if value.odds >= log(99)]) > 1_500
    check(values)


@pytest.mark.long
def test_the_table_over_a_large_set() -> None:
    """In every bin from 80 in 100 up, no fewer values are right than promised, less what chance explains."""
    values = judged(mail(3_000, 404, held_out=True), held_out=True)
    check(values)
    for part in table(values):
        if part.least >= 80:
            promised = part.promised / part.number
            spread = sqrt(part.number * promised * (1 - promised)) + 1
            assert part.right >= part.promised - 3 * spread, part


def test_estimates_are_shares_with_one_right_and_one_wrong_put_in() -> None:
    """A sign by itself is worth the log of right plus one over wrong plus one; one added to it, what it adds."""
    values = [_judged(("CODE_LABELLED",), n < 180) for n in range(200)]
    assert estimate(values) == {"CODE_LABELLED": round(log(181 / 21), 1)}
    values += [_judged(("CODE_LABELLED", "CHECK_PASSED"), n < 1_990) for n in range(2_000)]
    both = estimate(values)
    assert both["CODE_LABELLED"] == pytest.approx(log(181 / 21), abs=0.1)
    assert sum(both.values()) == pytest.approx(log(1_990 / 10), abs=0.2)


def test_few_values_say_nothing_and_many_do_not_say_everything() -> None:
    """A sign met a few times keeps its weight; one never wrong in a large set is not taken for certain."""
    assert estimate([_judged(("NAMED",), True)] * 10) == {}
    assert estimate([_judged(("NAMED",), True)] * 100_000) == {"NAMED": 6.9}
    assert estimate([_judged(("DOUBTFUL",), True)] * 100_000)["DOUBTFUL"] < SETTINGS.filing_odds


def test_values_that_exclude_each_other_share_what_there_is() -> None:
    """Of two values as likely neither has more than even odds, and together they are no more than certain."""
    for one, two in ((6.9, 6.9), (5.0, 2.4), (9.0, 3.0)):
        shares = chance(one + odds.against([two])), chance(two + odds.against([one]))
        assert sum(shares) < 1
        assert shares[0] / shares[1] == pytest.approx(2.718281828459045 ** (one - two))


def test_doubt_never_files() -> None:
    """No weight given to what is doubtful, loosely labelled or merely mentioned reaches the filing threshold."""
    below = ("DOUBTFUL", "VERY_DOUBTFUL", "CODE_IN_PROSE", "CODE_FAR_IN_PROSE", "CODE_LABELLED_LOOSELY", "IN_PROSE",
             "LABELLED_LOOSELY", "SENDER_UNSURE", "CODE_BY_SHAPE", "CODE_BY_DIGITS_CHECKED",
             "CODE_BY_SHAPE_ALONE")  # fmt: skip
    assert all(ESTIMATED[name] < SETTINGS.filing_odds for name in below)
    assert ESTIMATED["CODE_LABELLED"] + ESTIMATED["SHAPE_MISSED"] < SETTINGS.filing_odds
    assert ESTIMATED["CODE_LABELLED"] + ESTIMATED["SHAPE_FITS"] + ESTIMATED["CHECK_FAILED"] < 0


def _judged(signs: tuple[str, ...], right: bool) -> Judged:
    return Judged(signs, 0.0, right, Kind.PRODUCT_KEY, "none")
