"""Names in type that has their letters, and in type that lacks some of them."""

from __future__ import annotations

import unicodedata

import pytest

from counterfoil.answers.lettering import fit, marked
from counterfoil.answers.sheet_type import glyphs

#: Blocks of The Unicode Standard, and letters of them that the type lacks: none of a living alphabet of Europe.
BLOCKS = {
    "Basic Latin to Latin Extended-B": (0x20, 0x24F, 0),
    "Latin Extended Additional": (0x1E00, 0x1EFF, 4),
    "Greek and Coptic": (0x370, 0x3FF, 0),
    "Greek Extended": (0x1F00, 0x1FFF, 0),
    "Cyrillic": (0x400, 0x4FF, 0),
    "Cyrillic Supplement": (0x500, 0x52F, 10),
}


@pytest.mark.parametrize("block", list(BLOCKS))
def test_the_type_has_the_letters_of_europe(block: str) -> None:
    """Every letter of the Latin, Greek and Cyrillic blocks is shown as written, but for a few of no living alphabet."""
    first, last, lacking = BLOCKS[block]
    letters = [chr(n) for n in range(first, last + 1) if unicodedata.category(chr(n))[0] in "LN"]
    unshown = [letter for letter in letters if fit(letter, glyphs()) != (unicodedata.normalize("NFC", letter), False)]
    assert len(unshown) <= lacking, unshown


@pytest.mark.parametrize(
    "name",
    [
        "Małgorzata Źdźbło",
        "Růžena Nováčková",
        "Ελένη Παπαδοπούλου",
        "Юлия Ковалёва",
        "Ђорђе Ћирић",
        "Žofie Müller-Ångström",
        "Nguyễn Thị Ánh Tuyết",
        "Guðrún Þórsdóttir",
        "İpek Güneş",
        "Ştefan Țepeș",
        "Ọlá",
    ],
)
def test_names_are_shown_as_written(name: str) -> None:
    """Names in Latin letters with all their accents, in Greek and in Cyrillic need no replacement."""
    assert fit(name, glyphs()) == (name, False)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Jean\u2011Luc", "Jean‑Luc"),
        ("山田 Hana", "?? Hana*"),
        ("שרה", "???*"),
        ("سارة", "????*"),
        ("สมชาย", "?????*"),
        ("Ana\u202enoitar", "Ananoitar"),
        ("Tab\there", "Tab here"),
    ],
)
def test_letters_that_are_lacking_are_replaced_visibly(name: str, shown: str) -> None:
    """Other scripts do not break the sheet: each letter becomes a question mark, and the text carries an asterisk."""
    assert marked(name, glyphs()) == shown


def test_type_without_accents_drops_them_visibly() -> None:
    """A type with plain Latin letters only shows them without their accents, marked; a broad hyphen needs no mark."""
    plain = frozenset(range(0x20, 0x7F))
    assert marked("Müller", plain) == "Muller*"
    assert marked("Jean\u2011Luc", plain) == "Jean-Luc"


def test_decomposed_accents_are_composed_first() -> None:
    """A name typed with separate accents is the same name."""
    assert fit("Mu\u0308ller", glyphs()) == ("Müller", False)
