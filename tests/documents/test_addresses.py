"""Addresses as mail programs print them."""

from __future__ import annotations

import pytest
from mail_parts import read

from counterfoil.documents.addresses import mailboxes
from counterfoil.model import Mailbox


@pytest.mark.parametrize(
    "text",
    [
        "marit@solvang.example <fontrevel@other.example>",
        '"marit@solvang.example" <fontrevel@other.example>',
        "'marit@solvang.example' <mailto:fontrevel@other.example>",
    ],
)
def test_an_address_that_stands_for_a_name_is_not_the_address(text: str) -> None:
    """Of two addresses the one in brackets is it: the other would be a wrong customer."""
    assert [box.address for box in mailboxes(text)] == ["fontrevel@other.example"]
    sender = read(f"From: {text}\n\nText\n".encode()).head.sender
    assert sender is not None
    assert sender.address == "fontrevel@other.example"


def test_brackets_without_an_address_change_nothing() -> None:
    """A link, or a bracket that is never closed, behind an address leaves it the address."""
    assert mailboxes("Solvang a@b.example <http://x.example/>") == (Mailbox("Solvang", "a@b.example"),)
    assert [box.address for box in mailboxes("a@b.example <broken")] == ["a@b.example"]
