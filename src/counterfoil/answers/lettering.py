"""Type for the printed sheet: names in letters that the sheet's type lacks are put into Latin ones, visibly.

The type is Bitstream Vera, which comes with reportlab and is part of every installation; it covers Western European
languages and little beyond. Text it cannot show is written without the accent, Greek and Cyrillic in Latin letters,
and carries an asterisk that the sheet explains.

Sources: Greek by ISO 843 and Cyrillic by ISO 9, both simplified to letters without accents (from memory).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Container

#: Stands behind text that is not shown in its own letters.
MARK = "*"
UNKNOWN = "?"

_SINGLE = {
    "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ħ": "h", "Ħ": "H", "ı": "i", "ŋ": "ng", "Ŋ": "Ng", "ŧ": "t", "Ŧ": "T",
    "ə": "e", "Ə": "E", "ẞ": "SS", "ĸ": "k", "‐": "-", "‑": "-", "−": "-", "ʼ": "'", "′": "'", "\u00a0": " ",
}  # fmt: skip
_GREEK_LETTERS = (
    "α a, β v, γ g, δ d, ε e, ζ z, η i, θ th, ι i, κ k, λ l, μ m, ν n, ξ x, ο o, π p, ρ r, σ s, ς s, τ t, υ y, φ f, "
    "χ ch, ψ ps, ω o"
)
_CYRILLIC_LETTERS = (
    "а a, б b, в v, г g, д d, е e, ж zh, з z, и i, й j, к k, л l, м m, н n, о o, п p, р r, с s, т t, у u, ф f, х h, "
    "ц c, ч ch, ш sh, щ shh, ъ ', ы y, ь ', э e, ю yu, я ya, і i, є ye, ґ g, ј j, љ lj, њ nj, ћ c, ђ d, џ dz"
)

#: Greek omicron and upsilon stand for one sound. The upsilon alone is replaced, so that the text counts as changed.
_DIGRAPHS = {"ου": "οu", "ού": "οu", "Ου": "Οu", "Ού": "Οu", "ΟΥ": "ΟU"}


def _table(listed: str) -> dict[str, str]:
    """Read a list of pairs: a letter and what it becomes."""
    pairs = (pair.split() for pair in listed.split(", "))
    return {pair[0]: pair[1] for pair in pairs}


_LATIN = _SINGLE | _table(_GREEK_LETTERS) | _table(_CYRILLIC_LETTERS)


def fit(text: str, glyphs: Container[int]) -> tuple[str, bool]:
    """Write a text with the letters that a type has.

    Args:
        text: any text.
        glyphs: the code points that the type can show.

    Returns:
        The text, composed where possible, and whether anything had to be changed (spaces and hyphens aside).
    """
    composed = unicodedata.normalize("NFC", text)
    for digraph, latin in _DIGRAPHS.items():
        composed = composed.replace(digraph, latin)
    out: list[str] = []
    changed = False
    for character in composed:
        if ord(character) in glyphs and not _foreign(character):
            out.append(character)
            continue
        shown = "".join(c if ord(c) in glyphs and not _foreign(c) else UNKNOWN for c in _plain(character))
        out.append(shown)
        changed = changed or shown not in ("-", "'", " ", "")
    return "".join(out), changed


def marked(text: str, glyphs: Container[int]) -> str:
    """Return :func:`fit` of a text, with an asterisk where it was changed."""
    shown, changed = fit(text, glyphs)
    return shown + MARK if changed else shown


def _foreign(character: str) -> bool:
    """Tell Greek and Cyrillic letters: the type has a few of them, and a word must not be half in Latin letters."""
    return "\u0370" <= character <= "\u052f"


def _plain(character: str) -> str:
    """Put one character into plain Latin letters, as far as a rule is known."""
    if unicodedata.category(character) in ("Cf", "Mn", "Cc"):
        return ""
    base = "".join(c for c in unicodedata.normalize("NFKD", character) if not unicodedata.combining(c)) or character
    out: list[str] = []
    for c in base:
        lower = _LATIN.get(c.lower())
        latin = _LATIN.get(c) or (lower if lower is None or c == c.lower() else lower[:1].upper() + lower[1:])
        out.append(latin if latin is not None else c)
    return "".join(out)
