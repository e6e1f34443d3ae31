"""The desk's figures: what came in week by week and where it stands, the oldest question, what no hand had to touch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from counterfoil.model import Standing
from counterfoil.records.standings import Stands, standings

if TYPE_CHECKING:
    from collections.abc import Iterable

    from counterfoil.records.store import Store


@dataclass(frozen=True, slots=True)
class Week:
    """The messages received in one week.

    ``week`` is its name by ISO 8601 (2026-W48), ``begins`` its Monday. ``by_hand`` counts those filed by a person.
    """

    week: str
    begins: date
    came_in: int
    filed: int
    open: int
    aside: int
    by_hand: int

    @property
    def touchless(self) -> float | None:
        """The share of confirmations filed without a person; None where no confirmation came in."""
        return _share(self.filed - self.by_hand, self.filed + self.open)

    def to_json(self) -> dict[str, object]:
        """Return the figures."""
        names = ("came_in", "filed", "open", "aside", "by_hand")
        figures = {name: getattr(self, name) for name in names}
        return (
            {"week": self.week, "begins": self.begins.isoformat()} | figures | {"touchless": _rounded(self.touchless)}
        )


@dataclass(frozen=True, slots=True)
class DeskReport:
    """The weeks asked for, oldest first; ``total`` over the whole archive; the oldest open message and its age."""

    weeks: tuple[Week, ...]
    total: Week
    oldest: str | None
    oldest_days: int | None

    def to_json(self) -> dict[str, object]:
        """Return all figures."""
        total = {name: value for name, value in self.total.to_json().items() if name not in ("week", "begins")}
        oldest = None if self.oldest is None else {"id": self.oldest, "days": self.oldest_days}
        return {"weeks": [week.to_json() for week in self.weeks], "total": total, "oldest_question": oldest}


def desk(store: Store, *, today: date, weeks: int = 12) -> DeskReport:
    """Count the messages by the week they were received, UTC, and by where they stand now.

    A confirmation is what is filed or open. Touchless is the share of them that was filed without a person: what a
    person filed, or still has to, is not.

    Args:
        store: the records.
        today: the day the ages are counted to.
        weeks: how many weeks up to today's; those without messages are among them.
    """
    found = standings(store)
    monday = today - timedelta(days=today.weekday())
    by_week: dict[date, list[Stands]] = {
        monday - timedelta(weeks=n): [] for n in reversed(range(weeks)) if n * 7 <= (monday - date.min).days
    }
    for stands in found:
        day = date.fromisoformat(stands.at[:10])
        begins = day - timedelta(days=min(day.weekday(), (day - date.min).days))
        if begins in by_week:
            by_week[begins].append(stands)
    oldest = next((s for s in found if s.standing is Standing.OPEN), None)
    return DeskReport(
        weeks=tuple(_week(begins, several) for begins, several in by_week.items()),
        total=_week(monday, found),
        oldest=None if oldest is None else oldest.id,
        oldest_days=None if oldest is None else max(0, (today - date.fromisoformat(oldest.at[:10])).days),
    )


def _week(begins: date, several: Iterable[Stands]) -> Week:
    counted = list(several)
    count = {standing: sum(s.standing is standing for s in counted) for standing in Standing}
    year, number, _ = begins.isocalendar()
    return Week(
        week=f"{year}-W{number:02}",
        begins=begins,
        came_in=len(counted),
        filed=count[Standing.FILED],
        open=count[Standing.OPEN],
        aside=count[Standing.ASIDE],
        by_hand=sum(s.standing is Standing.FILED and s.by_hand for s in counted),
    )


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None


def _rounded(share: float | None) -> float | None:
    return None if share is None else round(share, 4)
