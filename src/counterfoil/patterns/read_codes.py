"""Codes out of documents: the value a label points to, and what stands in a maker's shape without a label."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from counterfoil.model import CODE_KINDS, SECRET_KINDS, Check, Kind
from counterfoil.patterns import odds
from counterfoil.patterns.codes import HYPHENS, Run, ends_broken, find_runs, is_code, leftover, surely_joined
from counterfoil.patterns.found import Found, Span
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, UNDERNEATH, Label, View, label_kind
from counterfoil.patterns.normal import normal_code
from counterfoil.patterns.rests import (
    begins_above,
    code_like,
    code_like_after,
    continuation,
    ends_below,
    every_run,
    goes_on_beside,
    goes_on_later,
    is_struck,
    like_rest,
)
from counterfoil.patterns.shapes import Shape, is_words
from counterfoil.patterns.tables import several_rows
from counterfoil.patterns.targets import Target, targets
from counterfoil.patterns.words import Hit, Role

_FIRST_WORD = re.compile(r"[-\u2010-\u2014]?[A-Za-z0-9]{1,40}(?:[-\u2010-\u2015./][A-Za-z0-9]{1,40}){0,12}")
_DOUBT_AHEAD, _DOUBT_BEHIND = 40, 25
"""Characters around a code without a label within which a word of doubt is meant for it."""
_MOST_LINES = 4
"""Lines over which a code is put together."""
_FIRST_PART = 60
"""Characters at the end of a place in which the first part of a broken code is looked for."""
_MASKED = re.compile(r"[•●█■▪]|\*{2,}|\bX{3,}\b")
#: Labels read in one document; more make a list, not a confirmation.
MAX_LABELS = 1_000


@dataclass(frozen=True, slots=True)
class Known:
    """What is known about the message's makers: their names, the shapes in play, and whether a maker was recognised."""

    makers: frozenset[str]
    shapes: tuple[Shape, ...]
    recognised: bool

    def of(self, kind: Kind) -> list[Shape]:
        """Return the shapes of a kind."""
        return [shape for shape in self.shapes if shape.kind is kind]

    def trusts(self, shape: Shape, normal: str) -> bool:
        """Tell whether a code in a shape is that maker's; unless recognised, only a right check digit says so."""
        return self.recognised or shape.check(normal) is Check.PASSED


def labelled_codes(view: View, known: Known) -> tuple[list[Found], list[Span], frozenset[Kind]]:
    """Read the code behind every label of a document.

    Returns:
        The codes found, the spans of everything code-like behind a label of a key or code (to be masked), and the
        kinds whose label stands with words and no code (none, will follow).
    """
    found: list[Found] = []
    secrets: list[Span] = []
    denied: set[Kind] = set()
    places: list[tuple[Label, Target]] = []
    lost = False
    for label in view.labels[:MAX_LABELS]:
        kind = label_kind(label, known.makers)
        vague = kind is None and label.has(Role.VAGUE_LABEL)
        if kind not in CODE_KINDS and not vague:
            continue
        secret = vague or kind in SECRET_KINDS
        passed, named = False, len(places)
        for target in targets(view, label):
            codes = _codes_at(view, target, known.of(kind) if kind else [], known)
            pieces = [piece for code in codes for piece in code.pieces]
            if secret:
                secrets.extend(pieces if vague and codes else _to_mask(view, label, target) + pieces)
            if not codes:
                near = bool(code_like(view, target.start, target.end))
                passed = passed or near
                if kind is not None and label.clean and not near:
                    denied.add(kind)
                continue
            if passed or (label.marked and kind in denied):
                for code in codes:
                    code.odds = min(code.odds, odds.VERY_DOUBTFUL)
                    code.why.append("something else stands nearer to the label")
            if kind in CODE_KINDS and not vague:
                found.extend(_found(view, label, kind, code, target) for code in codes)
                places.append((label, target))
            break
        lost = lost or (kind in SECRET_KINDS and len(places) == named and _stands_out(view, label))
    if several_rows(view, places):
        for value in found:
            value.odds = min(value.odds, odds.DOUBTFUL)
            value.evidence.append("a table with values of more than one machine")
    return found, secrets + (every_run(view) if lost else []), frozenset(denied)


