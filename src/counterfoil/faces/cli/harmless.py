"""Makes text from messages harmless for a terminal, and writes JSON that is harmless there too."""

from __future__ import annotations

import json
import unicodedata

#: Control, format (direction, joiners), private, surrogate, line and paragraph separators: nothing of a text's sense.
_HARMFUL = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp"})
_SOFT_HYPHEN = "\u00ad"


def clean(text: str) -> str:
    """Return text without characters that steer a terminal or change the direction of writing; a blank for each."""
    if text.isprintable():
        return text
    return "".join(" " if _harmful(c) and c != _SOFT_HYPHEN else c for c in text)


def json_text(value: object) -> str:
    """Return a value as JSON on one line: readable letters as they are, what could steer a terminal as ``\\uXXXX``."""
    text = json.dumps(value, ensure_ascii=False)
    if text.isprintable():
        return text
    # Outside its strings JSON holds printable ASCII only, so every such character may be written as an escape.
    return "".join(json.dumps(c)[1:-1] if _harmful(c) else c for c in text)


def _harmful(character: str) -> bool:
    return not character.isprintable() and unicodedata.category(character) in _HARMFUL
