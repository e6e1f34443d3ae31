"""Text to words: runs of letters and digits, accents and case folded; pairs of signs where no space parts words.

Indexing, asking and highlighting must cut text alike, so all three come here. Japanese is written without spaces: each
two neighbouring signs are a word, and the last one alone, so that any stretch can be asked for as pairs in a row.
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

#: Han, kana and the marks that repeat or lengthen them.
_SIGNS = "\u3005\u3007\u3040-\u30ff\u31f0-\u31ff\u3400-\u4dbf\u4e00-\u9fff\uf900-\ufaff\U00020000-\U0003ffff"
_WORD = re.compile(r"[^\W_]+")
_SIGN = re.compile(f"[{_SIGNS}]")
_STRETCH = re.compile(f"[{_SIGNS}]+|(?:(?![{_SIGNS}])[^\\W_])+")
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
    text = _INVISIBLE.sub("", _MARKS.sub("", unicodedata.normalize("NFKD", text))).translate(_UNDIVIDED)
    # What is left of marks belongs to scripts in which they make another letter (kana, Hangul): back together.
    return unicodedata.normalize("NFC", text)


def words(text: str) -> list[str]:
    """Return the words of a text in order, folded, codes included."""
    folded = fold(text)
    if folded.isascii() or not _SIGN.search(folded):
        return _WORD.findall(folded)
    return [word for stretch in _STRETCH.findall(folded) for word in in_pairs(stretch, last=True)]


def stretches(text: str) -> list[str]:
    """Return the words of a text, folded, stretches of signs without a space as a whole."""
    folded = fold(text)
    return _WORD.findall(folded) if folded.isascii() else _STRETCH.findall(folded)


def in_pairs(stretch: str, *, last: bool = False) -> list[str]:
    """Return each two neighbours of a stretch of signs (and the last alone), another word as it is."""
    if not is_sign(stretch):
        return [stretch]
    pairs = [stretch[at : at + 2] for at in range(len(stretch) - 1)]
    return [*pairs, stretch[-1]] if last or not pairs else pairs


def is_sign(word: str) -> bool:
    """Say whether a word is of signs that are written without spaces between words."""
    return not word.isascii() and _SIGN.match(word) is not None


def left_out(word: str) -> bool:
    """Say whether a folded word stays out of the index.

    Codes do: letters and digits mixed, :data:`CODE_LENGTH` or more of them; and what is too long for a word.
    """
    return len(word) >= CODE_LENGTH and (len(word) > LONGEST_WORD or not (word.isdigit() or word.isalpha()))


def written_words(text: str) -> Iterator[tuple[int, int, str]]:
    """Yield start, end and folded form of each word as written; a form may hold several words ("½" gives "1⁄2").

    Of signs written without spaces, each two neighbours are a word, so that spans overlap.
    """
    for match in _WRITTEN_WORD.finditer(text):
        start, end = match.span()
        if match.group().isascii() or not _SIGN.search(match.group()):
            yield start, end, fold(match.group())
            continue
        for at in range(start, end):
            size = 2 if at + 1 < end and _SIGN.match(text, at) and _SIGN.match(text, at + 1) else 1
            yield at, at + size, fold(text[at : at + size])
