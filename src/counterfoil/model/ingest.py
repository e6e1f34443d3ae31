"""What an ingest did, in figures."""

from __future__ import annotations

from dataclasses import dataclass, field

from counterfoil.model.words import Standing


@dataclass(slots=True)
class IngestReport:
    """What an ingest did, in messages; ``problems`` names each source that could not be read, and why.

    ``recovered`` are messages that an earlier run had kept and not filed; they are in none of the other figures.
    """

    received: int = 0
    new: int = 0
    already_kept: int = 0
    filed: int = 0
    open: int = 0
    aside: int = 0
    unreadable: int = 0
    recovered: int = 0
    seconds: float = 0.0
    problems: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)

    def count(self, standing: Standing) -> None:
        """Count one new message."""
        match standing:
            case Standing.FILED:
                self.filed += 1
            case Standing.OPEN:
                self.open += 1
            case Standing.ASIDE:
                self.aside += 1

    def to_json(self) -> dict[str, object]:
        """Return the figures as the machine-readable contract has them."""
        names = ("received", "new", "already_kept", "filed", "open", "aside", "unreadable", "seconds")
        return {name: getattr(self, name) for name in names}
