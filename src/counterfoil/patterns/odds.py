"""What each sign is worth, in natural log-odds; 4.6 is 99 in 100, the default bound for filing without a person.

The weights that messages can teach stand in :mod:`counterfoil.patterns.odds_data`, estimated from generated ones; the
others, at the end, are set by hand. A sum of signs remembers what it was made of, so that a value can be held against
what came true of others with the same signs.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from typing import SupportsIndex

from counterfoil.model import CUSTOMER_KINDS
from counterfoil.patterns.odds_data import ESTIMATED


class Worth(float):
    """Log-odds, and the names of the signs that they are the sum of."""

    __slots__ = ("signs",)
    signs: tuple[str, ...]

    def __new__(cls, value: float, *signs: str) -> Worth:
        """Make log-odds of a value.

        Args:
            value: the log-odds.
            signs: what they rest on.
        """
        made = super().__new__(cls, value)
        made.signs = signs
        return made

    def __add__(self, other: float) -> Worth:
        return Worth(float(self) + float(other), *self.signs, *signs_of(other))

    def __round__(self, digits: SupportsIndex | None = None) -> Worth:  # type: ignore[override]
        return Worth(round(float(self), digits or 0), *self.signs)


def signs_of(odds: float) -> tuple[str, ...]:
    """Return the names of the signs that log-odds rest on; none where they come from elsewhere."""
    return odds.signs if isinstance(odds, Worth) else ()


def is_prose(base: float) -> bool:
    """Tell whether log-odds are those of a code named in running text."""
    return not {"CODE_IN_PROSE", "CODE_FAR_IN_PROSE"}.isdisjoint(signs_of(base))


def _sign(name: str) -> Worth:
    return Worth(ESTIMATED[name], name)


#: A code alone in the place its label points to (same cell after the label, next cell, cell underneath).
CODE_LABELLED = _sign("CODE_LABELLED")
#: The label stands in a line with words we do not know ahead of it.
CODE_LABELLED_LOOSELY = _sign("CODE_LABELLED_LOOSELY")
#: A code named in running text.
CODE_IN_PROSE = _sign("CODE_IN_PROSE")
#: Running text with words between label and code.
CODE_FAR_IN_PROSE = _sign("CODE_FAR_IN_PROSE")
#: A code in a maker's shape with nothing but the shape to say what it is.
CODE_BY_SHAPE = _sign("CODE_BY_SHAPE")
#: The same, and its check digit is right: of letters and digits by chance one in thirty, on top of a shape.
CODE_BY_SHAPE_CHECKED = _sign("CODE_BY_SHAPE_CHECKED")
#: The same where nothing names the maker and no other code of it stands in the message.
CODE_BY_SHAPE_ALONE = _sign("CODE_BY_SHAPE_ALONE")
#: The same for a code of digits alone: one in ten invoice or parcel numbers of its length has a right check digit, too.
CODE_BY_DIGITS_CHECKED = _sign("CODE_BY_DIGITS_CHECKED")

SHAPE_FITS = _sign("SHAPE_FITS")
SHAPE_FITS_IN_PROSE = _sign("SHAPE_FITS_IN_PROSE")
SHAPE_MISSED = _sign("SHAPE_MISSED")
CHECK_PASSED = _sign("CHECK_PASSED")
CHECK_FAILED = _sign("CHECK_FAILED")

#: Upper bound for a code about which anything is doubtful.
DOUBTFUL = _sign("DOUBTFUL")
#: Upper bound where a word nearby says it is another code (old, wrong, example), or the code is cut off.
VERY_DOUBTFUL = _sign("VERY_DOUBTFUL")

LABELLED = _sign("LABELLED")
LABELLED_LOOSELY = _sign("LABELLED_LOOSELY")
#: A value read by its own form (date, e-mail address) out of running text behind its label.
IN_PROSE = _sign("IN_PROSE")
NAMED = _sign("NAMED")
"""A maker, model or upgrade named in the text as its maker file spells it."""
SENDER = _sign("SENDER")
"""The maker by the sender's domain."""
TO_HEADER = _sign("TO_HEADER")
TO_HEADER_NAME = _sign("TO_HEADER_NAME")
TYPED_BY_SENDER = _sign("TYPED_BY_SENDER")
SENDER_UNSURE = _sign("SENDER_UNSURE")

#: Upper bounds for values read off a picture by which a customer is found: below what is filed without a person. Codes
#: keep their odds, so that the likeliest is chosen; they are never filed unasked.
BY_EYE_MOST = dict.fromkeys(CUSTOMER_KINDS, 4.0)

#: The same value in a second document.
AGREEMENT = _sign("AGREEMENT")


def against(others: Sequence[float]) -> Worth:
    """Return what other values take from one of which only one can be right: all of it where they are as likely.

    The share of one among values that exclude each other, and none of them, is e^own / (1 + sum of all e^odds).

    Args:
        others: the log-odds that each of the others has by itself.
    """
    return Worth(-log(1.0 + sum(exp(odds) for odds in others)), CONFLICT)


CONFLICT = "CONFLICT"
"""The name of the sign that another value stands beside one."""

# --- set by hand ----------------------------------------------------------------------------------------------------

CONFLICT_FROM = 2.0
"""Odds from which a second value counts as a contradiction."""
MENTIONED_FROM = 0.0
"""Odds from which a code is one that a document speaks of, however doubtful."""

ENTERED = 9.0
"""Typed in by staff."""
ENTERED_ODD = 2.0
"""Typed in by staff, but not in the shape of the maker named."""
