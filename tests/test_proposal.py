"""Maker files proposed from messages: what they say, what they would do to an archive, how they are written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import sample_archive
from unknown_maker import MAKER, SENDER, Pass, make_pass

from counterfoil import pipeline, proposal, upkeep
from counterfoil.archive import Archive
from counterfoil.errors import SourceUnreadable, UsageProblem
from counterfoil.model import Kind, Standing
from counterfoil.patterns import Patterns
from counterfoil.patterns.draft import Draft

NUMBER = 6


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give an archive of the invented shop with six messages of the maker nobody described."""
    opened = sample_archive(tmp_path / "archive")
    take_in(opened, tmp_path, [make_pass(n) for n in range(NUMBER)])
    yield opened
    opened.close()


def take_in(archive: Archive, folder: Path, passes: list[Pass]) -> None:
    """Take in messages; they get their ids in order."""
    place = folder / f"mail{archive.store.message_count()}"
    place.mkdir()
    for n, one in enumerate(passes):
        (place / f"{n}.eml").write_bytes(one.data)
    pipeline.ingest(archive, [str(place)])


def draft(archive: Archive, numbers: range = range(NUMBER), *, without: tuple[Kind, ...] = ()) -> Draft:
    """Propose a file from the first messages, every value pointed out."""
    samples = proposal.read_samples(archive, [f"E{n + 1}" for n in numbers])
    typed = [(Kind.MAKER, MAKER)]
    for n in numbers:
        one = make_pass(n)
        typed += [(k, getattr(one, k.value)) for k in (Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)]
    typed = [(kind, value) for kind, value in typed if kind not in without]
    taken = {s.name: {Kind.MODEL: make_pass(n).model} for n, s in zip(numbers, samples, strict=True)}
    return proposal.propose(archive, proposal.assign(archive, samples, typed, taken))


def test_the_file_says_what_all_messages_show(archive: Archive) -> None:
    """Labels, shapes, check digit, alphabet, sender and models come out of six messages as they were made."""
    found = draft(archive)
    pattern = found.pattern
    assert pattern.name == MAKER
    assert pattern.senders == (SENDER,)
    assert sorted(pattern.models) == ["Lina 200", "Lina 300"]
    shapes = {kind: (shape.text, shape.check_name) for kind, shape in pattern.shapes.items()}
    assert shapes == {
        Kind.MACHINE_ID: ("MB-######-@", "none"),
        Kind.PRODUCT_KEY: ("####-####-####", "luhn"),
        Kind.ACTIVATION_CODE: ("****-****-****-****", "none"),
    }
    assert pattern.labels == {
        "en": {
            Kind.MACHINE_ID: ("Board mark",),
            Kind.PRODUCT_KEY: ("Gift word",),
            Kind.ACTIVATION_CODE: ("Stitch pass",),
        }
    }
    assert len(pattern.proofs) >= 4
    assert any("no serial number was pointed out" in note for note in found.notes)


def test_the_file_holds_nobodys_codes(archive: Archive) -> None:
    """No value of a message stands in the file: its examples are made up."""
    text = draft(archive).text
    for n in range(NUMBER):
        one = make_pass(n)
        assert not [v for v in (one.machine_id, one.product_key, one.activation_code) if v in text]


def test_a_written_file_holds_its_examples_and_reading_anew_does_the_rest(archive: Archive) -> None:
    """Messages that waited for want of labels are filed once the file is written, as the preview said; the file's own
    examples hold; it is never written over."""
    waiting = [m.id for m in archive.store.messages(Standing.OPEN)]
    assert len(waiting) == NUMBER
    found = draft(archive, range(4))
    seen = proposal.preview(archive, found)
    assert sorted(seen.matched) == sorted(waiting)
    assert sum(c.after is Standing.FILED for c in seen.changes) == NUMBER
    assert archive.store.messages(Standing.OPEN)
    path, line = proposal.write(archive, found, "mirabelo", who="Ada", why="six of them")
    assert archive.store.journal()[-1].id == line
    again = Archive(archive.folder)
    assert again.patterns.check_proofs() == []
    upkeep.reread(again, write=True, who="Ada", why="new file")
    assert not again.store.messages(Standing.OPEN)
    fact = next(n.fact for n in again.store.message("E6").facts if n.chosen and n.fact.kind is Kind.PRODUCT_KEY)
    assert fact.value == make_pass(5).product_key
    before = path.read_bytes()
    with pytest.raises(UsageProblem, match="exists"):
        proposal.write(again, found, "mirabelo", who="Ada", why="")
    assert path.read_bytes() == before
    with pytest.raises(UsageProblem, match="described already"):
        draft(again)
    again.close()


