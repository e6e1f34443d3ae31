"""Charts as SVG, drawn by reportlab: bars with titles on both axes, in colours that the colour-blind can tell apart.

The picture is whole by itself: it fetches nothing and runs nothing, and the same figures give the same bytes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any
from xml.etree import ElementTree

#: Blue and orange of Okabe and Ito, "Color Universal Design" (2008), and a light grey: any two of them differ in
#: brightness too, so that a black-and-white print still parts them.
COLOURS = ("#0072B2", "#E69F00", "#D2D2D2")
_INK, _LINES, _WHITE = "#222222", "#DDDDDD", "#FFFFFF"
#: Of the figure inside a bar, in the order of the colours.
_FIGURES = (_WHITE, _INK, _INK)
_SVG = "http://www.w3.org/2000/svg"
_FONT, _BOLD = "Helvetica", "Helvetica-Bold"
#: All sizes in points.
_TITLE_POINTS, _TEXT_POINTS = 17, 11
_WIDTH, _HEIGHT = 820, 440
_ROW, _MARGIN, _HEAD, _FOOT, _LEGEND = 26, 24, 56, 58, 28
#: Room below upright bars for names set aslant.
_ASLANT = 48
#: More names along the axis than this run into one another; then only some are written.
_MOST_NAMES = 16
#: More bars than this are too thin for a figure inside them.
_MOST_VALUES = 30
#: Lines across the chart, at most.
_MOST_STEPS = 10


@dataclass(frozen=True, slots=True)
class Series:
    """One set of bars: what it is called, and its value for each name on the axis."""

    name: str
    values: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A bar chart: several series stand on one another.

    ``names`` stand along the axis called ``names_title``; ``values_title`` says what is counted, with its unit.
    ``sideways``: bars run from left to right, for names too long to stand below a bar.
    """

    title: str
    names_title: str
    values_title: str
    names: tuple[str, ...]
    series: tuple[Series, ...]
    sideways: bool = False

    @property
    def most(self) -> int:
        """The longest bar of a single series."""
        return max((value for series in self.series for value in series.values), default=0)

    def to_json(self) -> dict[str, object]:
        """Return the figures by name."""
        return {name: {s.name: s.values[n] for s in self.series} for n, name in enumerate(self.names)}


def svg(chart: Chart) -> bytes:
    """Draw a chart.

    Args:
        chart: the figures.

    Returns:
        An SVG document in UTF-8 without scripts.
    """
    from reportlab.graphics.renderSVG import drawToString

    chart = _printable(chart)
    ElementTree.register_namespace("", _SVG)
    root = ElementTree.fromstring(drawToString(_drawing(chart)))
    for node in root.iter(f"{{{_SVG}}}text"):
        _fit(node)
    for name, text in (("title", chart.title), ("desc", f"{chart.values_title} by {chart.names_title}")):
        for node in root.findall(f"{{{_SVG}}}{name}"):
            # Read out by programs for people who cannot see the picture.
            node.text = text
    # Made anew without the reference to a document type on another server.
    return b'<?xml version="1.0" encoding="utf-8"?>\n' + ElementTree.tostring(root, encoding="unicode").encode()


def _printable(chart: Chart) -> Chart:
    """Return a chart whose names hold no character that XML refuses; they come from strangers' mail."""

    def plain(text: str) -> str:
        return "".join(c if c.isprintable() else " " for c in text)

    series = tuple(replace(one, name=plain(one.name)) for one in chart.series)
    return Chart(
        plain(chart.title),
        plain(chart.names_title),
        plain(chart.values_title),
        tuple(map(plain, chart.names)),
        series,
        chart.sideways,
    )


