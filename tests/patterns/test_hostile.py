"""Text made to be slow."""

from __future__ import annotations

from in_bounds import done_in_bounds
from pattern_layouts import direct, text_document
from pattern_makers import SETTINGS

from counterfoil.model import Cell, Document, Line
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal_email, normal_name, normal_phone

PATTERNS = Patterns.load(None)
SIZE = 100_000

TEXTS = {
    "labels": "Machine ID: " * (SIZE // 12),
    "labels on lines": "Machine ID:\n" * (SIZE // 12),
    "one long word": "A" * SIZE,
    "one long number": "1" * SIZE,
    "hyphens": "A1-" * (SIZE // 3),
    "a code that repeats itself": "Activation code: A1" + "-A1" * (SIZE // 3),
    "a code after a label": "Activation code: " + "A1B2-" * (SIZE // 5),
    "spaces": "Activation code:" + " " * SIZE + "x",
    "no-break spaces": "Activation code" + "\u00a0" * SIZE + "x",
    "spaced groups": "Activation code: " + "A1 " * (SIZE // 3),
    "brackets": "Activation code " + "(" * SIZE,
    "addresses": "E-mail: " + "a@" * (SIZE // 2),
    "dots": "Name: " + "a." * (SIZE // 2),
    "name": "Name: " + "a" * SIZE + "1",
    "dates": "Date of purchase: " + "1/2/" * (SIZE // 4),
    "months": "Date of purchase: " + "3 de de de " * (SIZE // 11),
    "doubts": "old not wrong " * (SIZE // 14) + "Activation code: A1B2C3",
    "combining": "e\u0301" * (SIZE // 2),
    "phones": "Phone: " + "+44 " * (SIZE // 4),
}


def read(name: str) -> None:
    """Read one of the texts."""
    message = direct(text_document(TEXTS[name]) if name != "spaces" else _one_cell(TEXTS[name]))
    PATTERNS.read(message, SETTINGS)


def normalise(name: str) -> None:
    """Bring one of the texts into the normal forms."""
    normal_email(TEXTS[name])
    normal_phone(TEXTS[name])
    normal_name(TEXTS[name])


def test_hostile_text_is_read_within_the_bounds() -> None:
    """A hundred thousand characters of any of these are read within what a reading process may take."""
    assert done_in_bounds("test_hostile", "read", list(TEXTS)) == list(TEXTS)


def _one_cell(text: str) -> Document:
    return Document("body", 0, text, (Line(0, len(text), (Cell(0, len(text), 0, len(text)),)),))


def test_normal_forms_of_hostile_text_stay_within_the_bounds() -> None:
    """So are their normal forms made."""
    assert done_in_bounds("test_hostile", "normalise", list(TEXTS)) == list(TEXTS)
