"""The text of a proposed maker file. Its examples hold made-up codes in the maker's shape: the file is nobody's key."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from counterfoil.model import CODE_KINDS, Check, Kind
from counterfoil.patterns.checks import LETTERS_AND_DIGITS, check
from counterfoil.patterns.codes import is_code
from counterfoil.patterns.examples import LabelSeen
from counterfoil.patterns.guess import CHECK_CHANCE, CheckGuess, ShapeGuess, one_in
from counterfoil.patterns.normal import normal_code
from counterfoil.patterns.shapes import make_shape

_TRIES = 20_000
"""Codes made up until one passes the check digit: two check digits pass once in 97."""
_DIGITS, _LETTERS = "0123456789", "ABCDEFGHJKLMNPQRSTUVWXYZ"


class LabelKey(Protocol):
    """A label of the file."""

    @property
    def language(self) -> str:
        """ISO 639 code."""

    @property
    def kind(self) -> Kind:
        """What it names."""

    @property
    def text(self) -> str:
        """As printed."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a maker file is to say. ``labels`` counts messages; ``others`` are codes of no kind pointed out."""

    maker: str
    senders: tuple[str, ...]
    models: tuple[str, ...]
    upgrades: tuple[str, ...]
    codes: Mapping[Kind, ShapeGuess]
    labels: Mapping[LabelKey, int]
    proof_labels: Mapping[Kind, tuple[LabelSeen, ...]]
    others: tuple[tuple[str, str], ...]
    first: Mapping[Kind, str]
    """The first value of each code, as printed."""


def make_file(said: Said, left_out: Collection[str]) -> str:
    """Return the file's text.

    Args:
        said: what it is to say.
        left_out: texts of examples that it does not stand.
    """
    lines = [f"maker = {toml_text(said.maker)}"]
    if said.senders:
        lines.append(f"senders = {_texts(said.senders)}")
    if said.models:
        lines.append(f"models = {_texts(said.models)}")
    lines.append('# enter = ["product_key", "activation_code"]   # order of entry on the machine')
    lines.append('# where = "..."                                # the menu in which they are entered')
    for kind, guess in said.codes.items():
        lines += _code_lines(kind, guess)
    by_language: dict[str, dict[Kind, list[str]]] = defaultdict(lambda: defaultdict(list))
    for key in said.labels:
        by_language[key.language][key.kind].append(key.text)
    for language, kinds in sorted(by_language.items()):
        lines += ["", f"[labels.{language}]"]
        lines += [f"{kind.value} = {_texts(texts)}" for kind, texts in sorted(kinds.items())]
    for name in said.upgrades:
        lines += ["", "[[upgrades]]", f"name = {toml_text(name)}", "# order = 1             # of restoring"]
        lines.append('# needs_firmware = "..."')
    return "\n".join([*lines, "", *_proof_lines(said, left_out)]) + "\n"


def toml_text(value: str) -> str:
    """Return a text as a TOML basic string."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'


def _texts(values: Collection[str]) -> str:
    return "[" + ", ".join(toml_text(value) for value in values) + "]"


def _code_lines(kind: Kind, guess: ShapeGuess) -> list[str]:
    if guess.text is None:
        return []
    lines = ["", f"[codes.{kind.value}]", f"shape = {toml_text(guess.text)}"]
    if guess.alphabet != LETTERS_AND_DIGITS and "*" in guess.text:
        lines.append(f"alphabet = {toml_text(guess.alphabet)}")
    for found in guess.checks:
        mark = "" if found is guess.check else "# "
        lines.append(f"{mark}check = {toml_text(found.name)}   # {chance_said(found, guess.values)}")
        if found.start:
            lines.append(f"{mark}check_from = {found.start}")
    return lines


def chance_said(found: CheckGuess, values: int) -> str:
    """Say what a check digit that all values pass is worth."""
    said = f"all {values} values pass; by chance {one_in(found.chance)}"
    if found.tried > 1:
        said += f", {one_in(found.any_chance)} for any of the {found.tried} tried"
    return said if found.sure else f"{said}: not written above {one_in(CHECK_CHANCE)}"


# --- proofs ----------------------------------------------------------------------------------------


def _proof_lines(said: Said, left_out: Collection[str]) -> list[str]:
    found = [proof for proof in _found(said) if proof[0] not in left_out]
    missing = [proof for proof in _not_found(said) if proof[0] not in left_out]
    lines = [
        "# The codes in these examples are made up in the shape of those in the messages.",
        "[proofs]",
        "found = [",
    ]
    for text, kind, value in found:
        lines.append(f'  {{ text = {toml_text(text)}, kind = "{kind.value}", value = {toml_text(value)} }},')
    lines += ["]", "not_found = ["]
    lines += [f'  {{ text = {toml_text(text)}, kind = "{kind.value}" }},' for text, kind, _ in missing]
    return [*lines, "]"]


def _found(said: Said) -> Iterator[tuple[str, Kind, str]]:
    for kind, labels in said.proof_labels.items():
        for label in labels:
            value = _example(said, kind)
            if value:
                between = "\n" if label.above else ": "
                yield f"{said.maker}\n{label.text}{between}{value}", kind, value


def _not_found(said: Said) -> Iterator[tuple[str, Kind, str]]:
    for ahead, value in said.others:
        plain = normal_code(made_up(value))
        fitting = [k for k, g in said.codes.items() if g.text and make_shape(k, "", g.text).fits(plain)]
        for kind in fitting or list(said.codes)[:1]:
            yield f"{said.maker}\n{ahead}: {made_up(value)}", kind, ""


def _example(said: Said, kind: Kind) -> str:
    if kind is Kind.MODEL:
        return said.models[0] if said.models else ""
    if kind is Kind.UPGRADE_NAME:
        return said.upgrades[0] if said.upgrades else ""
    if kind not in CODE_KINDS or kind not in said.codes:
        return ""
    return _code(said.codes[kind]) if said.codes[kind].text else made_up(said.first[kind])


def _code(guess: ShapeGuess) -> str:
    """Return a code in a shape, with a right check digit where one is written; empty where none was found."""
    sign = guess.text or ""
    rule = guess.check
    plain_sign = [c for c in sign if c not in "-./ "]
    digits = rule is not None and all(c == "#" or c.isdigit() for c in plain_sign[rule.start :])
    for attempt in range(_TRIES):
        value = _filled(sign, guess.alphabet, str(attempt))
        plain = normal_code(value)
        if not is_code(value) or not any(c.isdigit() for c in plain):
            continue
        used = _DIGITS if digits else guess.alphabet
        if rule is None or check(rule.name, plain[rule.start :], used) is Check.PASSED:
            return value
    return ""


def _filled(shape: str, alphabet: str, seed: str) -> str:
    sets = {"#": _DIGITS, "@": _LETTERS, "*": alphabet}
    drawn = hashlib.sha512(f"{shape} {seed}".encode()).digest()
    return "".join(sets[c][drawn[at % 64] % len(sets[c])] if c in sets else c for at, c in enumerate(shape))


def made_up(value: str) -> str:
    """Return a value with other letters and digits, each of its own sort: it looks like the value and says nothing."""
    drawn = hashlib.sha512(value.encode()).digest()
    return "".join(
        _DIGITS[drawn[at % 64] % 10] if c.isdigit() else _LETTERS[drawn[at % 64] % 24] if c.isalpha() else c
        for at, c in enumerate(value)
    )
