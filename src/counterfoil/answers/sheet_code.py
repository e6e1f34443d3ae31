"""A code on paper: large characters of one width, look-alikes marked, and the same code as a QR symbol.

Letters that can be taken for a digit stand in a box (O I L Z S B G), the digits zero and one are underlined; all other
characters are what they look like. Every character has a column of its own, so that a finger can follow.
"""

from __future__ import annotations

import re

import segno
from reportlab.lib.colors import black
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from counterfoil.answers import aloud
from counterfoil.answers.masking import BULLET
from counterfoil.answers.sheet_type import BOLD, GREY, MONO, TEXT

#: Size of codes in points: read at arm's length beside the machine; a code that is a little too long is set smaller.
CODE_POINTS, _LEAST_POINTS = 20.0, 16.5
#: Longer groups are set with gaps after every four characters.
LONGEST_GROUP = 8
#: Width of a character's column, of a separator's, and the height of a row, in sizes of the type.
_COLUMN, _GAP, _ROW = 0.73, 0.66, 1.36

#: Edge of a QR symbol with its quiet zone, and of its smallest module: read by a telephone from a hand's breadth.
QR_EDGE, _LEAST_MODULE = 20 * mm, 0.42 * mm
#: Modules of white around the symbol (ISO/IEC 18004, quiet zone).
_QUIET = 4
#: Longer texts make a symbol that no longer fits beside its code.
_LONGEST_QR = 90

#: Letters that can be taken for a digit, and the two digits that are taken for letters most.
BOXED = frozenset(c for group in aloud.LOOK_ALIKES for c in group if c.isalpha() and any(d.isdigit() for d in group))
UNDERLINED = frozenset("01")


