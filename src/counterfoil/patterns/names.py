"""Names folded for comparison."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from counterfoil.patterns.normal import is_title

_LETTERS = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"})
_SPLIT = re.compile(r"[^\w']+|_")


_SEVERAL = re.compile(r"[&/+;|\"<>]")


def is_several(text: str) -> bool:
    """Tell whether a text names more than one person (Ada & Bo Lind, Ada Lind / Bo Lind), or is no name at all."""
    parts = [part.split() for part in text.split(",")]
    return _SEVERAL.search(text) is not None or sum(len(part) > 1 for part in parts) > 1


@lru_cache(maxsize=4096)
def fold_name(text: str) -> tuple[str, ...]:
    """Return the parts of a name: lower case, without accents, titles and punctuation, in the order written.

    A hyphen divides parts ("Anne-Marie" and "Anne Marie" give the same), an apostrophe does not.
    """
    lowered = unicodedata.normalize("NFKC", text).casefold().translate(_LETTERS).replace("’", "'")
    plain = "".join(c for c in unicodedata.normalize("NFD", lowered) if not unicodedata.combining(c))
    parts = [part.replace("'", "") for part in _SPLIT.split(plain) if part.strip("'")]
    kept = [part for part in parts if not is_title(part)]
    return tuple(kept or parts)
