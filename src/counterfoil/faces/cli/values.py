"""KIND=VALUE as typed on the command line."""

from __future__ import annotations

from counterfoil.errors import UsageProblem
from counterfoil.model import Kind

#: All kinds, for help texts.
KINDS = ", ".join(kind.value for kind in Kind)


def assignments(words: tuple[str, ...]) -> tuple[tuple[Kind, str], ...]:
    """Split KIND=VALUE words.

    Args:
        words: as typed.

    Raises:
        UsageProblem: a word has no `=`, no value, or an unknown kind.
    """
    found = []
    for word in words:
        name, sign, value = word.partition("=")
        try:
            kind = Kind(name.strip().replace("-", "_").lower())
        except ValueError:
            raise UsageProblem(f"{name!r} is no kind of value.", f"Kinds: {KINDS}.") from None
        if not sign or not value.strip():
            raise UsageProblem(f"{word!r} gives no value.", f"Write it as {kind.value}=VALUE.")
        found.append((kind, value.strip()))
    return tuple(found)
