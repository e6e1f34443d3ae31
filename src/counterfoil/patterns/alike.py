"""What somebody may have meant who typed a code that cannot be one: look-alike characters put right, by its shape."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations, product

from counterfoil.model import Check
from counterfoil.patterns.normal import fold_code
from counterfoil.patterns.shapes import Shape

#: Characters put right in one code, at most: more is no slip of the eye, and the number of tries grows with it.
_MOST = 3
_ALL = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: character -> those that look like it.
_ALIKE = {c: tuple(o for o in _ALL if o != c and fold_code(o) == fold_code(c)) for c in _ALL}


def alike(normal: str, shapes: Iterable[Shape], most: int = 5) -> list[str]:
    """Return codes that look like one typed, fit a shape and pass its check digit, fewest changes first.

    They are offered, never taken by themselves: a check digit lets one in ten wrong digits pass.

    Args:
        normal: the code typed, in normal form.
        shapes: the shapes it may have; those without a check digit help only where the code fits none of them.
        most: how many to return at most.

    Returns:
        The codes as the maker prints them.
    """
    found: dict[str, None] = {}
    for shape in shapes:
        if shape.length != len(normal) or (shape.fits(normal) and shape.check(normal) is not Check.FAILED):
            continue
        for code in _variants(normal):
            if shape.fits(code) and shape.check(code) is not Check.FAILED:
                found.setdefault(shape.printed(code))
            if len(found) >= most:
                return list(found)
    return list(found)


def _variants(normal: str) -> Iterable[str]:
    places = [n for n, character in enumerate(normal) if _ALIKE.get(character)]
    for number in range(1, _MOST + 1):
        for some in combinations(places, number):
            for characters in product(*(_ALIKE[normal[n]] for n in some)):
                code = list(normal)
                for n, character in zip(some, characters, strict=True):
                    code[n] = character
                yield "".join(code)
