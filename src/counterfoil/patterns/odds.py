"""What each sign is worth, in natural log-odds; 4.6 is 99 in 100, the default bound for filing without a person.

The figures are our own: set so that one clean sign alone just passes the bound, a doubtful one never does, and a
check digit that fails outweighs everything else.
"""

#: A code alone in the place its label points to (same cell after the label, next cell, cell underneath).
CODE_LABELLED = 5.0
#: The label stands in a line with words we do not know ahead of it.
CODE_LABELLED_LOOSELY = 4.0
#: A code named in running text.
CODE_IN_PROSE = 3.2
#: Running text with words between label and code.
CODE_FAR_IN_PROSE = 1.0
#: A code in a maker's shape with nothing but the shape to say what it is.
CODE_BY_SHAPE = 2.5
#: The same, and its check digit is right: by chance one in ten at most, on top of a shape.
CODE_BY_SHAPE_CHECKED = 7.0

SHAPE_FITS = 2.0
SHAPE_FITS_IN_PROSE = 1.0
SHAPE_MISSED = -4.0
CHECK_PASSED = 3.0
CHECK_FAILED = -9.0

#: Upper bound for a code about which anything is doubtful.
DOUBTFUL = 3.0
#: Upper bound where a word nearby says it is another code (old, wrong, example), or the code is cut off.
VERY_DOUBTFUL = 1.0

LABELLED = 5.0
LABELLED_LOOSELY = 3.0
#: A value read by its own form (date, e-mail address) out of running text behind its label.
IN_PROSE = 2.5
NAMED = 4.8
"""A maker, model or upgrade named in the text as its maker file spells it."""
SENDER = 6.0
"""The maker by the sender's domain."""
TO_HEADER = 5.2
TO_HEADER_NAME = 4.9
TYPED_BY_SENDER = 4.8
SENDER_UNSURE = 3.0

#: The same value in a second document.
AGREEMENT = 1.0
#: A second, different value with odds of its own.
CONFLICT = -3.0
CONFLICT_FROM = 2.0
"""Odds from which a second value counts as a contradiction."""

ENTERED = 9.0
"""Typed in by staff."""
ENTERED_ODD = 2.0
"""Typed in by staff, but not in the shape of the maker named."""
