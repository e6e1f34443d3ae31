"""Code shapes of a maker: ``HG-######-@`` becomes expressions that find the code in a text and test a normal form."""

from __future__ import annotations

import re
from dataclasses import dataclass

from counterfoil.model import Check, Kind
from counterfoil.patterns.checks import CHECKS, DIGITS, LETTERS_AND_DIGITS, check
from counterfoil.patterns.normal import normal_code

#: Separators are optional and interchangeable: a hyphen or dash, dot, slash or space, a hyphen also between spaces.
_GAP = r"(?:[ \u00a0]?[-\u2010-\u2015./][ \u00a0]?|[ \u00a0])?"
_SEPARATORS = frozenset("-./ ")
#: A code ends where no further group is tied on by a separator: otherwise it is part of a longer one.
_BEFORE = r"(?<![0-9A-Za-z\u00c0-\uffff])(?<![0-9A-Za-z][-\u2010-\u2015./])"
_AFTER = r"(?![0-9A-Za-z\u00c0-\u1fff]|[-\u2010-\u2015./][0-9A-Za-z]|[-\u2010-\u2015](?:[\s=]|$)|=(?:\s|$)|\.\.|\u2026)"


@dataclass(frozen=True, slots=True)
class Shape:
    """A maker's shape of one kind of code.

    ``find`` matches it in a text in any spelling, ``whole`` its normal form. ``length`` counts the characters of the
    normal form, ``literal`` those of them that are always the same; ``groups`` are the lengths of the printed groups.
    """

    kind: Kind
    maker: str
    text: str
    find: re.Pattern[str]
    whole: re.Pattern[str]
    check_name: str
    check_from: int
    check_alphabet: str
    length: int
    literal: int
    places: tuple[re.Pattern[str], ...] = ()
    """What may stand at each character of the normal form."""

    def accepts(self, at: int, char: str) -> bool:
        """Tell whether a character may stand at a place of the normal form."""
        return self.places[at].fullmatch(char) is not None

    def fits(self, normal: str) -> bool:
        """Tell whether a normal form has this shape (the check digit is not looked at)."""
        return self.whole.fullmatch(normal) is not None

    def check(self, normal: str) -> Check:
        """Compute the check digit of a normal form of this shape."""
        return check(self.check_name, normal[self.check_from :], self.check_alphabet)

    def printed(self, normal: str) -> str:
        """Return a normal form of this shape in the groups the maker prints it in."""
        rest = iter(normal)
        return "".join(char if char in _SEPARATORS else next(rest, "") for char in self.text)


def make_shape(
    kind: Kind,
    maker: str,
    text: str,
    *,
    alphabet: str = LETTERS_AND_DIGITS,
    check_name: str = "none",
    check_from: int = 0,
) -> Shape:
    """Compile a shape.

    Args:
        kind: which code it is.
        maker: whose.
        text: ``#`` a digit, ``@`` a letter, ``*`` a character of ``alphabet``, ``- . /`` and space separators,
            everything else itself.
        alphabet: characters for ``*``.
        check_name: see :data:`counterfoil.patterns.checks.CHECKS`. ``luhn`` counts over digits where the checked part
            holds only digits, else over ``alphabet`` (Luhn mod N).
        check_from: the character of the normal form at which the checked part starts.

    Raises:
        ValueError: a sentence on what is wrong with the shape.
    """
    if check_name not in CHECKS:
        raise ValueError(f"there is no check `{check_name}`; known: {', '.join(CHECKS)}")
    if not alphabet or normal_code(alphabet) != alphabet or len(set(alphabet)) != len(alphabet):
        raise ValueError("`alphabet` must be different capital letters and digits")
    units, literal = _units(text, alphabet)
    if len(units) < 4:
        raise ValueError("a shape needs at least 4 characters")
    if not 0 <= check_from < len(units):
        raise ValueError("`check_from` lies behind the end of the shape")
    digits_only = all(unit == "[0-9]" or unit.isdigit() for unit, _ in units[check_from:])
    body = "".join((_GAP if before else "") + unit for unit, before in units)
    return Shape(
        kind,
        maker,
        text,
        re.compile(_BEFORE + "(?:" + body + ")" + _AFTER, re.IGNORECASE),
        re.compile("".join(unit for unit, _ in units)),
        check_name,
        check_from,
        DIGITS if digits_only else alphabet,
        len(units),
        literal,
        tuple(re.compile(unit) for unit, _ in units),
    )


def _units(text: str, alphabet: str) -> tuple[list[tuple[str, bool]], int]:
    """Take a shape apart: the expression for each character and whether a separator stands ahead; literals counted."""
    classes = {"#": "[0-9]", "@": "[A-Z]", "*": f"[{alphabet}]"}
    units: list[tuple[str, bool]] = []
    literal = 0
    gap = False
    for char in text:
        if char in _SEPARATORS:
            gap = True
            continue
        if char not in classes and (len(char.upper()) != 1 or normal_code(char) == ""):
            raise ValueError(f"`{char}` cannot stand in a shape")
        literal += char not in classes
        units.append((classes.get(char) or char.upper(), gap and bool(units)))
        gap = False
    return units, literal


def is_words(value: str) -> bool:
    """Tell whether what stands in a shape that takes any letter is running text: letters and spaces, small ones too.

    Args:
        value: as written.
    """
    return " " in value and value != value.upper() and value.replace(" ", "").isalpha()
