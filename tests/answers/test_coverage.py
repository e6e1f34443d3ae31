"""Coverage terms: what a file may say, and which term holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from counterfoil.answers.coverage import Term, load_terms, terms_for
from counterfoil.errors import SettingsFaulty

GOOD = """
[[term]]
part = "machine"
years = 2

[[term]]
maker = "Vellamar"
part = "machine"
years = 5
months = 6
start = "registration"
holder = "first"
note = "Keep the invoice."

[[term]]
maker = "Vellamar"
model = "Corvina 700"
part = "machine"
months = 18

[[term]]
maker = "Ostrel"
part = "electronics"
years = 1
"""


def written(tmp_path: Path, text: str) -> Path:
    """Write a coverage file."""
    path = tmp_path / "coverage.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_terms_are_read_with_their_defaults(tmp_path: Path) -> None:
    """Everything a term says is read; purchase and any holder are the defaults."""
    terms = load_terms(written(tmp_path, GOOD))
    assert terms[0] == Term("machine", 24, number=1)
    assert terms[1] == Term("machine", 66, "Vellamar", "", "registration", True, "Keep the invoice.", 2)
    assert (terms[1].length, terms[2].length) == ("5 years 6 months", "1 year 6 months")


def test_no_file_and_no_terms_are_no_terms(tmp_path: Path) -> None:
    """An archive without coverage terms is no error."""
    assert load_terms(tmp_path / "coverage.toml") == ()
    assert load_terms(written(tmp_path, "# nothing yet\n")) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[term]]\npart = "machine"\nyears = 2\n[[term]]\nyears = 2', "term 2: `part` is missing"),
        ('[[term]]\npart = "machine"', "term 1: `years` and `months` must give a length"),
        ('[[term]]\npart = "machine"\nyears = 200', "term 1: `years` and `months` must give a length"),
        ('[[term]]\npart = "machine"\nyears = 3\nmonths = -1', "term 1: `years` and `months` must give a length"),
        ('[[term]]\npart = "machine"\nyears = "2"', "term 1: `years` must be a whole number, not '2'"),
        ('[[term]]\npart = "machine"\nyears = true', "term 1: `years` must be a whole number, not True"),
        ("[[term]]\npart = 4\nyears = 2", "term 1: `part` must be text, not 4"),
        (
            '[[term]]\npart = "machine"\nyears = 2\nstart = "delivery"',
            "term 1: `start` must be purchase or registration",
        ),
        ('[[term]]\npart = "machine"\nyears = 2\nholder = "second"', "term 1: `holder` must be first or any"),
        ('[[term]]\npart = "machine"\nyears = 2\nyaers = 2', "term 1: `yaers` is not known"),
        ('[term]\npart = "machine"', r"written as \[\[term\]\]"),
        ('part = "machine"', r"`part` is not known there"),
        ("[[term", "cannot be read"),
    ],
)
def test_a_faulty_file_is_named_with_term_and_fault(tmp_path: Path, text: str, said: str) -> None:
    """What is wrong is said with the file and the number of the term."""
    with pytest.raises(SettingsFaulty, match=said) as caught:
        load_terms(written(tmp_path, text))
    assert "coverage.toml" in str(caught.value)


def test_two_terms_for_the_same_are_refused(tmp_path: Path) -> None:
    """Two terms of equal rank would leave the answer to chance."""
    text = '[[term]]\npart = "machine"\nyears = 2\n[[term]]\npart = "Machine"\nyears = 3'
    with pytest.raises(SettingsFaulty, match="term 2: maker, model and part are the same as in term 1"):
        load_terms(written(tmp_path, text))


@pytest.mark.parametrize(
    ("maker", "model", "numbers"),
    [
        ("Vellamar", "Corvina 700", {"machine": (3,)}),
        ("VELLAMAR", "corvina-700", {"machine": (3,)}),
        ("Vellamar", "Corvina 900", {"machine": (2,)}),
        ("Ostrel", "Corvina 700", {"machine": (1,), "electronics": (4,)}),
        ("Vellamar", None, {"machine": (2, 3)}),
        (None, None, {"machine": (1, 2, 3), "electronics": (4,)}),
    ],
)
def test_the_most_specific_term_holds(
    tmp_path: Path, maker: str | None, model: str | None, numbers: dict[str, tuple[int, ...]]
) -> None:
    """Model before maker before none; where maker or model are unknown, terms that may hold come after."""
    held = terms_for(load_terms(written(tmp_path, GOOD)), maker, model)
    assert {part: tuple(term.number for term in terms) for part, terms in held.items()} == numbers
