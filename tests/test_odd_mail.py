"""Confirmations sent in odd ways, taken in as mail is."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from conftest import sample_archive
from odd_mail import FILED, OPEN, cases

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.model import CODE_KINDS, Kind, MessageRecord, Standing
from counterfoil.patterns.normal import normal_code

#: The readers of each kind have quick tests of their own; all of them together, through the whole run, are long.
pytestmark = pytest.mark.long
CASES = cases()


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, dict[str, MessageRecord]]]:
    """An archive that all cases were taken into, in one run, and the records by the name of the case."""
    folder = tmp_path_factory.mktemp("odd")
    (folder / "in").mkdir()
    for number, case in enumerate(CASES.values()):
        (folder / "in" / f"{number:03}.{case.ending}").write_bytes(case.data)
    made = sample_archive(folder / "shop")
    report = pipeline.ingest(made, [str(folder / "in")])
    assert (report.new, report.unreadable) == (len(CASES), 0)
    records = {
        name: message
        for message in made.store.messages()
        for number, name in enumerate(CASES)
        if f"/in/{number:03}." in message.source
    }
    yield made, records
    made.close()


@pytest.mark.parametrize("name", CASES)
def test_what_comes_of_it(taken: tuple[Archive, dict[str, MessageRecord]], name: str) -> None:
    """It is filed to the right customer with all codes, or it is a question with a sentence; no code is anybody else's,
    and nothing is put aside."""
    archive, case, message = taken[0], CASES[name], taken[1][name]
    assert message.standing is {FILED: Standing.FILED, OPEN: Standing.OPEN}[case.wanted], message.questions
    known = {normal_code(code) for person in case.people for code in person.codes.values()}
    read = {noted.fact.normal for noted in message.facts if noted.fact.kind in CODE_KINDS}
    assert read <= known
    if case.wanted == FILED:
        (person,) = case.people
        assert message.customer is not None
        assert archive.store.customer(message.customer).values(Kind.EMAIL_ADDRESS) == (person.email,)
        assert read == known
    else:
        assert all(question.sentence.endswith((".", "?")) for question in message.questions)
        assert message.questions