@pytest.mark.parametrize("name", ["../x", "", "a b", ".hidden", "X" * 70, "a/b"])
def test_a_name_stays_in_the_folder(archive: Archive, name: str) -> None:
    """A name that leads out of the folder or is none is refused."""
    with pytest.raises(UsageProblem, match="file's name"):
        proposal.write(archive, draft(archive), name, who="Ada", why="")


def test_few_examples_say_what_is_missing(archive: Archive) -> None:
    """Two messages give labels and shapes, but no check digit: two values passing Luhn is 1 in 100, which is told."""
    found = draft(archive, range(2))
    assert found.pattern.shapes[Kind.PRODUCT_KEY].check_name == "none"
    assert '# check = "luhn"' in found.text
    assert "1 in 100" in found.text
    assert any("a check digit is not sure" in note for note in found.notes)
    with pytest.raises(UsageProblem, match="One message"):
        draft(archive, range(1))
    with pytest.raises(UsageProblem, match="no name"):
        draft(archive, without=(Kind.MAKER,))


def test_values_are_never_invented(archive: Archive) -> None:
    """A value that stands in no message is refused; a second one of its kind for one message, too."""
    samples = proposal.read_samples(archive, ["E1", "E2"])
    with pytest.raises(UsageProblem, match="none of the messages"):
        proposal.assign(archive, samples, [(Kind.MACHINE_ID, "MB-999999-Z")], {})
    one = make_pass(0)
    with pytest.raises(UsageProblem, match="Two values"):
        proposal.assign(archive, samples, [(Kind.MACHINE_ID, v) for v in (one.machine_id, one.product_key)], {})


def test_what_it_would_do_wrong_is_told(archive: Archive, tmp_path: Path) -> None:
    """A message of another maker from the same address is named as a wrong match; a value that a person settled
    otherwise is named as a contradiction."""
    take_in(
        archive,
        tmp_path,
        [make_pass(50, maker="Ostrava Stitch", labels=("Machine ID", "Product key", "Activation code"))],
    )
    archive.store.message("E7")
    values = [
        (Kind.MACHINE_ID, "MB-111111-K"),
        (Kind.PRODUCT_KEY, "4111-1111-1111"),
        (Kind.ACTIVATION_CODE, "AAAA-2222-BBBB-3333"),
    ]
    pipeline.settle(archive, "E1", customer="new", machine="new", values=values, sure=True, who="Ada", why="by phone")
    seen = proposal.preview(archive, draft(archive))
    assert [(w.id, w.maker) for w in seen.wrong] == [("E7", "Ostrava Stitch")]
    assert {(c.id, c.kind) for c in seen.contradictions if c.confirmed} == {
        ("E1", kind) for kind in (Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    }
    assert "E7" not in seen.matched


def test_files_serve_as_examples(archive: Archive, tmp_path: Path) -> None:
    """A message may be a file outside the archive; one that is not there or no message is refused by name."""
    path = tmp_path / "one.eml"
    path.write_bytes(make_pass(40).data)
    (sample,) = proposal.read_samples(archive, [str(path), str(path)])
    assert make_pass(40).product_key in "".join(d.text for d in sample.message.documents)
    with pytest.raises(SourceUnreadable, match="nothing"):
        proposal.read_samples(archive, [str(tmp_path / "nothing.eml")])


def test_the_vocabulary_alone_reads_none_of_them() -> None:
    """The labels of these messages are in no vocabulary: what the tests above find, the file found."""
    words = Patterns.load(None).vocabularies
    known = {label.casefold() for v in words for labels in v.labels.values() for label in labels}
    assert not known & {"board mark", "gift word", "stitch pass"}
