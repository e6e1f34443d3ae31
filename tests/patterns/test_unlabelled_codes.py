"""Codes that no label names: what a shape with a right check digit says, and what it does not."""

from __future__ import annotations

from itertools import product
from pathlib import Path

from pattern_layouts import forwarded, text_document
from pattern_makers import CODE, KEY, SETTINGS, patterns
from stdnum.iso7064 import mod_37_36

from counterfoil.model import Check, Kind, Mailbox, Reading

VELOTTA = Mailbox("Velotta", "service@mail.velotta.example")
SOMEBODY = Mailbox("", "somebody@post.example")
_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def read(folder: Path, text: str, inner: Mailbox) -> Reading:
    """Read a forwarded text with the test maker known."""
    return patterns(folder).read(forwarded(text_document(text, "forward:1", 1), inner=inner), SETTINGS)


def test_a_name_is_no_code(tmp_path: Path) -> None:
    """A family name as long as a code whose letters have a right check character (ISO 7064) is not read as one."""
    ends = ("".join(pair) for pair in product("ABCDEFGHJKMN", repeat=2))
    name = next(n for end in ends if mod_37_36.is_valid(n := f"BRANDEGGEN{end}", alphabet=_ALPHABET))
    for inner in (VELOTTA, SOMEBODY):
        reading = read(tmp_path, f"Best regards\nRuna {name.title()}", inner)
        assert [fact for fact in reading.facts if fact.kind is Kind.ACTIVATION_CODE] == []


def test_the_value_of_another_label_is_no_code(tmp_path: Path) -> None:
    """A number beside or under the label of a customer's number or an order number is not read by its shape."""
    for text in (f"Customer number\t{CODE}\n", f"Order number\n{CODE}\n", f"Order number: {CODE}\n"):
        reading = read(tmp_path, text, VELOTTA)
        assert Kind.ACTIVATION_CODE not in reading.chosen, text


def test_a_lone_code_of_a_maker_nobody_names_is_doubted(tmp_path: Path) -> None:
    """A code by its shape is for a person where nothing names the maker; with a second one, or a maker, it counts."""
    alone = read(tmp_path, f"Here you are: {CODE}.", SOMEBODY).chosen[Kind.ACTIVATION_CODE]
    assert alone.check is Check.PASSED and alone.odds < SETTINGS.filing_odds
    assert "nothing names the maker" in alone.evidence[-1]
    both = read(tmp_path, f"Here you are: {KEY} and {CODE}.", SOMEBODY)
    assert both.chosen[Kind.ACTIVATION_CODE].odds >= SETTINGS.filing_odds
    assert read(tmp_path, f"Here you are: {CODE}.", VELOTTA).chosen[Kind.ACTIVATION_CODE].odds >= SETTINGS.filing_odds
