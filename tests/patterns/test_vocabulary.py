"""The packaged vocabulary."""

from __future__ import annotations

import pytest

from counterfoil.errors import PatternFaulty
from counterfoil.model import Kind
from counterfoil.patterns import Patterns
from counterfoil.patterns.vocabulary import Vocabulary, load_vocabularies, make_wordbook, parse_vocabulary
from counterfoil.patterns.words import Role, fold, fold_with_offsets

VOCABULARIES = load_vocabularies()


def test_all_proofs_hold() -> None:
    """Every found and not-found example of every language stands."""
    assert Patterns.load(None).check_proofs() == []


@pytest.mark.parametrize("vocabulary", VOCABULARIES, ids=[v.language for v in VOCABULARIES])
def test_each_language_is_complete(vocabulary: Vocabulary) -> None:
    """Each language has labels and a found proof for every kind, all lists of phrases, and not-found proofs."""
    assert set(vocabulary.labels) == set(Kind)
    assert all(vocabulary.phrases.values()) and vocabulary.before and vocabulary.tie and vocabulary.stop
    assert {p.kind for p in vocabulary.proofs if p.value is not None} == set(Kind)
    assert sum(p.value is None for p in vocabulary.proofs) >= 5


def test_the_languages_are_there() -> None:
    """Fourteen languages are packaged."""
    assert " ".join(v.language for v in VOCABULARIES) == "cs da de en es fi fr it ja nb nl pl pt sv"


def test_no_label_names_two_kinds() -> None:
    """No spelling of a label means different kinds, or a kind and another thing, in any two languages."""
    table = make_wordbook(VOCABULARIES, ()).table
    for vocabulary in VOCABULARIES:
        for kind, labels in vocabulary.labels.items():
            for label in labels:
                hits, _ = table.scan(fold_with_offsets(label)[0])
                assert hits[0].meaning.kind is kind, (label, hits)
                assert hits[0].meaning.roles == {Role.LABEL}, label


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("labels = {}", "lacks `language`"),
        ('language = "xx"\n[labels]\ncolour = ["a"]', "no kind of fact"),
        ('language = "xx"\n[dates]\nmonths = [["a"]]', "twelve lists"),
        ('language = "xx"\n[words]\nfun = ["a"]', "keys nobody knows: fun"),
    ],
)
def test_a_faulty_vocabulary_is_refused(text: str, says: str) -> None:
    """A wrong vocabulary file raises PatternFaulty and says what is wrong."""
    with pytest.raises(PatternFaulty, match=says):
        parse_vocabulary("xx.toml", text.encode())


def test_folding_keeps_every_offset() -> None:
    """Folding is character for character; combining accents are left out with their offsets kept."""
    for text in ("Straße ÆØÅ İstanbul ﬁx №", "plain", "e\u0301te\u0301"):
        assert len(fold(text)) == len(text)
    folded, offsets = fold_with_offsets("cle\u0301 X")
    assert folded == "cle x" and offsets is not None
    assert [offsets[i] for i in (2, 3, 5)] == [2, 4, 6]


def test_the_longest_label_wins() -> None:
    """ "Serial number" is not "number", "código de activación" not "su código"."""
    table = make_wordbook(VOCABULARIES, ()).table
    for text, kind in (("serial number", Kind.SERIAL_NUMBER), ("product key", Kind.PRODUCT_KEY)):
        hits, _ = table.scan(text)
        assert [(h.start, h.end, h.meaning.kind) for h in hits] == [(0, len(text), kind)]
    hits, _ = table.scan("customer number")
    assert hits[0].has(Role.OTHER_LABEL)
