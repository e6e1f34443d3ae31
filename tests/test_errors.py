"""Errors: one tree, one exit code each, the same in the README."""

from __future__ import annotations

import re
from pathlib import Path

from counterfoil import errors

README = Path(__file__).parent.parent / "README.md"


def test_no_two_classes_share_an_exit_code() -> None:
    """An exit code tells one class of error from all others."""
    codes = [cls.exit_code for cls in errors.error_classes()]
    assert len(codes) == len(set(codes))
    assert 0 not in codes


def test_every_error_class_of_the_package_is_in_the_tree() -> None:
    """Every exception class in errors.py is below the one base and has its own code and next step."""
    for cls in errors.error_classes():
        assert issubclass(cls, errors.CounterfoilError)
        assert cls.__doc__
        assert cls.next_step.endswith(".")
        assert "exit_code" in vars(cls)


def test_the_tree_drawn_at_the_top_is_the_tree() -> None:
    """The drawing in the module's docstring names every class with its code."""
    drawn = dict(re.findall(r"(\w+) {2,}(\d+) {3}", errors.__doc__ or ""))
    assert drawn == {cls.__name__: str(cls.exit_code) for cls in errors.error_classes()}


def test_the_readme_lists_the_same_codes() -> None:
    """The README's table of exit codes has a row for done, and one for each class with its description."""
    rows = dict(re.findall(r"^\| (\d+) \| (.+?) \|$", README.read_text(encoding="utf-8"), re.MULTILINE))
    expected = {str(c.exit_code): (c.__doc__ or "").strip().splitlines()[0].rstrip(".") for c in errors.error_classes()}
    expected["3"] = rows["3"]
    assert rows == {"0": "Done", **expected}
    assert "any other" in rows["3"].lower()


def test_an_error_says_what_happened_and_what_to_do() -> None:
    """The text of an error is the sentence on what happened, then the next step."""
    error = errors.ArchiveMissing("There is no archive in /shop.")
    assert str(error).startswith("There is no archive in /shop. Run `counterfoil init`")
    assert str(errors.ArchiveMissing("Gone.", "Look.")) == "Gone. Look."
