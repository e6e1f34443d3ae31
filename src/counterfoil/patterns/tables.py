"""Tables with a row or a column for each machine: their values belong together by row, and to nobody in particular."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from counterfoil.model import CODE_KINDS
from counterfoil.patterns.codes import find_runs
from counterfoil.patterns.layout import BESIDE, UNDERNEATH, Label, Spot, View
from counterfoil.patterns.targets import Target

_ROWS = 4
"""Lines under a value in which another row of the table is looked for."""


def several_rows(view: View, places: Sequence[tuple[Label, Target]]) -> bool:
    """Tell whether the places that labels point to are those of a table with values of more than one machine.

    Args:
        view: the document.
        places: labels of codes, and the place each code was found in.
    """
    lines: dict[int, set[int]] = defaultdict(set)
    for label, target in places:
        if target.how == UNDERNEATH and view.in_header(label):
            lines[target.line].add(target.spot[0])
            if _another_under(view, target):
                return True
        if target.how == BESIDE and _another_beside(view, target):
            return True
    return any(len(found) > 1 for found in lines.values())


def _another_under(view: View, target: Target) -> bool:
    """Tell whether another code stands under a value, before any label."""
    cell = view.cell(target.spot)
    for number in range(target.spot[0] + 1, min(target.spot[0] + _ROWS, len(view.lines))):
        cells = view.lines[number].cells
        if any((number, i) in view.at and view.is_label((number, i)) for i in range(min(len(cells), 8))):
            return False
        for i, other in enumerate(cells[:8] if len(cells) > 1 else ()):
            over = min(cell.x1, other.x1) > max(cell.x0, other.x0)
            runs = over and find_runs(view.text, other.start, other.end, view.words.stop)
            if runs and not _has_own_label(view, (number, i)):
                return True
    return False


def _has_own_label(view: View, spot: Spot) -> bool:
    """Tell whether a cell begins with the label of a code: a box of a form, in which label and value stand together."""
    labels = view.at.get(spot)
    return labels is not None and labels[0].clean and bool(labels[0].meaning.kinds & CODE_KINDS)


def _another_beside(view: View, target: Target) -> bool:
    """Tell whether another code stands in a later cell of the line, before any label."""
    cells = view.lines[target.spot[0]].cells
    for i in range(target.spot[1] + 1, min(len(cells), target.spot[1] + 4)):
        if (target.spot[0], i) in view.at:
            return False
        if find_runs(view.text, cells[i].start, cells[i].end, view.words.stop):
            return True
    return False
