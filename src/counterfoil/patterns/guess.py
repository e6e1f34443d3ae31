"""The shape, alphabet and check digit that values of one kind share, and how likely each is by chance.

Nothing is taken from values that chance explains: every rule has a bound on the probability that values drawn at
random would look alike in this way, and what lies above the bound is told, never written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

from counterfoil.model import Check
from counterfoil.patterns.checks import CHECKS, DIGITS, LETTERS_AND_DIGITS, check
from counterfoil.patterns.normal import normal_code

#: Fewer different values than this show no shape.
LEAST_VALUES = 2
#: A check digit is written only where values without one would pass one of the schemes tried less often than this.
CHECK_CHANCE = 1 / 1_000
#: Letters are the same in all codes of a maker only where chance makes them alike less often than this.
LITERAL_CHANCE = 1 / 500
#: Digits and letters have places of their own only where codes that mix them freely look so less often than this.
CLASS_CHANCE = 1 / 1_000
#: Characters are left out of an alphabet only where all the characters seen miss them by chance less often than this.
ALPHABET_CHANCE = 1 / 1_000

#: Alphabets that makers use, largest first. Common practice, no source, but the third: Crockford's Base32.
_ALPHABETS = (
    ("without O", "0123456789ABCDEFGHIJKLMNPQRSTUVWXYZ"),
    ("without I and O", "0123456789ABCDEFGHJKLMNPQRSTUVWXYZ"),
    ("without I, L, O and U", "0123456789ABCDEFGHJKMNPQRSTVWXYZ"),
    ("without 0, 1, I and O", "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"),
    ("without 0, 1, I, L and O", "23456789ABCDEFGHJKMNPQRSTUVWXYZ"),
    ("hexadecimal", "0123456789ABCDEF"),
)
#: How often a random value passes: one in so many; `luhn` over an alphabet: one in its size.
_ONE_IN = {
    "luhn": 10, "damm": 10, "verhoeff": 10, "mod_11_2": 11, "mod_11_10": 10, "mod_37_2": 37, "mod_37_36": 36,
    "mod_97_10": 97,
}  # fmt: skip
_SEPARATORS = frozenset("-./ ")
_DASHES = frozenset("\u2010\u2011\u2012\u2013\u2014\u2015")
_DIGIT_SHARE = len(DIGITS) / len(LETTERS_AND_DIGITS)


@dataclass(frozen=True, slots=True)
class CheckGuess:
    """A check digit all values pass: scheme, where it starts, and how often chance does that.

    ``chance`` is that of this scheme, ``any_chance`` that of any of the ``tried`` ones.
    """

    name: str
    start: int
    chance: float
    any_chance: float
    tried: int

    @property
    def sure(self) -> bool:
        """Whether chance is ruled out."""
        return self.any_chance < CHECK_CHANCE


@dataclass(frozen=True, slots=True)
class ShapeGuess:
    """What values of one kind share. ``text`` is None for no shape; ``notes`` say why, and what is open."""

    values: int
    text: str | None
    alphabet: str = LETTERS_AND_DIGITS
    checks: tuple[CheckGuess, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def check(self) -> CheckGuess | None:
        """The check digit to be written: the one that is sure; None where none is, or two are."""
        sure = [guess for guess in self.checks if guess.sure]
        return sure[0] if len(sure) == 1 else None


def guess_shape(written: Sequence[str], *, fixed_letters: bool = True) -> ShapeGuess:
    """Find what values of one kind share.

    Args:
        written: the values as printed; the same value twice counts once.
        fixed_letters: whether letters that all values share may be those of the maker; False where they may as well be
            those of the one upgrade all values are of.
    """
    forms = {normal_code(value): _plain(value) for value in reversed(written)}
    values = sorted(forms)
    if len(values) < LEAST_VALUES:
        return ShapeGuess(len(values), None, notes=("one value shows no shape: point out those of more messages",))
    lengths = sorted({len(value) for value in values})
    if len(lengths) > 1:
        many = ", ".join(map(str, lengths))
        return ShapeGuess(len(values), None, notes=(f"the values have {many} characters: they share no shape",))
    if lengths[0] < 4:
        return ShapeGuess(len(values), None, notes=("less than 4 characters are no shape",))
    notes: list[str] = []
    breaks, signs = _grouping([forms[value] for value in values], notes)
    literal = _literals(values) if fixed_letters else frozenset()
    signs_at, more = _classes(values, breaks, literal)
    notes += more
    alphabet, why = _alphabet(values, signs_at)
    notes += why
    text = "".join(
        (signs[at] if at in breaks else "") + (values[0][at] if at in literal else signs_at[at])
        for at in range(lengths[0])
    )
    checks = _checks(values, signs_at, alphabet)
    return ShapeGuess(len(values), text, alphabet, checks, tuple(notes))


def _plain(value: str) -> str:
    return "".join("-" if c in _DASHES else " " if c == "\u00a0" else c for c in value.strip())


def _grouping(forms: Sequence[str], notes: list[str]) -> tuple[frozenset[int], dict[int, str]]:
    """Return the places ahead of which a separator stands, and the separators; of values grouped in several ways, the
    way most of them are."""
    ways: dict[tuple[tuple[int, str], ...], int] = {}
    for form in forms:
        at, way, gap = 0, [], ""
        for char in form:
            if char in _SEPARATORS:
                gap = gap.strip() + char
            elif char.isalnum():
                if gap and at:
                    way.append((at, gap.strip()[:1] or " "))
                at, gap = at + 1, ""
        ways[tuple(way)] = ways.get(tuple(way), 0) + 1
    best = max(sorted(ways), key=lambda way: (ways[way], len(way)))
    if len(ways) > 1:
        notes.append("the values are grouped in different ways: the commonest is taken; reading takes every way")
    return frozenset(at for at, _ in best), dict(best)


def _literals(values: Sequence[str]) -> frozenset[int]:
    """Return the places of letters at the front that are the same in all values, and not by chance.

    Digits are never taken for fixed: years, series and running numbers share them, too.
    """
    run = 0
    while run < len(values[0]) - 1 and values[0][run].isalpha() and len({value[run] for value in values}) == 1:
        run += 1
    by_chance = (1 / 26) ** (run * (len(values) - 1))
    return frozenset(range(run)) if run and by_chance < LITERAL_CHANCE else frozenset()


def _classes(values: Sequence[str], breaks: frozenset[int], literal: frozenset[int]) -> tuple[list[str], list[str]]:
    """Return the sign of each place (``#`` digit, ``@`` letter, ``*`` any), and what is to be said about them."""
    seen = ["#" if all(v[at].isdigit() for v in values) else "@" if all(v[at].isalpha() for v in values) else "*"
            for at in range(len(values[0]))]  # fmt: skip
    share = _DIGIT_SHARE ** len(values) + (1 - _DIGIT_SHARE) ** len(values)
    if "*" not in seen and share ** len(seen) < CLASS_CHANCE:
        return seen, []
    notes = []
    for group in _groups(len(seen), breaks, literal):
        kinds = {seen[at] for at in group}
        each = _DIGIT_SHARE if kinds == {"#"} else 1 - _DIGIT_SHARE
        if len(kinds) > 1 or (kinds != {"*"} and each ** (len(group) * len(values)) >= CLASS_CHANCE):
            if "*" not in kinds:
                notes = ["which places are digits and which letters is not certain yet: more values would show it"]
            for at in group:
                seen[at] = "*"
    return seen, notes


def _groups(length: int, breaks: frozenset[int], literal: frozenset[int]) -> list[list[int]]:
    groups: list[list[int]] = []
    for at in range(length):
        if at in literal:
            continue
        if not groups or at in breaks or at - 1 in literal:
            groups.append([])
        groups[-1].append(at)
    return groups


def _alphabet(values: Sequence[str], signs: Sequence[str]) -> tuple[str, list[str]]:
    """Return the characters for ``*``: all letters and digits, unless the values show that some are not used."""
    places = [at for at, sign in enumerate(signs) if sign == "*"]
    seen = {value[at] for value in values for at in places}
    number = len(values) * len(places)
    if not places:
        return LETTERS_AND_DIGITS, []
    for name, alphabet in _ALPHABETS:
        chance = (len(alphabet) / len(LETTERS_AND_DIGITS)) ** number
        if seen <= set(alphabet) and chance < ALPHABET_CHANCE:
            return alphabet, [f"alphabet {name}: by chance {one_in(chance)} for the {number} characters seen"]
    if not seen & set("IO"):
        return LETTERS_AND_DIGITS, [f"I and O were not seen, but {number} characters are too few to leave them out"]
    return LETTERS_AND_DIGITS, []


def _checks(values: Sequence[str], signs: Sequence[str], alphabet: str) -> tuple[CheckGuess, ...]:
    """Return the schemes all values pass, least likely by chance first.

    Each is tried over the whole value and from behind its leading letters.
    """
    lead = next((at for at, sign in enumerate(signs) if sign == "#" or any(v[at].isdigit() for v in values)), 0)
    passed: list[tuple[str, int, float]] = []
    chances: list[float] = []
    for start in sorted({0, lead} if lead < len(signs) - 3 else {0}):
        digits_only = all(value[start:].isdigit() for value in values)
        used = DIGITS if digits_only else alphabet
        for name in CHECKS:
            if name == "none" or not _applies(name, values, start, digits_only=digits_only):
                continue
            chance = (1 / (len(used) if name == "luhn" else _ONE_IN[name])) ** len(values)
            chances.append(chance)
            if all(_passes(name, value[start:], used) for value in values):
                passed.append((name, start, chance))
    found = [CheckGuess(name, start, chance, any_chance(chances), len(chances)) for name, start, chance in passed]
    return tuple(sorted(found, key=lambda guess: (guess.chance, guess.start)))


def _applies(name: str, values: Sequence[str], start: int, *, digits_only: bool) -> bool:
    """Tell whether a scheme could check these values at all: those over digits know no letters but a last X."""
    if name in ("luhn", "mod_37_36", "mod_97_10", "mod_37_2"):
        return True
    if name == "mod_11_2":
        return all(value[start:-1].isdigit() and value[-1] in DIGITS + "X" for value in values)
    return digits_only


def _passes(name: str, value: str, alphabet: str) -> bool:
    try:
        return check(name, value, alphabet) is Check.PASSED
    except ValueError:
        return False


def any_chance(chances: Sequence[float]) -> float:
    """Return how likely it is that at least one of several independent things happens by chance."""
    return 1 - prod(1 - chance for chance in chances)


def one_in(chance: float) -> str:
    """Say a probability as one in so many."""
    return f"1 in {round(1 / chance):,}" if chance < 1 else "always"
