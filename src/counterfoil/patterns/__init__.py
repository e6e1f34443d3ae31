"""Documents to facts: labels, shapes, check digits and dates, all declared as data.

``Patterns`` is loaded on first use: the records need only :mod:`counterfoil.patterns.normal` and start faster so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterfoil.patterns.makers import MakerPattern, UpgradePattern
    from counterfoil.patterns.proofs import ProofFailure
    from counterfoil.patterns.reader import Patterns

__all__ = ["MakerPattern", "Patterns", "ProofFailure", "UpgradePattern"]

_HOMES = {"Patterns": "reader", "MakerPattern": "makers", "UpgradePattern": "makers", "ProofFailure": "proofs"}


def __getattr__(name: str) -> object:
    """Import a public name from its module when it is first asked for (PEP 562)."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