class CodeBlock(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A code in large characters, broken between groups only where a line is full."""

    def __init__(self, code: str) -> None:
        super().__init__()
        self._code = code
        self._points = CODE_POINTS
        self._laid: list[list[tuple[float, str]]] = []

    def wrap(self, available: float, _height: float) -> tuple[float, float]:
        """Lay the code out, a little smaller where that saves a row; return its width and height."""
        for points in (CODE_POINTS, 18.0, _LEAST_POINTS):
            laid = _rows(self._code, available, points)
            if len(laid) == 1:
                self._points, self._laid = points, laid
                break
        else:
            self._points, self._laid = CODE_POINTS, _rows(self._code, available, CODE_POINTS)
        return available, len(self._laid) * _ROW * self._points

    def draw(self) -> None:
        """Draw every character with its mark."""
        for number, row in enumerate(self._laid, start=1):
            y = ((len(self._laid) - number) * _ROW + 0.4) * self._points
            for x, character in row:
                draw_character(self.canv, x, y, character, self._points)


def draw_character(canvas: Canvas, x: float, y: float, character: str, points: float) -> None:
    """Draw one character of a code in its column, with the mark of a look-alike.

    Args:
        canvas: where to.
        x: left edge of the column, in points.
        y: the base line.
        character: the character; a bullet stands for a hidden one.
        points: the size.
    """
    column, middle = _COLUMN * points, x + _COLUMN * points / 2
    if character == BULLET:
        canvas.circle(middle, y + points * 0.3, points * 0.12, stroke=0, fill=1)
        return
    canvas.setFont(MONO, points)
    canvas.drawCentredString(middle, y, character)
    upper = character.upper()
    canvas.setLineWidth(0.05 * points)
    if upper in BOXED:
        canvas.roundRect(x + 0.05 * points, y - 0.16 * points, column - 0.1 * points, 1.06 * points, 0.1 * points)
    elif upper in UNDERLINED:
        canvas.line(x + 0.1 * points, y - 0.16 * points, x + column - 0.1 * points, y - 0.16 * points)


def _rows(code: str, available: float, points: float) -> list[list[tuple[float, str]]]:
    """Lay a code out: pieces stay whole, a separator stands at the end of its group."""
    rows: list[list[tuple[float, str]]] = [[]]
    x = 0.0
    for piece in _pieces(code):
        width = sum(_step(c, points) for c in piece.rstrip(" -"))
        if rows[-1] and x + width > available:
            rows.append([])
            x = 0.0
        for character in piece:
            if rows[-1] and x + _step(character, points) > available and character.isalnum():
                rows.append([])
                x = 0.0
            step = _step(character, points)
            if not character.isspace():
                rows[-1].append((x - (_COLUMN * points - step) / 2, character))
            x += step
    return rows


def _step(character: str, points: float) -> float:
    return (_COLUMN if character.isalnum() or character == BULLET else _GAP) * points


def _pieces(code: str) -> list[str]:
    """Cut a code behind each separator, and groups too long for the eye into fours with a gap."""
    pieces: list[str] = []
    for group, separator in re.findall(r"([^\W_]*(?:•[^\W_]*)*)([^\w•]|_|$)", code):
        fours = [group[at : at + 4] for at in range(0, len(group), 4)] if len(group) > LONGEST_GROUP else [group]
        pieces += [f"{four} " for four in fours[:-1]] + [fours[-1] + separator]
    return [piece for piece in pieces if piece.strip()]


class QRSquare(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A code as a QR symbol (ISO/IEC 18004), drawn as one path: sharp at every size, and no picture is needed.

    Error correction level M: a fold or a finger mark does not make it unreadable.
    """

    def __init__(self, code: str) -> None:
        super().__init__()
        self._modules = segno.make_qr(code, error="m").matrix
        self.edge = max(QR_EDGE, (len(self._modules) + 2 * _QUIET) * _LEAST_MODULE)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return self.edge, self.edge

    def draw(self) -> None:
        """Draw the dark modules, runs of a row at once; runs overlap by a hair, so that no white line shows between."""
        size = self.edge / (len(self._modules) + 2 * _QUIET)
        path = self.canv.beginPath()
        for number, row in enumerate(self._modules):
            y = self.edge - (number + 1 + _QUIET) * size
            for run in re.finditer(rb"\x01+", bytes(row)):
                x = (run.start() + _QUIET) * size
                path.rect(x, y - 0.02 * size, len(run.group()) * size, 1.04 * size)
        self.canv.setFillColor(black)
        self.canv.drawPath(path, stroke=0, fill=1, fillMode=1)


def qr_square(code: str) -> QRSquare | None:
    """Return a code as a QR symbol, None for one that is masked or too long to stand beside its characters."""
    return None if BULLET in code or len(code) > _LONGEST_QR else QRSquare(code)


class Legend(Flowable):  # type: ignore[misc]  # reportlab has no types
    """The marks of look-alikes, drawn as they stand in the codes, each with what it means."""

    _POINTS = 12.0
    _PARTS = (("01", "the digits zero and one"), ("OIL", "letters, never 0 or 1"), ("ZSBG", "letters, never 2 5 8 6"))

    def wrap(self, available: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return available, 1.6 * self._POINTS

    def draw(self) -> None:
        """Draw the marks in a row."""
        x, y = 0.0, 0.42 * self._POINTS
        for signs, meaning in self._PARTS:
            for sign in signs:
                draw_character(self.canv, x, y, sign, self._POINTS)
                x += _COLUMN * self._POINTS + 1.2
            x = _written(self.canv, x + 3, y + 1, meaning) + 14


def _written(canvas: Canvas, x: float, y: float, text: str) -> float:
    """Write a small text; return where it ends."""
    canvas.setFont(TEXT, 8.5)
    canvas.drawString(x, y, text)
    return x + float(canvas.stringWidth(text, TEXT, 8.5))


class TickBox(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A square to be ticked by hand."""

    EDGE = 4.4 * mm

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return self.EDGE, self.EDGE + 0.6 * mm

    def draw(self) -> None:
        """Draw the square."""
        self.canv.setLineWidth(1)
        self.canv.rect(0.3, 0.6 * mm, self.EDGE - 0.6, self.EDGE - 0.6, stroke=1, fill=0)


class WarningSign(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A triangle with an exclamation mark, as cautions carry it (after ISO 7010, W001)."""

    def __init__(self, edge: float) -> None:
        super().__init__()
        self._edge = edge

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return self._edge, self._edge * 0.9

    def draw(self) -> None:
        """Draw the triangle and the mark in it."""
        edge, canvas = self._edge, self.canv
        path = canvas.beginPath()
        path.moveTo(edge * 0.04, edge * 0.04)
        path.lineTo(edge * 0.96, edge * 0.04)
        path.lineTo(edge * 0.5, edge * 0.86)
        path.close()
        canvas.setLineWidth(edge * 0.07)
        canvas.setLineJoin(1)
        canvas.drawPath(path, stroke=1, fill=0)
        canvas.setFont(BOLD, edge * 0.56)
        canvas.drawCentredString(edge * 0.5, edge * 0.14, "!")


class Blank(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Lines to be written on by hand, each with its label, side by side."""

    def __init__(self, labels: tuple[str, ...]) -> None:
        super().__init__()
        self._labels = labels
        self._width = 0.0

    def wrap(self, available: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        self._width = available
        return available, 9.5 * mm

    def draw(self) -> None:
        """Draw the lines and the labels below them."""
        canvas: Canvas = self.canv
        gap = 6 * mm
        each = (self._width - gap * (len(self._labels) - 1)) / len(self._labels)
        for number, label in enumerate(self._labels):
            x = number * (each + gap)
            canvas.setLineWidth(0.6)
            canvas.line(x, 4.2 * mm, x + each, 4.2 * mm)
            canvas.setFont(TEXT, 8)
            canvas.setFillColor(GREY)
            canvas.drawString(x, 0.8 * mm, label)
            canvas.setFillColor(black)
