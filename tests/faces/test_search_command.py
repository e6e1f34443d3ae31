"""The one box on the command line."""

from __future__ import annotations

import pytest
from cli_world import Desk, _tidy, shelf

__all__ = ["_tidy", "shelf"]


@pytest.mark.parametrize(
    ("typed", "first", "why"),
    [
        ("Kaethe Naehringer", "Käthe Nähringer", "near: "),
        ("Zwirnsteim", "Hannelore Zwirnstein", "near: name with one letter different"),
        ("K79WHE-S83IG", "Jürgen Fadenbrecht", "near: has M2"),
        ("kilo seven niner whiskey hotel echo sierra eight tree one golf", "Jürgen Fadenbrecht", "has M2"),
        ("Fadenbrecht 831G", "Jürgen Fadenbrecht", "has M2; name"),
    ],
)
def test_what_is_near_is_shown_as_near(shelf: Desk, typed: str, first: str, why: str) -> None:
    """Each customer found says why, and "near" where it is only nearly what was typed."""
    customers = shelf("search", *typed.split(), "--json").json()["customers"]
    assert isinstance(customers, list)
    assert (customers[0]["name"], customers[0]["certain"]) == (first, not why.startswith("near"))
    assert customers[0]["why"].startswith(why)
    assert why in " ".join(shelf("search", *typed.split()).out.split())


@pytest.mark.parametrize("command", [("warranty",), ("machine",), ("customer",)])
@pytest.mark.parametrize("ref", ["K79WHE-S83IG", "83IG", "Fadenprecht", "j.fadenbrecht@briefkasten.exmaple"])
def test_what_is_near_is_no_reference(shelf: Desk, command: tuple[str, ...], ref: str) -> None:
    """A command given something nearly right names the candidate, leaves with 1 and does nothing."""
    done = shelf(*command, ref)
    assert done.code == 1 and done.out == ""
    assert ("C2" if command == ("customer",) else "M2") in done.err and "near: " in done.err


def test_did_you_mean(shelf: Desk) -> None:
    """Where nothing is found, what may have been meant is said, in JSON as well."""
    done = shelf("search", "Spjndelnops")
    assert done.code == 0 and "Nothing found." in done.out and "Did you mean: Spindelmoos" in done.out
    assert shelf("search", "Spjndelnops", "--json").json()["did_you_mean"] == ["Spindelmoos"]
