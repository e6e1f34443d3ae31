"""Coverage terms: what a file may say, and which term holds."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import SAMPLES

from counterfoil.answers.coverage import Term, terms_for
from counterfoil.answers.coverage_examples import run_examples
from counterfoil.answers.coverage_file import load_terms, read_coverage
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


#: file | line | what is said
FAULTS = [
    ('[[term]]\npart = "machine"\nyears = 2\n\n[[term]]\nyears = 2', 5, "term 2: `part` is missing"),
    ('[[term]]\npart = "machine"\n\n# five\nyears = "5"', 5, "term 1: `years` must be a whole number"),
    ('[[term]]\nnote = """\nyears = 1\n"""\npart = "machine"\nyears = -1', 6, "must give a length"),
    ('[[term]]\npart = "machine"\nproof = [\n  "invoice",\n]\nyaers = 2\nyears = 1', 6, "`yaers` is not known"),
    ('[[term]]\npart = "machine"\nyears = 2\nproof = ["receipt"]', 4, "`proof` must be a list of invoice"),
    ('[[term]]\npart = "machine"\nyears = 2\nelse_years = 1', 4, "`register_within_days` is missing"),
    (
        '[[term]]\npart = "machine"\nyears = 2\nregister_within_days = 30\nelse_years = 2',
        5,
        "must be the shorter one",
    ),
    ('[[term]]\npart = "machine"\nyears = 2\nregister_within_days = -1', 4, "must be from 0 to"),
    ('[[term]]\npart = "machine"\nyears = 2\nstart = "delivery"', 4, "purchase or registration or activation"),
    ('[[term]]\npart = "machine"\nyears = 2\n[[term]]\npart = "Machine"\nyears = 3', 4, "the same as in term 1"),
    ('[[example]]\npart = "machine"\non = 2026-11-25', 1, "example 1: `covered` is missing"),
    ('[[example]]\npart = "machine"\non = "25.11.2026"\ncovered = true', 3, "`on` must be a day such as"),
    ('[[example]]\npart = "m"\non = 2026-11-25T10:00:00Z\ncovered = true', 3, "`on` must be a day such as"),
    ('[[example]]\npart = "m"\non = 2026-11-25\ncovered = "perhaps"', 4, '`covered` must be true, false or "unknown"'),
    ('[[example]]\npart = "m"\non = 2026-11-25\ncovered = true\nbought = 2024-01-01', 5, "an example has maker"),
    ('terms = 3\n[[term]]\npart = "machine"\nyears = 2', 1, "`terms` is not known there"),
]


@pytest.mark.parametrize(("text", "line", "said"), FAULTS)
def test_every_fault_has_its_line_and_its_reason(tmp_path: Path, text: str, line: int, said: str) -> None:
    """A fault names the line of the key that is wrong, that of its table where the key is missing, and the reason."""
    (fault,) = read_coverage(written(tmp_path, text)).faults
    assert fault.line == line
    assert said in fault.said


def test_all_faults_are_found_at_once(tmp_path: Path) -> None:
    """Whoever mends a file sees every fault in one go, in the order of the lines; good terms are read all the same."""
    text = '[[term]]\nyears = 2\n[[term]]\npart = "motor"\nyears = 1\n[[term]]\npart = 3\nyears = "x"'
    read = read_coverage(written(tmp_path, text))
    assert [fault.line for fault in read.faults] == [1, 7, 8]
    assert [term.part for term in read.terms] == ["motor"]
    with pytest.raises(SettingsFaulty, match=r"line 1, term 1: .* line 7, term 3: .* line 8, term 3: "):
        load_terms(tmp_path / "coverage.toml")


def test_a_term_may_say_everything(tmp_path: Path) -> None:
    """Registration within days, the shorter term, proofs and the start from an activation are read, and said."""
    text = (
        '[[term]]\npart = "motor"\nyears = 10\nstart = "activation"\nholder = "first"\nregister_within_days = 30\n'
        'else_years = 2\nelse_months = 6\nproof = ["invoice", "pdf"]'
    )
    (term,) = load_terms(written(tmp_path, text))
    assert (term.register_days, term.else_months, term.proof, term.start) == (30, 30, ("invoice", "pdf"), "activation")
    assert term.words == (
        "10 years from the activation if registered within 30 days of the purchase, else 2 years 6 months; ends when "
        "the machine changes hands; proof: an invoice number or a PDF that says the start date."
    )


def test_the_samples_examples_come_out_as_written() -> None:
    """The worked examples in the samples' terms are their tests: each answer is the one written down."""
    read = read_coverage(SAMPLES / "coverage.toml")
    assert read.faults == ()
    assert len(read.examples) >= 12
    assert run_examples(read) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ("covered = false", "Covered is true, not false."),
        ("covered = true\nlast_day = 2026-01-14", "The last day is 2026-01-15, not 2026-01-14."),
        ('covered = "unknown"', 'Covered is true, not "unknown".'),
    ],
)
def test_an_example_that_comes_out_otherwise_is_named(tmp_path: Path, changed: str, said: str) -> None:
    """A wrong example is named with its line, what came out, and why."""
    term = '[[term]]\npart = "machine"\nyears = 2\n\n'
    text = f'{term}[[example]]\npart = "machine"\npurchase = 2024-01-15\non = 2025-01-01\n{changed}'
    (miss,) = run_examples(read_coverage(written(tmp_path, text)))
    assert (miss.number, miss.line) == (1, 5)
    assert miss.said.startswith(said)
    assert "Covered up to and including 2026-01-15" in miss.said


def test_an_example_for_a_part_without_a_term_is_named(tmp_path: Path) -> None:
    """An example whose part no term names is a miss, not a pass."""
    text = '[[term]]\npart = "machine"\nyears = 2\n[[example]]\npart = "motor"\non = 2025-01-01\ncovered = false'
    (miss,) = run_examples(read_coverage(written(tmp_path, text)))
    assert "no term for the part 'motor'" in miss.said


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
