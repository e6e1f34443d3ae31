"""Codes out of documents: the value a label points to, and what stands in a maker's shape without a label."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from counterfoil.model import CODE_KINDS, Check, Kind
from counterfoil.patterns import odds
from counterfoil.patterns.codes import Run, ends_broken, find_runs, is_code, leftover, surely_joined
from counterfoil.patterns.found import Found, Span
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, Label, Spot, View, label_kind
from counterfoil.patterns.normal import normal_code
from counterfoil.patterns.shapes import Shape
from counterfoil.patterns.words import Hit, Role

_FRAGMENT = re.compile(r"[-\u2010-\u2014]?[A-Za-z0-9]+(?:[-\u2010-\u2015./ \u00a0][A-Za-z0-9]+)*[-\u2010-\u2014]?\.?")
_GROUP = re.compile(r"[A-Za-z0-9]+")
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
        yield _beside(label)
        wrapped = _wrapped(view, label)
        if wrapped is not None:
            yield wrapped
        return
    if not view.is_last(label) or not (label.clean or label.marked or label.tie):
        return
    base = odds.CODE_LABELLED if label.clean else odds.CODE_LABELLED_LOOSELY
    nearby = [(view.next_cell(label.spot), "in the cell next to"), (view.below(label.spot), "underneath")]
    if view.in_header(label):
        nearby.reverse()
    for spot, how in nearby:
        if spot is not None and not view.is_label(spot):
            cell = view.cell(spot)
            yield Target(cell.start, cell.end, spot, how, base, line=label.spot[0])


def _beside(label: Label) -> Target:
    if label.clean and (label.marked or not label.tie):
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


def labelled_codes(view: View, known: Known) -> tuple[list[Found], list[Span]]:
    """Read the code behind every label of a document.

    Returns:
        The codes found, and the spans of everything code-like behind a label of a key or code (to be masked).
    """
    found: list[Found] = []
    secrets: list[Span] = []
    for label in view.labels[:MAX_LABELS]:
        kind = label_kind(label, known.makers)
        vague = label.has(Role.VAGUE_LABEL)
        if kind not in CODE_KINDS and not vague:
            continue
        for target in targets(view, label):
            codes = _codes_at(view, target, known.of(kind) if kind else [], known)
            if not codes:
                continue
            if vague or kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
                secrets.extend(piece for code in codes for piece in code.pieces)
            if kind in CODE_KINDS and not vague:
                found.extend(_found(view, label, kind, code, target) for code in codes)
            break
    return found, secrets


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
            if known.trusts(shape, normal_code(value)):
                codes.setdefault(normal_code(value), _shaped(value, [match.span()], shape, target.base))
    if not codes and shapes:
        joined = _joined_shape(view, target, shapes, known)
        return [joined] if joined else []
    if len(codes) > 1:
        for code in codes.values():
            code.odds = min(code.odds, odds.DOUBTFUL)
            code.why.append("two codes in one place")
    return list(codes.values())


def _joined_shape(view: View, target: Target, shapes: Sequence[Shape], known: Known) -> _Code | None:
    rest = _continuation(view, target.spot)
    if rest is None:
        return None
    first = view.text[target.start : target.end].strip()
    second = view.text[slice(*rest)]
    normal = normal_code(first) + normal_code(second)
    for shape in shapes:
        if shape.fits(normal) and len(first) <= 2 * shape.length and known.trusts(shape, normal):
            at = view.text.index(first, target.start)
            return _shaped(first + second, [(at, at + len(first)), rest], shape, target.base, "joined over two lines")
    return None


def _shaped(value: str, pieces: list[Span], shape: Shape, base: float, *why: str) -> _Code:
    prose = base <= odds.CODE_IN_PROSE
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
    why = list(run.doubts)
    value, pieces = run.value, [(run.start, run.end)]
    base = target.base
    if runs > 1:
        why.append("two codes in one place")
    if _MASKED.search(view.text, target.start, min(target.end, target.start + 300)):
        why.append("part of it is masked")
    if _goes_on_beside(view, target):
        why.append("something like its rest beside it")
    if target.cut:
        why.append("words of another label right behind it")
    if run.broken or ends_broken(view.text[run.start : target.end]):
        rest = _continuation(view, target.spot)
        if rest is None or not is_code(value + "-" + view.text[slice(*rest)]):
            return _Code(value, pieces, odds.VERY_DOUBTFUL, None, Check.NONE, [*why, "cut off at a hyphen"])
        tail = view.text[slice(*rest)].lstrip("-\u2010\u2011\u2012\u2013\u2014")
        if not surely_joined(value, tail):
            why.append("perhaps not one code")
        value, pieces = f"{value}-{tail}", [*pieces, rest]
        text = "joined over two lines"
    else:
        text = ""
        if run.end >= target.end - 1 and (rest := _continuation(view, target.spot)) is not None:
            if view.text[rest[0]] in "-\u2010\u2011\u2012\u2013\u2014":
                value, pieces = value + view.text[slice(*rest)], [*pieces, rest]
                text = "joined over two lines"
                if not surely_joined(run.value, view.text[slice(*rest)]):
                    why.append("perhaps not one code")
            elif _like_rest(run, view.text[slice(*rest)]):
                why.append("something like its rest underneath")
    if beside:
        ahead = leftover(view.text, target.start, run.start, [])
        if base <= odds.CODE_IN_PROSE:
            base = odds.CODE_FAR_IN_PROSE if ahead else base
        else:
            why.append("words beside it")
    return _Code(
        value, pieces, min(base, odds.DOUBTFUL) if why else base, None, Check.NONE, [*why, text] if text else why
    )


def _continuation(view: View, spot: Spot) -> Span | None:
    """Return the span of a piece of a code alone in the cell underneath, in the next line of the same column."""
    below = view.below(spot, lines=1, heights=NEXT_LINE_HEIGHTS)
    if below is None:
        return None
    cell = view.cell(below)
    text = view.text[cell.start : cell.end]
    stripped = text.strip()
    match = _FRAGMENT.fullmatch(stripped)
    if match is None or len(stripped) > 40 or below in view.at:
        return None
    words = stripped.strip(".-\u2010\u2011\u2012\u2013\u2014").replace("\u00a0", " ").split(" ")
    for word in words:
        if word.lower() in view.words.stop or not (word.isupper() or any(c.isdigit() for c in word)):
            return None
    if _is_other(stripped):
        return None
    start = cell.start + text.index(stripped)
    return start, start + len(stripped.rstrip("."))


def _like_rest(run: Run, text: str) -> bool:
    """Tell whether a piece next to a code may be its last groups."""
    lengths = {len(group) for group in run.groups}
    return any(c.isdigit() for c in text) or {len(group) for group in _GROUP.findall(text)} <= lengths


def _goes_on_beside(view: View, target: Target) -> bool:
    """Tell whether the next cell of the line, unless a label claims it, looks like more of the code."""
    spot = view.next_cell(target.spot)
    if spot is None or target.end < view.cell(target.spot).end:
        return False
    cell = view.cell(spot)
    text = view.text[cell.start : cell.end].strip()
    if len(text) < 2 or len(text) > 40 or _FRAGMENT.fullmatch(text) is None or spot in view.at or _is_other(text):
        return False
    if target.line != target.spot[0] and view.labels_over(spot, target.line):
        return False
    words = text.replace("\u00a0", " ").split(" ")
    return all(word.isupper() or any(c.isdigit() for c in word) for word in words)


def _is_other(text: str) -> bool:
    """Tell whether a piece is a date or an amount and so belongs to no code."""
    from counterfoil.patterns.dates import is_date

    return is_date(text) or re.fullmatch(r"\d+\.\d{1,2}", text) is not None


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


def shaped_codes(view: View, known: Known, taken: Sequence[Found]) -> list[Found]:
    """Find codes in a maker's shape that no label names.

    Args:
        view: the document.
        known: the makers in play.
        taken: codes found by label, in any document; neither they nor their places are told again.
    """
    normals = {code.normal for code in taken}
    here = [code for code in taken if code.document is view.document]
    others = [
        (label.rest_start, label.rest_end if label.clean or label.marked else label.rest_start + 1)
        for label in view.labels
        if label.has(Role.OTHER_LABEL)
    ]
    spans: dict[Span, list[Shape]] = {}
    for shape in known.shapes:
        for number, match in enumerate(shape.find.finditer(view.text)):
            if number > 100:
                break
            spans.setdefault(match.span(), []).append(shape)
    found: list[Found] = []
    for (start, end), shapes in sorted(spans.items()):
        value = view.text[start:end]
        normal = normal_code(value)
        if (
            normal in normals
            or any(code.overlaps(start, end) for code in here)
            or any(s <= start < e for s, e in others)
        ):
            continue
        code = _unlabelled(shapes, normal, known)
        if code is None:
            continue
        shape, total, result, why = code
        pattern = f"shape {shape.maker}"
        new = Found(shape.kind, value, normal, view.document, [(start, end)], total, pattern, result, why)
        new.maker = shape.maker
        found.append(new)
    return found


def _within(start: int, end: int, spans: Sequence[Span]) -> bool:
    return any(s <= start and end <= e for s, e in spans)


def _unlabelled(shapes: Sequence[Shape], normal: str, known: Known) -> tuple[Shape, float, Check, list[str]] | None:
    """Weigh a code without a label; None where its shape may be chance or says nothing about its kind."""
    passing = [shape for shape in shapes if shape.check(normal) is Check.PASSED]
    kinds = {shape.kind for shape in passing or shapes}
    if len(kinds) != 1:
        return None
    shape = (passing or list(shapes))[0]
    why = [f"{shape.maker}'s shape {shape.text}, without a label"]
    if passing:
        return shape, odds.CODE_BY_SHAPE_CHECKED, Check.PASSED, [*why, f"check digit right ({shape.check_name})"]
    if not known.recognised or (shape.literal < 2 and shape.length < 10):
        return None
    if shape.check_name != "none":
        total = odds.CODE_BY_SHAPE + odds.CHECK_FAILED
        return shape, total, Check.FAILED, [*why, f"check digit wrong ({shape.check_name})"]
    return shape, odds.CODE_BY_SHAPE, Check.NONE, why
