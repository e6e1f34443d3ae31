"""Pages without rules on which label and code are both wrapped: a piece of a code never comes out as the code."""

from __future__ import annotations

from io import BytesIO

import pytest
from pattern_layouts import forwarded
from pattern_makers import SETTINGS
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents.pdf import pdf_document
from counterfoil.model import Document, Kind
from counterfoil.patterns import Patterns

PATTERNS = Patterns.load(None)
#: Label and value of a row, each in its lines.
Row = tuple[list[str], list[str]]
MODEL: Row = (["Model"], ["Lindra 300"])
FIRMWARE: Row = (["Firmware"], ["2.40"])


def page(*rows: Row, apart: float = 6, values: float = 150) -> Document:
    """Return a page with a table without rules: lines 12 points apart, rows a little more."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(595, 842), invariant=1)
    canvas.setFont("Helvetica", 10)
    y = 700.0
    for label, value in rows:
        for number in range(max(len(label), len(value))):
            for x, lines in ((60, label), (values, value)):
                if number < len(lines):
                    canvas.drawString(x, y - 12 * number, lines[number])
        y -= 12 * max(len(label), len(value)) + apart
    canvas.showPage()
    canvas.save()
    return pdf_document("pdf:a.pdf", 0, out.getvalue(), SETTINGS.limits)


def certain(document: Document) -> list[str]:
    """Return the activation codes that would be filed, as printed."""
    reading = PATTERNS.read(forwarded(document), SETTINGS)
    return [f.value for f in reading.facts if f.kind is Kind.ACTIVATION_CODE and f.odds >= SETTINGS.filing_odds]


@pytest.mark.parametrize(
    "row",
    [
        (["Your", "activation code"], ["9F3K77AB-", "M2XW22KF"]),  # the end stands beside the label
        (["Your", "activation code"], ["9F3K-", "77AB-", "M2XW"]),
        (["Your", "activation code"], ["9F3K 77AB", "M2XW 22KF"]),  # no hyphen: told by the room between lines
        (["Activation code", "of the machine"], ["9F3K77ABM2", "44X"]),  # the beginning stands beside it
        (["Activation code", "for the model"], ["9F3K 77AB", "M2XW 22KF"]),
    ],
)
@pytest.mark.parametrize("values", [136, 150, 220])
def test_a_piece_is_not_the_code(row: Row, values: float) -> None:
    """Half a code beside half a label is not filed as a code, wherever the column of values stands."""
    found = certain(page(MODEL, row, FIRMWARE, values=values))
    assert [code for code in found if code.replace(" ", "-") != "-".join(row[1]).replace(" ", "-")] == []


def test_whole_codes_beside_whole_labels_stay_certain() -> None:
    """Codes in rows at even distances are filed, though other codes stand above and below them."""
    rows: list[Row] = [
        (["Machine ID"], ["QX9Z-GPQX-7L"]),
        (["Product key"], ["0C3A4A-CDD7F9"]),
        (["Activation code"], ["9F3K77AB-M2XW22KF"]),
        (["Serial number"], ["089-4148859"]),
    ]
    for apart in (0.0, 6.0):
        assert certain(page(MODEL, *rows, FIRMWARE, apart=apart)) == ["9F3K77AB-M2XW22KF"]


def test_a_broken_code_above_does_not_spoil_the_next_row() -> None:
    """A key that is broken at a hyphen and goes on below leaves the code of the next row certain."""
    rows: list[Row] = [(["Product key"], ["0C3A4A-", "CDD7F9"]), (["Activation code"], ["9F3K77AB-M2XW22KF"])]
    assert certain(page(MODEL, *rows, FIRMWARE)) == ["9F3K77AB-M2XW22KF"]
