"""Type for printed sheets: what it cannot show is put into letters that it has, visibly.

The type is DejaVu, shipped in `type/`: all Latin alphabets with what stands above and below their letters, Greek and
Cyrillic are shown as written. Text it lacks (Chinese, Thai), and scripts that are written from the right or whose
letters join (Hebrew, Arabic), for which the printing library has no rules, is replaced and carries an asterisk that
the sheet explains.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Container

#: Stands behind text that is not shown in its own letters.
MARK = "*"
UNKNOWN = "?"
#: Characters that look alike to the eye and need no mark.
_SINGLE = {"‐": "-", "‑": "-", "−": "-", "ʼ": "'", "′": "'", "\u00a0": " ", "\u2009": " ", "\u202f": " "}
_UNMARKED = frozenset({"", " ", "-", "'"})


def fit(text: str, glyphs: Container[int]) -> tuple[str, bool]:
    """Write a text with the letters that a type has.

    Args:
        text: any text.
        glyphs: the code points that the type can show.

    Returns:
        The text, composed where possible, and whether anything had to be changed (spaces and hyphens aside).
    """
    out: list[str] = []
    changed = False
    for character in unicodedata.normalize("NFC", text):
        if _shows(character, glyphs):
            out.append(character)
            continue
        shown = "".join(c if _shows(c, glyphs) else UNKNOWN for c in _plain(character))
        out.append(shown)
        changed = changed or shown not in _UNMARKED
    return "".join(out), changed


def marked(text: str, glyphs: Container[int]) -> str:
    """Return :func:`fit` of a text, with an asterisk where it was changed."""
    shown, changed = fit(text, glyphs)
    return shown + MARK if changed else shown


def _shows(character: str, glyphs: Container[int]) -> bool:
    """Tell whether a type shows a character rightly where characters stand side by side from left to right."""
    if unicodedata.category(character) in ("Cf", "Cc", "Zl", "Zp"):
        return False
    return ord(character) in glyphs and unicodedata.bidirectional(character) not in ("R", "AL", "AN")


def _plain(character: str) -> str:
    """Put one character into plain letters: without what stands above or below it, as far as that is known."""
    if unicodedata.category(character) in ("Cf", "Mn", "Cc"):
        return " " if character in "\t\n\r" else ""
    if character in _SINGLE:
        return _SINGLE[character]
    return "".join(c for c in unicodedata.normalize("NFKD", character) if not unicodedata.combining(c)) or character
