"""Text to words: runs of letters and digits, accents and case folded.

Indexing, asking and highlighting must cut text alike, so all three come here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

#: Mixed letters and digits of this length or more are a code. Codes are found in the records, by an exact table;
#: kept out of the index they cannot leak from its files, and they would be most of its different words.
CODE_LENGTH = 6
#: Longer runs of letters are data, not language.
LONGEST_WORD = 64

#: Letters that Unicode does not take apart into a base letter and a mark, though people type them without it.
_UNDIVIDED = str.maketrans(
    {"ø": "o", "đ": "d", "ð": "d", "ł": "l", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"}
)

_WORD = re.compile(r"[^\W_]+")
#: A word as written: marks belong to the letter before them, soft hyphens and joiners to the word around them.
_WRITTEN_WORD = re.compile("[^\\W_](?:[^\\W_]|[\u0300-\u036f\u00ad\u200b-\u200d\u2060])*")
#: Invisible characters inside words: soft hyphen, zero-width space, joiners, word joiner.
_INVISIBLE = re.compile("[\u00ad\u200b-\u200d\u2060]")
_MARKS = re.compile("[\u0300-\u036f]")


def fold(text: str) -> str:
    """Return ``text`` without case, accents and compatibility forms: "Ærø ﬁx Müller" becomes "aero fix muller"."""
    if text.isascii():
        return text.lower()
    # Compatibility forms come apart first: some (a full-width capital) only then have a case to fold.
    text = unicodedata.normalize("NFKD", text).casefold()
    return _INVISIBLE.sub("", _MARKS.sub("", unicodedata.normalize("NFKD", text))).translate(_UNDIVIDED)


def words(text: str) -> list[str]:
    """Return the words of a text in order, folded, codes included."""
    return _WORD.findall(fold(text))


def left_out(word: str) -> bool:
    """Say whether a folded word stays out of the index.

    Codes do: letters and digits mixed, :data:`CODE_LENGTH` or more of them; and what is too long for a word.
    """
    return len(word) >= CODE_LENGTH and (len(word) > LONGEST_WORD or not (word.isdigit() or word.isalpha()))


def written_words(text: str) -> Iterator[tuple[int, int, str]]:
    """Yield start, end and folded form of each word as written; a form may hold several words ("½" gives "1⁄2")."""
    for match in _WRITTEN_WORD.finditer(text):
        yield match.start(), match.end(), fold(match.group())