def _stands_out(view: View, label: Label) -> bool:
    """Tell whether a label stands for itself, or in brackets behind its value."""
    return label.clean or view.text[label.start - 1 : label.start] == "("


def _to_mask(view: View, label: Label, target: Target) -> list[Span]:
    return code_like(view, label.end, target.end) + code_like_after(view, target)


@dataclass(slots=True)
class _Code:
    value: str
    pieces: list[Span]
    odds: float
    shape: Shape | None
    check: Check
    why: list[str]


def _codes_at(view: View, target: Target, shapes: Sequence[Shape], known: Known) -> list[_Code]:
    fitting = _by_shape(view, target, shapes, known)
    if fitting:
        return fitting
    runs = find_runs(view.text, target.start, target.end, view.words.stop)
    if not runs:
        return []
    pieces = [(run.start, run.end) for run in runs]
    beside = leftover(view.text, target.start, target.end, pieces)
    codes = [code for run in runs if (code := _generic(view, target, run, beside, len(runs)))]
    if shapes and known.recognised:
        for code in codes:
            code.odds += odds.SHAPE_MISSED
            code.why.append(f"not in {shapes[0].maker}'s shape {shapes[0].text}")
    return codes


def _by_shape(view: View, target: Target, shapes: Sequence[Shape], known: Known) -> list[_Code]:
    """Return what stands in a target in a maker's shape, also where the rest stands in the next line."""
    codes: dict[str, _Code] = {}
    end = min(target.end, target.start + 300)
    for shape in shapes:
        for match in shape.find.finditer(view.text, target.start, end):
            value = match.group()
            if known.trusts(shape, normal_code(value)) and not is_struck(view.text, *match.span()):
                codes.setdefault(normal_code(value), _shaped(value, [match.span()], shape, target.base))
    if not codes and shapes:
        joined = _joined_shape(view, target, shapes, known)
        return [joined] if joined else []
    for code in codes.values():
        if len(codes) > 1:
            code.odds = min(code.odds, odds.DOUBTFUL)
            code.why.append("two codes in one place")
        elif target.how == UNDERNEATH and leftover(view.text, target.start, target.end, code.pieces):
            code.odds = min(code.odds, odds.DOUBTFUL)
            code.why.append("words beside it, and the label in another line")
    return list(codes.values())


def _joined_shape(view: View, target: Target, shapes: Sequence[Shape], known: Known) -> _Code | None:
    """Return the code in a maker's shape whose first part ends a target and whose rest stands in the next line."""
    first = view.text[target.start : target.end].rstrip()[-_FIRST_PART:]
    at = view.text.rfind(first, target.start, target.end)
    alone = continuation(view, target.spot)
    sure = alone is not None
    rest = alone[1] if alone is not None else _next_word(view, target)
    if rest is None or not first:
        return None
    both = first + view.text[slice(*rest)].rstrip(".,;")
    for shape in shapes:
        for match in shape.find.finditer(both):
            normal = normal_code(match.group())
            if not match.start() < len(first) < match.end() or not known.trusts(shape, normal):
                continue
            if sure or shape.check(normal) is Check.PASSED:
                pieces = [(at + match.start(), at + len(first)), (rest[0], rest[0] + match.end() - len(first))]
                return _shaped(match.group(), pieces, shape, target.base, "joined over two lines")
    return None


def _next_word(view: View, target: Target) -> Span | None:
    """Return the first word of the next line of running text, into which a code may have been wrapped."""
    line = view.lines[target.spot[0]]
    if len(line.cells) > 1 or target.end < view.cell(target.spot).end:
        return None
    below = view.below(target.spot, lines=1, heights=NEXT_LINE_HEIGHTS)
    if below is None or below[1] > 0:
        return None
    cell = view.cell(below)
    word = _FIRST_WORD.match(view.text, cell.start, cell.end)
    return word.span() if word else None


def _shaped(value: str, pieces: list[Span], shape: Shape, base: float, *why: str) -> _Code:
    prose = odds.is_prose(base)
    total = base + (odds.SHAPE_FITS_IN_PROSE if prose else odds.SHAPE_FITS)
    reasons = [*why, f"{shape.maker}'s shape {shape.text}"]
    result = shape.check(normal_code(value))
    if result is Check.PASSED:
        total = max(total + odds.CHECK_PASSED, odds.CODE_BY_SHAPE_CHECKED)
        reasons.append(f"check digit right ({shape.check_name})")
    elif result is Check.FAILED:
        total += odds.CHECK_FAILED
        reasons.append(f"check digit wrong ({shape.check_name})")
    return _Code(value, pieces, total, shape, result, reasons)


