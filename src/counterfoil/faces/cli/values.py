"""KIND=VALUE as typed on the command line, and values as shown."""

from __future__ import annotations

from counterfoil.errors import UsageProblem
from counterfoil.model import DATE_KINDS, Kind

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


def as_day(kind: Kind, value: str, normal: str) -> str:
    """Return a value as shown: a day by ISO 8601, with its own spelling beside it; all else as written.

    Args:
        kind: what the value says.
        value: as written (masked where secret).
        normal: its normal form.
    """
    return value if kind not in DATE_KINDS or value == normal else f"{normal}, written {value}"
