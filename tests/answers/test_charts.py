"""Charts: whole by themselves, the same bytes each time, the figures in them, colours that can be told apart."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations

import pytest

from counterfoil.answers.charts import COLOURS, Chart, Series, svg

SVG = "{http://www.w3.org/2000/svg}"
WEEKS = Chart(
    "Messages per week",
    "week",
    "messages",
    ("2026-W01", "2026-W02", "2026-W03"),
    (Series("filed", (3, 41, 0)), Series("open", (1, 0, 0)), Series("aside", (0, 7, 0))),
)
VERSIONS = Chart("Firmware", "version", "machines", ("2.9", "2.10"), (Series("machines", (17, 5)),), sideways=True)
NOTHING = Chart("Firmware", "version", "machines", (), (Series("machines", ()),), sideways=True)


def texts(chart: Chart) -> list[str]:
    """Return every text of a drawn chart."""
    root = ET.fromstring(svg(chart))
    return [text for node in root.iter(f"{SVG}text") if (text := "".join(node.itertext()).strip())]


@pytest.mark.parametrize("chart", [WEEKS, VERSIONS])
def test_titles_names_and_figures_are_in_it(chart: Chart) -> None:
    """Title, titles of both axes, every name and every figure can be read in the picture."""
    shown = texts(chart)
    for text in (chart.title, chart.names_title, chart.values_title, *chart.names):
        assert text in shown
    for series in chart.series:
        assert len(chart.series) == 1 or series.name in shown
        assert all(str(value) in shown for value in series.values if value)


def test_an_axis_counts_whole_things() -> None:
    """No half machine stands on an axis, however few there are."""
    few = Chart("Firmware", "version", "machines", ("2.9",), (Series("machines", (1,)),), sideways=True)
    assert [text for text in texts(few) if re.fullmatch(r"\d+\.\d+", text)] == ["2.9"]


@pytest.mark.parametrize("chart", [WEEKS, VERSIONS, NOTHING])
def test_it_runs_and_fetches_nothing(chart: Chart) -> None:
    """No script, no address but the namespace, no document type; the same figures give the same bytes."""
    data = svg(chart)
    assert data == svg(chart)
    text = data.decode()
    for word in ("<script", "<!--", "<!DOCTYPE", "@import", "href"):
        assert word not in text
    assert set(re.findall(r"https?://[^\s\"']+", text)) == {"http://www.w3.org/2000/svg"}


def test_names_cannot_break_out_of_the_picture() -> None:
    """Names come from strangers' mail: their signs stay text."""
    name = '<script>alert(1)</script>&"'
    chart = Chart("Firmware", "version", "machines", (name,), (Series("machines", (1,)),), sideways=True)
    assert "<script" not in svg(chart).decode()
    assert name in texts(chart)
    odd = "a\x00b\x1b\ufffe\ud800\u202ec"
    ET.fromstring(svg(Chart(odd, odd, odd, (odd,), (Series(odd, (1,)), Series("x", (2,))))))


def test_any_two_colours_differ_in_brightness() -> None:
    """Any two colours have a contrast of 1.4 to 1 or more (WCAG 2.2): for all eyes, and in print."""

    def luminance(colour: str) -> float:
        channels = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for one, other in combinations(map(luminance, COLOURS), 2):
        assert (max(one, other) + 0.05) / (min(one, other) + 0.05) >= 1.4


def test_a_long_axis_stays_readable() -> None:
    """Of two hundred weeks only some are named, and figures no longer stand in the bars."""
    names = tuple(f"W{n:03}" for n in range(200))
    shown = texts(Chart("Messages", "week", "messages", names, (Series("filed", (777,) * 200),)))
    assert 10 <= sum(text in names for text in shown) <= 40
    assert "777" not in shown
