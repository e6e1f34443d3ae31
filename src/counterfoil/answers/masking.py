"""How codes are hidden: one rule for every answer and every face.

A masked code keeps its separators, so that its printed form can be recognised, and shows its last four
letters or digits only when it has at least eight: of a shorter code four would give half away.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from counterfoil.model import SECRET_KINDS, Fact, Kind, Noted

BULLET = "•"
SHOWN_CHARACTERS = 4
#: Codes shorter than this are hidden whole.
SHORTEST_SHOWN = 8


def mask(code: str) -> str:
    """Hide a code, keeping its separators.

    Args:
        code: the code in any form, as written or normal.

    Returns:
        The code with its letters and digits replaced by bullets; the last four stay when there are eight or more.
    """
    total = sum(character.isalnum() for character in code)
    hidden = total - SHOWN_CHARACTERS if total >= SHORTEST_SHOWN else total
    out: list[str] = []
    for character in code:
        if not character.isalnum():
            out.append(character)
            continue
        out.append(BULLET if hidden > 0 else character)
        hidden -= 1
    return "".join(out)


def mask_value(kind: Kind, value: str, *, reveal: bool = False) -> str:
    """Hide a value if its kind is a secret one (product key, activation code).

    Args:
        kind: what the value says.
        value: the value, as written or normal.
        reveal: True leaves the value as it is.
    """
    return mask(value) if kind in SECRET_KINDS and not reveal else value


def secrets_of(facts: Iterable[Noted | Fact]) -> frozenset[str]:
    """Collect the secret values among facts, as written and in normal form, every reading of them."""
    found: set[str] = set()
    for item in facts:
        fact = item.fact if isinstance(item, Noted) else item
        if fact.kind in SECRET_KINDS:
            found.update({fact.value, fact.normal, *fact.readings})
    return frozenset(value for value in found if any(c.isalnum() for c in value))


def mask_in(text: str, secrets: Iterable[str], *, inside: bool = False) -> str:
    """Hide every secret value that a text holds, in whatever case and with whatever separators.

    Args:
        text: a subject, a sentence, a label.
        secrets: values from :func:`secrets_of`.
        inside: also in the middle of a word, values of eight letters and digits or more.

    Returns:
        The text; its length is unchanged.
    """
    for secret in _longest_first(secrets):
        text = re.sub(_pattern(secret, inside=inside), lambda hit: mask(hit.group()), text, flags=re.IGNORECASE)
    return text


def spans_in(text: str, secrets: Iterable[str]) -> list[tuple[int, int]]:
    """Find every secret value that a text holds, as :func:`mask_in` does.

    Returns:
        Begin and end of each, in characters; they may overlap.
    """
    return [
        hit.span()
        for secret in _longest_first(secrets)
        for hit in re.finditer(_pattern(secret), text, flags=re.IGNORECASE)
    ]


def _longest_first(secrets: Iterable[str]) -> list[str]:
    return sorted(secrets, key=lambda value: (-len(value), value))


def _pattern(secret: str, *, inside: bool = False) -> str:
    letters = [re.escape(character) for character in secret if character.isalnum()]
    whole = r"[\W_]{0,3}".join(letters)
    return whole if inside and len(letters) >= SHORTEST_SHOWN else rf"(?<![^\W_]){whole}(?![^\W_])"
