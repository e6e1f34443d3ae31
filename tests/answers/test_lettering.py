"""Names in type that lacks some of their letters."""

from __future__ import annotations

import pytest

from counterfoil.answers.lettering import fit, marked
from counterfoil.answers.sheet import glyphs


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Małgorzata Źdźbło", "Małgorzata Zdzbło*"),
        ("Růžena Nováčková", "Ružena Nováčková*"),
        ("Ελένη Παπαδοπούλου", "Eleni Papadopoulou*"),
        ("Юлия Ковалёва", "Yuliya Kovaleva*"),
        ("Žofie Müller-Ångström", "Žofie Müller-Ångström"),
        ("Jean\u2011Luc", "Jean-Luc"),
        ("山田", "??*"),
    ],
)
def test_letters_that_are_lacking_are_replaced_visibly(name: str, shown: str) -> None:
    """A name is printed as written where the type has its letters, else in plain Latin ones with a mark."""
    assert marked(name, glyphs()) == shown


def test_decomposed_accents_are_composed_first() -> None:
    """A name typed with separate accents is the same name."""
    assert fit("Mu\u0308ller", glyphs()) == ("Müller", False)