def _generic(view: View, target: Target, run: Run, beside: str, runs: int) -> _Code | None:
    """Weigh a code of a maker without a shape: everything that makes it doubtful lowers it."""
    value, pieces, doubts, cut = _put_together(view, target, run)
    why = [*run.doubts, *doubts]
    base = target.base
    if cut:
        return _Code(value, pieces, odds.VERY_DOUBTFUL, None, Check.NONE, [*why, "cut off at a hyphen"])
    if runs > 1:
        why.append("two codes in one place")
    if _MASKED.search(view.text, target.start, min(target.end, target.start + 300)):
        why.append("part of it is masked")
    if goes_on_beside(view, target):
        why.append("something like its rest beside it")
    if begins_above(view, run, target):
        why.append("something like its beginning above it")
    if len(pieces) == 1 and ends_below(view, run, target):
        why.append("something like its rest in the line below")
    if target.cut:
        why.append("words of another label right behind it")
    if beside:
        ahead = leftover(view.text, target.start, run.start, [])
        if odds.is_prose(base):
            base = odds.CODE_FAR_IN_PROSE if ahead else base
        else:
            why.append("words beside it")
    total = min(base, odds.DOUBTFUL) if why else base
    joined = ["joined over two lines"] if len(pieces) > 1 else []
    return _Code(value, pieces, total, None, Check.NONE, why + joined)


def _put_together(view: View, target: Target, run: Run) -> tuple[str, list[Span], list[str], bool]:
    """Join a code broken at a hyphen from the lines underneath.

    Returns:
        The whole code, its pieces, doubts about them, and whether its end is missing.
    """
    value, pieces, doubts = run.value, [(run.start, run.end)], []
    open_end = run.broken or ends_broken(view.text[run.start : target.end])
    spot = target.spot
    if not open_end and goes_on_later(view, run, target):
        doubts.append("something like its rest further down")
    for _ in range(_MOST_LINES):
        if not open_end and pieces[-1][1] < view.cell(spot).end - 1 and run.end < target.end - 1:
            break
        below = continuation(view, spot)
        if below is None:
            break
        spot, rest = below
        text = view.text[slice(*rest)]
        if not open_end and text[0] not in HYPHENS:
            if like_rest(run, text):
                doubts.append("something like its rest underneath")
            break
        if not surely_joined(value, text.strip(HYPHENS)):
            doubts.append("perhaps not one code")
        value = f"{value}-{text.strip(HYPHENS)}"
        pieces.append(rest)
        open_end = text[-1] in HYPHENS
    return value, pieces, doubts, open_end or not is_code(value)


def _found(view: View, label: Label, kind: Kind, code: _Code, target: Target) -> Found:
    name = view.text[label.start : label.end].strip()
    total = code.odds
    evidence = [f"{target.how} “{name}”", *code.why]
    if _in_doubt(view, label, target, code.pieces):
        total = min(total, odds.VERY_DOUBTFUL)
        evidence.append("a word nearby says it is another one")
    language = next((s.language for s in label.meaning.senses if s.language), "")
    pattern = f"label {language}" + (f", shape {code.shape.maker}" if code.shape else "")
    found = Found(
        kind, code.value, normal_code(code.value), view.document, code.pieces, total, pattern, code.check, evidence
    )
    found.maker = code.shape.maker if code.shape else None
    return found


def _start(hit: Hit) -> int:
    return hit.start


def _in_doubt(view: View, label: Label, target: Target, own: Sequence[Span]) -> bool:
    """Tell whether a word of doubt (old, wrong, example) stands ahead of the label or around the value."""
    labels = view.at[label.spot]
    at = labels.index(label)
    cell = view.cell(label.spot)
    spans = [(labels[at - 1].rest_end if at else cell.start, label.rest_end), (target.start, target.end)]
    for start, end in spans:
        for hit in view.doubts[bisect_left(view.doubts, start, key=_start) :]:
            if hit.start >= end:
                break
            if not _within(hit.start, hit.end, [(label.start, label.end), *own]):
                return True
    return False


