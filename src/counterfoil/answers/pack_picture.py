"""A page as a picture on paper, its facts framed, each frame joined to its number in the margin beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.colors import Color, black, white
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from counterfoil.answers.pack_evidence import Picture
from counterfoil.answers.sheet_type import BOLD, GREY, RULE, TEXT, fitted

#: A dark red: seen on white paper, in print without colour, and by people who see colours differently.
FRAME_COLOUR = Color(0.70, 0.13, 0.07)
#: Room for the numbers and what they are, beside the picture.
MARGIN_WIDTH = 50 * mm
_TAG = 4.6 * mm
#: Height of a callout: what it is, and up to two lines of its value.
_LABEL_POINTS, _VALUE_POINTS, _CALLOUT = 7.5, 9, 9.4 * mm


@dataclass(frozen=True, slots=True)
class Callout:
    """What stands beside a frame: its number, what it is, and its value."""

    number: int
    label: str
    value: str


class PictureWithFrames(Flowable):  # type: ignore[misc]  # reportlab has no types
    """The picture, as large as the room lets it be, and its callouts at the right.

    Args:
        picture: the page.
        callouts: one for each of its frames.
        room: width there is for picture and callouts, in points.
        height: the most height, in points.
    """

    def __init__(self, picture: Picture, callouts: Sequence[Callout], room: float, height: float) -> None:
        super().__init__()
        self._picture, self._callouts = picture, callouts
        scale = min((room - MARGIN_WIDTH) / picture.width, height / picture.height)
        self.width, self.height = picture.width * scale, picture.height * scale

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return width and height."""
        return self.width + MARGIN_WIDTH, self.height

    def draw(self) -> None:
        """Draw the picture, its edge, the frames, and the callouts."""
        canvas = self.canv
        canvas.drawImage(ImageReader(BytesIO(self._picture.png)), 0, 0, self.width, self.height)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.5)
        canvas.rect(0, 0, self.width, self.height, stroke=1, fill=0)
        frames = [self._placed(edges) for edges in self._picture.frames]
        order = sorted(range(len(frames)), key=lambda n: (-(frames[n][1] + frames[n][3]), frames[n][0]))
        wanted = [(frames[n][1] + frames[n][3]) / 2 for n in order]
        heights = spread(wanted, _CALLOUT, _CALLOUT, self.height - _TAG / 2)
        for n, y in zip(order, heights, strict=True):
            x0, y0, x1, y1 = frames[n]
            canvas.setStrokeColor(FRAME_COLOUR)
            canvas.setLineWidth(1.1)
            canvas.roundRect(x0, y0, x1 - x0, y1 - y0, 1.2, stroke=1, fill=0)
            canvas.setLineWidth(0.4)
            middle, edge = (y0 + y1) / 2, self.width + 1.5 * mm
            canvas.lines([(x1, middle, edge, middle), (edge, middle, self.width + 5 * mm, y)])
            self._callout(self._callouts[n], self.width + 5 * mm, y)

    def _callout(self, callout: Callout, x: float, y: float) -> None:
        """Draw a number in its circle, what it is, and its value below."""
        canvas = self.canv
        canvas.setFillColor(FRAME_COLOUR)
        canvas.circle(x + _TAG / 2, y, _TAG / 2, stroke=0, fill=1)
        canvas.setFillColor(white)
        canvas.setFont(BOLD, 7.5 if callout.number < 100 else 6)
        canvas.drawCentredString(x + _TAG / 2, y - 2.7, str(callout.number))
        left = x + _TAG + 1.5 * mm
        room = self.width + MARGIN_WIDTH - left
        canvas.setFillColor(GREY)
        canvas.setFont(TEXT, _LABEL_POINTS)
        canvas.drawString(left, y - 2.6, callout.label)
        value, points = fitted(callout.value, TEXT, _VALUE_POINTS, room, least=6.5)
        canvas.setFillColor(black)
        canvas.setFont(TEXT, points)
        canvas.drawString(left, y - 13, value)

    def _placed(self, edges: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
        """Return a frame in points, its origin the lower left corner of the picture."""
        left, top, right, bottom = edges
        return left * self.width, (1 - bottom) * self.height, right * self.width, (1 - top) * self.height


def spread(wanted: Sequence[float], least: float, bottom: float, top: float) -> list[float]:
    """Move heights apart that stand too close, as little as can be (least squares, by pooling neighbours).

    Args:
        wanted: heights, from the top down.
        least: the least distance between two.
        bottom, top: where they must stay; with too many for that they stand closer.

    Returns:
        Heights in the same order, from the top down.
    """
    if not wanted:
        return []
    least = min(least, (top - bottom) / max(1, len(wanted) - 1))
    pools: list[tuple[float, int]] = []
    for n, height in enumerate(wanted):
        mean, count = height + n * least, 1
        while pools and pools[-1][0] < mean:
            before, number = pools.pop()
            mean, count = (before * number + mean * count) / (number + count), number + count
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    span = (len(wanted) - 1) * least
    return [min(max(height, bottom + span), top) - n * least for n, height in enumerate(flat)]
