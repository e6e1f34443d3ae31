"""The one correction of look-alikes (O and 0, I and 1, S and 5 ...) with which a code is in its maker's shape.

It is offered to a person and never taken by itself: the code stays as written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product

from counterfoil.model import Check
from counterfoil.patterns.alike import alike
from counterfoil.patterns.checks import LETTERS_AND_DIGITS
from counterfoil.patterns.found import Found
from counterfoil.patterns.normal import fold_code, normal_code
from counterfoil.patterns.shapes import Shape

#: More misread characters than this in one code make another code of it.
_MOST_MISREAD = 3
#: Corrections offered for a code read off a picture where several are possible.
_MOST_OFFERED = 3
_ALIKE = {
    char: "".join(other for other in LETTERS_AND_DIGITS if other != char and fold_code(other) == fold_code(char))
    for char in LETTERS_AND_DIGITS
}


def only_correction(normal: str, shapes: Sequence[Shape]) -> str | None:
    """Return the one code that look-alikes make of a code and that fits, None where there is none or more than one.

    A code that is in no shape is corrected where a digit stands for a letter or the other way round; one that is, but
    whose check digit is wrong, in one character.

    Args:
        normal: the code in normal form.
        shapes: those it may have.
    """
    if any(shape.fits(normal) and shape.check(normal) is not Check.FAILED for shape in shapes):
        return None
    found = {code for shape in shapes for code in _corrections(normal, shape)}
    return found.pop() if len(found) == 1 else None


def _corrections(normal: str, shape: Shape) -> Iterator[str]:
    if len(normal) != shape.length:
        return
    places = range(len(normal))
    changes: Iterable[tuple[tuple[int, str], ...]]
    if shape.fits(normal):
        changes = (((at, other),) for at in places for other in _ALIKE.get(normal[at], ""))
    else:
        wrong = [at for at in places if not shape.accepts(at, normal[at])]
        if len(wrong) > _MOST_MISREAD:
            return
        choices = [[(at, o) for o in _ALIKE.get(normal[at], "") if shape.accepts(at, o)] for at in wrong]
        changes = (tuple(choice) for choice in product(*choices))
    for change in changes:
        code = list(normal)
        for at, other in change:
            code[at] = other
        corrected = "".join(code)
        if shape.fits(corrected) and shape.check(corrected) is not Check.FAILED:
            yield corrected


def offer_corrections(codes: Sequence[Found], shapes: Sequence[Shape]) -> None:
    """Note with each code that does not fit the one correction that does, if there is one.

    Args:
        codes: the codes read; ``readings`` and evidence are set.
        shapes: those of the makers recognised.
    """
    for code in codes:
        corrected = only_correction(code.normal, [shape for shape in shapes if shape.kind is code.kind])
        if corrected is None:
            if code.document.turns:
                likely = alike(code.normal, [shape for shape in shapes if shape.kind is code.kind], _MOST_OFFERED)
                code.readings = tuple(_as_printed(code.value, normal_code(other)) for other in likely)
            continue
        code.readings = (_as_printed(code.value, corrected),)
        pairs = [(n, a, b) for n, (a, b) in enumerate(zip(code.normal, corrected, strict=True), 1) if a != b]
        words = ", ".join(f"character {n} may be {b} and not {a}" for n, a, b in pairs)
        code.evidence.append(f"fits with look-alikes corrected in one way only: {words}")


def _as_printed(value: str, corrected: str) -> str:
    """Return a corrected code in the groups in which it was written."""
    if len([c for c in value if normal_code(c)]) != len(corrected):
        return corrected
    rest = iter(corrected)
    return "".join(next(rest) if normal_code(c) else c for c in value)