def shaped_codes(view: View, known: Known, taken: Sequence[Found], denied: frozenset[Kind]) -> list[Found]:
    """Find codes in a maker's shape that no label names.

    Args:
        view: the document.
        known: the makers in play.
        taken: codes found by label, in any document; neither they nor their places are told again.
        denied: kinds whose label in the document stands with words instead of a code.
    """
    normals = {code.normal for code in taken}
    here = [code for code in taken if code.document is view.document]
    others = [
        span for label in view.labels[:MAX_LABELS] if label.has(Role.OTHER_LABEL) for span in _others(view, label)
    ]
    spans: dict[Span, list[Shape]] = {}
    for shape in known.shapes:
        for number, match in enumerate(shape.find.finditer(view.text)):
            if number > 100:
                break
            if not is_struck(view.text, *match.span()):
                spans.setdefault(match.span(), []).append(shape)
    found: list[Found] = []
    for (start, end), shapes in sorted(spans.items()):
        value = view.text[start:end]
        normal = normal_code(value)
        if (
            normal.isalpha()  # a long name, one in thirty of which has a right check digit
            or normal in normals
            or any(code.overlaps(start, end) for code in here)
            or any(s <= start < e for s, e in others)
        ):
            continue
        code = _unlabelled(shapes, value, known)
        if code is None:
            continue
        shape, total, result, why = code
        if shape.kind in denied or _doubted(view, start, end):
            total = min(total, odds.VERY_DOUBTFUL)
            why.append("words nearby say that it is another one, or that there is none")
        pattern = f"shape {shape.maker}"
        new = Found(shape.kind, value, normal, view.document, [(start, end)], total, pattern, result, why)
        new.maker = shape.maker
        found.append(new)
    return found


def _others(view: View, label: Label) -> Iterator[Span]:
    """Yield the places in which the value of a label of no concern stands: an order number, a customer's number."""
    yield label.rest_start, label.rest_end if label.clean or label.marked else label.rest_start + 1
    if label.alone and label.clean and view.is_last(label):
        for spot, _ in view.nearby(label):
            if spot is not None and not view.is_label(spot):
                yield view.cell(spot).start, view.cell(spot).end
                return


def _doubted(view: View, start: int, end: int) -> bool:
    """Tell whether a word of doubt (old, wrong, example) stands shortly ahead of a code or right behind it."""
    first = bisect_left(view.doubts, start - _DOUBT_AHEAD, key=_start)
    return any(
        not _within(hit.start, hit.end, [(start, end)])
        for hit in view.doubts[first : first + 20]
        if hit.start < end + _DOUBT_BEHIND
    )


def _perhaps_words(value: str) -> bool:
    return value.isalpha() or is_words(value) or (" " in value and value != value.upper())


def _within(start: int, end: int, spans: Sequence[Span]) -> bool:
    return any(s <= start and end <= e for s, e in spans)


def _unlabelled(shapes: Sequence[Shape], value: str, known: Known) -> tuple[Shape, float, Check, list[str]] | None:
    """Weigh a code without a label; None where its shape may be chance or says nothing about its kind."""
    normal = normal_code(value)
    passing = [shape for shape in shapes if shape.check(normal) is Check.PASSED]
    kinds = {shape.kind for shape in passing or shapes}
    if len(kinds) != 1:
        return None
    shape = (passing or list(shapes))[0]
    why = [f"{shape.maker}'s shape {shape.text}, without a label"]
    if passing:
        worth = odds.CODE_BY_DIGITS_CHECKED if normal.isdigit() else odds.CODE_BY_SHAPE_CHECKED
        return shape, worth, Check.PASSED, [*why, f"check digit right ({shape.check_name})"]
    if not known.recognised or (shape.literal < 2 and (shape.length < 10 or _perhaps_words(value))):
        return None
    if shape.check_name != "none":
        total = odds.CODE_BY_SHAPE + odds.CHECK_FAILED
        return shape, total, Check.FAILED, [*why, f"check digit wrong ({shape.check_name})"]
    return shape, odds.CODE_BY_SHAPE, Check.NONE, why
