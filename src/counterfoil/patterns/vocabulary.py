"""The packaged vocabulary: labels, phrases and month names by language, one TOML file each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from counterfoil.model import Kind
from counterfoil.patterns.makers import MakerPattern, Proof, Table, read_labels, read_proofs, read_toml
from counterfoil.patterns.words import PhraseTable, Role, Sense, fold, split_words

#: Lists of the table [words] that hold phrases, and their role.
_PHRASES = {
    "confirmation": Role.CONFIRMATION,
    "not_confirmation": Role.NOT_CONFIRMATION,
    "attachment": Role.ATTACHMENT,
    "doubt": Role.DOUBT,
    "someone_else": Role.SOMEONE_ELSE,
    "sign_off": Role.SIGN_OFF,
    "other_labels": Role.OTHER_LABEL,
    "vague_labels": Role.VAGUE_LABEL,
}


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """One language. ``before`` are words allowed ahead of a label, ``tie`` words between label and value."""

    language: str
    labels: Mapping[Kind, tuple[str, ...]]
    phrases: Mapping[Role, tuple[str, ...]]
    before: frozenset[str]
    tie: frozenset[str]
    stop: frozenset[str]
    months: tuple[tuple[str, ...], ...]
    proofs: tuple[Proof, ...]


@dataclass(frozen=True, slots=True)
class Wordbook:
    """All languages and makers together, ready to read with. Word sets are folded."""

    table: PhraseTable
    before: frozenset[str]
    tie: frozenset[str]
    stop: frozenset[str]


def parse_vocabulary(path: str, data: bytes) -> Vocabulary:
    """Read one vocabulary file.

    Raises:
        PatternFaulty: says what is wrong and in which table.
    """
    top = read_toml(path, data)
    language = top.take("language", str)
    labels = read_labels(top.table("labels"))
    words = top.table("words")
    phrases = {role: words.texts(key) for key, role in _PHRASES.items()}
    before, tie, stop = (_folded(words, key) for key in ("before", "tie", "stop"))
    words.done()
    dates = top.table("dates")
    months = dates.take("months", list)
    dates.done()
    if len(months) != 12 or not all(isinstance(m, list) and all(isinstance(n, str) for n in m) for m in months):
        raise dates.fault("needs `months`, twelve lists of names")
    proofs = read_proofs(top.table("proofs"))
    top.done()
    return Vocabulary(language, labels, phrases, before, tie, stop, tuple(tuple(m) for m in months), proofs)


def _folded(words: Table, key: str) -> frozenset[str]:
    return frozenset(word for text in words.texts(key) for word in split_words(text))


@cache
def load_vocabularies() -> tuple[Vocabulary, ...]:
    """Read every packaged vocabulary file, by name."""
    folder = files("counterfoil.patterns") / "vocabulary"
    entries = sorted((e for e in folder.iterdir() if e.name.endswith(".toml")), key=lambda e: e.name)
    return tuple(parse_vocabulary(entry.name, entry.read_bytes()) for entry in entries)


def make_wordbook(vocabularies: tuple[Vocabulary, ...], makers: tuple[MakerPattern, ...]) -> Wordbook:
    """Put languages and makers into one table of phrases."""
    table = PhraseTable()
    for vocabulary in vocabularies:
        for kind, labels in vocabulary.labels.items():
            table.add(labels, Sense(Role.LABEL, kind, vocabulary.language))
        for role, phrases in vocabulary.phrases.items():
            table.add(phrases, Sense(role, None, vocabulary.language))
    for maker in makers:
        for language, by_kind in maker.labels.items():
            for kind, labels in by_kind.items():
                table.add(labels, Sense(Role.LABEL, kind, language, maker.name))
        table.add(maker.names, Sense(Role.MAKER, Kind.MAKER, None, maker.name, maker.name))
        for model in maker.models:
            table.add((model,), Sense(Role.MODEL, Kind.MODEL, None, maker.name, model))
        for upgrade in maker.upgrades:
            sense = Sense(Role.UPGRADE, Kind.UPGRADE_NAME, None, maker.name, upgrade.name)
            table.add((upgrade.name, *upgrade.also), sense)
    return Wordbook(
        table,
        frozenset().union(*(v.before for v in vocabularies)),
        frozenset().union(*(v.tie for v in vocabularies)),
        frozenset().union(*(v.stop for v in vocabularies)),
    )


def months_of(vocabulary: Vocabulary) -> dict[str, int]:
    """Return a language's month names, folded, and their numbers."""
    return {fold(name).rstrip("."): i for i, names in enumerate(vocabulary.months, 1) for name in names}