def _fit(node: ElementTree.Element) -> None:
    """Name types that any screen has beside Helvetica, and let each take the room that the drawing leaves for it."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    style = node.get("style", "")
    found = re.search(r"font-family: (Helvetica(-Bold)?); font-size: ([\d.]+)px", style)
    if found is None or not node.text:
        return
    face = "Helvetica, Arial, sans-serif" + ("; font-weight: bold" if found.group(2) else "")
    node.set("style", style.replace(f"font-family: {found.group(1)}", f"font-family: {face}"))
    node.set("textLength", f"{stringWidth(node.text, found.group(1), float(found.group(3))):.1f}")
    node.set("lengthAdjust", "spacingAndGlyphs")


def _drawing(chart: Chart) -> Any:
    """Put title, bars, titles of the axes and legend on one drawing."""
    from reportlab.graphics.shapes import Drawing, Group, Rect, String
    from reportlab.lib.colors import HexColor
    from reportlab.pdfbase.pdfmetrics import stringWidth

    legend = _LEGEND if len(chart.series) > 1 else 0
    height = _HEAD + _FOOT + legend + max(len(chart.names), 3) * _ROW if chart.sideways else _HEIGHT + legend
    names = max((stringWidth(name, _FONT, _TEXT_POINTS) for name in chart.names), default=0)
    left = _MARGIN + 34 + (names if chart.sideways else 14)
    bottom = _FOOT + legend + (0 if chart.sideways else _ASLANT - 12)
    drawing = Drawing(_WIDTH, height)
    drawing.add(Rect(0, 0, _WIDTH, height, fillColor=HexColor(_WHITE), strokeColor=None))

    def write(text: str, x: float, y: float, *, size: float = _TEXT_POINTS + 1, font: str = _FONT) -> Any:
        return String(x, y, text, fontName=font, fontSize=size, textAnchor="middle", fillColor=HexColor(_INK))

    drawing.add(write(chart.title, _WIDTH / 2, height - 32, size=_TITLE_POINTS, font=_BOLD))
    across = chart.values_title if chart.sideways else chart.names_title
    drawing.add(write(across, (left + _WIDTH - _MARGIN) / 2, legend + 16))
    aside = Group(write(chart.names_title if chart.sideways else chart.values_title, 0, 0))
    aside.translate(_MARGIN, (bottom + height - _HEAD) / 2)
    aside.rotate(90)
    drawing.add(aside)
    if chart.names and chart.series:
        drawing.add(_bars(chart, left, bottom, _WIDTH - _MARGIN - left, height - _HEAD - bottom))
    else:
        drawing.add(write("There is nothing to draw yet.", (left + _WIDTH - _MARGIN) / 2, height / 2))
    for n, series in enumerate(chart.series if legend else ()):
        x = left + n * (_WIDTH - _MARGIN - left) / len(chart.series)
        drawing.add(Rect(x, 8, 12, 12, fillColor=HexColor(COLOURS[n]), strokeColor=None))
        label = write(series.name, x + 18, 10)
        label.textAnchor = "start"
        drawing.add(label)
    return drawing


def _bars(chart: Chart, x: float, y: float, width: float, height: float) -> Any:
    """Return the bars with both axes, in the rectangle given."""
    from reportlab.graphics.charts.barcharts import HorizontalBarChart, VerticalBarChart
    from reportlab.lib.colors import HexColor

    bars = HorizontalBarChart() if chart.sideways else VerticalBarChart()
    bars.x, bars.y, bars.width, bars.height = x, y, width, height
    # A chart on its side is drawn from the bottom: turned round, the first name stands on top.
    turn = slice(None, None, -1 if chart.sideways else 1)
    every = 1 if chart.sideways else max(1, -(-len(chart.names) // _MOST_NAMES))
    bars.data = [series.values[turn] for series in chart.series]
    bars.categoryAxis.categoryNames = [name if n % every == 0 else "" for n, name in enumerate(chart.names)][turn]
    bars.categoryAxis.style = "stacked"
    bars.categoryAxis.visibleTicks = False
    bars.categoryAxis.strokeColor = HexColor(_INK)
    bars.barSpacing, bars.groupSpacing = 0, 4
    names = bars.categoryAxis.labels
    names.fontName, names.fontSize, names.fillColor = _FONT, _TEXT_POINTS, HexColor(_INK)
    if not chart.sideways:
        names.angle, names.boxAnchor, names.dx, names.dy = 35, "ne", 4, -4
    _values(bars.valueAxis, chart)
    for n in range(len(chart.series)):
        bars.bars[n].fillColor = HexColor(COLOURS[n])
        bars.bars[n].strokeColor = HexColor(_WHITE)
        bars.bars[n].strokeWidth = 0.5
        bars.barLabels[n].fillColor = HexColor(_FIGURES[n])
    bars.barLabels.fontName, bars.barLabels.fontSize = _FONT, _TEXT_POINTS
    bars.barLabels.boxAnchor, bars.barLabels.boxTarget = "c", "mid"
    bars.barLabelFormat = _figure if chart.sideways or len(chart.names) <= _MOST_VALUES else _no_figure
    return bars


def _values(axis: Any, chart: Chart) -> None:
    """Let the axis of figures begin at nought and step in whole numbers."""
    from reportlab.lib.colors import HexColor

    totals = [sum(series.values[n] for series in chart.series) for n in range(len(chart.names))]
    step = _step(max(totals, default=1))
    axis.valueMin, axis.valueStep = 0, step
    axis.valueMax = max(step, -(-max(totals, default=1) // step) * step)
    axis.labelTextFormat = "%d"
    axis.labels.fontName, axis.labels.fontSize, axis.labels.fillColor = _FONT, _TEXT_POINTS, HexColor(_INK)
    axis.visibleGrid, axis.gridStrokeColor, axis.gridStrokeWidth = True, HexColor(_LINES), 0.8
    axis.strokeColor = HexColor(_INK)


def _step(most: int) -> int:
    """Return the distance of the lines across: 1, 2 or 5 and their tens, so that there are few."""
    step = 1
    while most > step * _MOST_STEPS:
        step = step * 5 // 2 if str(step)[0] == "2" else step * 2
    return step


def _figure(value: float) -> str:
    return str(int(value)) if value else ""


def _no_figure(_value: float) -> str:
    return ""
