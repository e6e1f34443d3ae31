"""`counterfoil reread`: what new patterns change is shown first, codes covered, and written when told."""

from __future__ import annotations

from cli_world import Desk, _tidy, desk, shown_secrets
from conftest import SAMPLES

__all__ = ["_tidy", "desk"]


def test_what_changes_is_shown_and_then_written(desk: Desk) -> None:
    """With a maker's file taken away the command shows by message what is read otherwise, covers every code, writes
    only with --write, and says so; triage then lists what a person must decide."""
    for path in (desk.folder / "patterns").glob("*.toml"):
        path.unlink()
    before = desk("export").out
    shown = desk("reread")
    assert shown.code == 1
    assert "Read anew, the " in shown.out
    assert "filed -> open" in shown.out
    assert "Nothing is written yet. Add --write to write it." in shown.out
    assert desk("export").out == before
    written = desk("reread", "--write", "--why", "file gone")
    assert "Written; J1 in the journal." in written.out
    assert shown_secrets(shown.out + written.out) == []
    assert desk("export").out != before
    assert "Read anew" in desk("triage").out
    assert "file gone" in desk("journal").out


def test_nothing_new_is_said(desk: Desk) -> None:
    """With the patterns of the ingest, the messages filed are read as they were; --json says the same for programs."""
    desk("reread", "--write")
    said = desk("reread", "--write", "--json").json()
    assert (said["changed"], said["text_only"], said["journal"], said["problems"]) == ([], [], None, [])
    assert "There was nothing to write." in desk("reread", "--write", "--since", "2999-01-01").out


def test_days_and_makers_are_checked(desk: Desk) -> None:
    """A day that is none is refused; a maker nobody knows touches no message but those without any maker."""
    assert desk("reread", "--since", "yesterday").code == 2
    said = desk("reread", "--since", "2999-01-01", "--json").json()
    assert (said["read"], said["changed"]) == (0, [])
    assert desk("reread", "--maker", "Nobody", "--json").json()["changed"] == []


def test_a_line_of_reading_anew_is_not_undone(desk: Desk) -> None:
    """Undoing such a line is refused with the reason, and changes nothing."""
    for path in (desk.folder / "patterns").glob("*.toml"):
        path.unlink()
    desk("reread", "--write")
    before = desk("export").out
    outcome = desk("triage", "undo", "J1")
    assert outcome.code == 13
    assert "changed nothing that undo can restore" in outcome.err
    assert desk("export").out == before


def test_the_samples_need_no_second_reading() -> None:
    """The samples the other tests rest on have makers' files that can be taken away."""
    assert len(list((SAMPLES / "patterns").glob("*.toml"))) >= 3
