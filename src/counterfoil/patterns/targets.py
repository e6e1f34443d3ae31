"""Where the code that a label points to may stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from counterfoil.patterns import odds
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, Label, Spot, View


@dataclass(frozen=True, slots=True)
class Target:
    """A part of the text a label points to. ``spot`` is its cell; ``how`` says where it stands, in words."""

    start: int
    end: int
    spot: Spot
    how: str
    base: float
    cut: bool = False
    """True where words of another label follow without anything to part them from the value."""
    line: int = -1
    """Number of the line the label stands in."""


def targets(view: View, label: Label) -> Iterator[Target]:
    """Yield the places in which a label's code may stand, likeliest first."""
    if not label.alone:
        yield _beside(view, label)
        wrapped = _wrapped(view, label)
        if wrapped is not None:
            yield wrapped
        return
    if not view.is_last(label) or not (label.clean or label.marked or label.tie):
        return
    base = odds.CODE_LABELLED if label.clean else odds.CODE_LABELLED_LOOSELY
    for spot, how in view.nearby(label):
        if spot is not None and not view.is_label(spot):
            cell = view.cell(spot)
            yield Target(cell.start, cell.end, spot, how, base, line=label.spot[0])


def _beside(view: View, label: Label) -> Target:
    if label.clean and (label.marked or not (label.tie or view.in_paragraph(label.spot))):
        base = odds.CODE_LABELLED
    elif label.marked:
        base = odds.CODE_LABELLED_LOOSELY
    else:
        base = odds.CODE_IN_PROSE
    return Target(label.rest_start, label.rest_end, label.spot, "behind", base, label.cut, label.spot[0])


def _wrapped(view: View, label: Label) -> Target | None:
    """Return the next line of running text, into which a sentence that names a code may go on."""
    line = view.lines[label.spot[0]]
    cell = view.cell(label.spot)
    if len(line.cells) > 1 or label.rest_end < cell.end or cell.end - label.end > 60:
        return None
    spot = view.below(label.spot, lines=1, heights=NEXT_LINE_HEIGHTS)
    if spot is None:
        return None
    after = view.cell(spot)
    return Target(after.start, after.end, spot, "in the line after", odds.CODE_FAR_IN_PROSE)
