"""The archive folder: made whole or not at all, opened only where it is one, written by one at a time."""

from __future__ import annotations

import os
import sys
import tomllib
from pathlib import Path

import pytest

from counterfoil.archive import Archive, default_folder
from counterfoil.errors import ArchiveMissing, StorageFull, UsageProblem


def test_a_new_archive_has_all_its_parts(tmp_path: Path) -> None:
    """A new archive holds settings, coverage terms, records and the folders, and opens again."""
    folder = tmp_path / "deep" / "shop"
    made = Archive.create(folder, shop_name="Corner Threads", shop_addresses=("help@corner.example",), region="NL")
    assert made.store.message_count() == 0
    made.close()
    assert {path.name for path in folder.iterdir()} >= {
        "counterfoil.toml", "coverage.toml", "records.db", "originals", "index", "patterns",
    }  # fmt: skip
    opened = Archive(folder)
    assert opened.settings.shop_name == "Corner Threads"
    assert opened.settings.shop_addresses == ("help@corner.example",)
    assert opened.settings.region == "NL"
    assert opened.patterns.makers == ()
    assert list(opened.originals.hashes()) == []
    opened.close()


@pytest.mark.parametrize(
    "name", ['Quote " and \\ slash', "Näh\u00adstube", "line\nbreak", "tab\tstop", "\x7f\x1b", "😀"]
)
def test_any_name_survives_the_settings_file(tmp_path: Path, name: str) -> None:
    """A shop's name with quotes, controls or emoji is written as TOML 1.0 demands and read back the same."""
    Archive.create(tmp_path / "shop", shop_name=name).close()
    text = (tmp_path / "shop" / "counterfoil.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["shop_name"] == name
    assert Archive(tmp_path / "shop").settings.shop_name == name


def test_the_coverage_template_is_valid(tmp_path: Path) -> None:
    """The coverage terms of a new archive are valid TOML, and so is the example in them once it is uncommented."""
    Archive.create(tmp_path / "shop", shop_name="x").close()
    text = (tmp_path / "shop" / "coverage.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text) == {}
    example = "\n".join(line.removeprefix("# ") for line in text.splitlines()[2:] if line != "#")
    (term,) = tomllib.loads(example)["term"]
    assert {"maker", "part", "years", "start"} <= set(term)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps rights in another way")
def test_only_the_owner_may_look_inside(tmp_path: Path) -> None:
    """The folders hold personal data and codes: they are closed to all but the owner."""
    Archive.create(tmp_path / "shop", shop_name="x").close()
    for part in ("", "originals", "index", "patterns"):
        assert (tmp_path / "shop" / part).stat().st_mode & 0o077 == 0


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    """An archive is not made in a folder with something in it, nor over a file."""
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    for folder in (tmp_path, tmp_path / "note.txt"):
        with pytest.raises(UsageProblem, match="not an empty folder"):
            Archive.create(folder, shop_name="x")
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]


@pytest.mark.parametrize("missing", ["counterfoil.toml", "records.db", ""])
def test_half_an_archive_is_none(tmp_path: Path, missing: str) -> None:
    """A folder without settings or records, as a kill during init leaves it, is not taken for an archive."""
    folder = tmp_path / "shop"
    if missing:
        Archive.create(folder, shop_name="x").close()
        (folder / missing).unlink()
    with pytest.raises(ArchiveMissing, match="no archive"):
        Archive(folder)


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Where the folder cannot be made, because a file stands in its way, the error names it."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises((StorageFull, UsageProblem), match="file"):
        Archive.create(tmp_path / "file" / "shop", shop_name="x")


def test_the_lock_is_given_back(tmp_path: Path) -> None:
    """The right to write is free again after use, after an error too, and may be taken again within itself."""
    archive = Archive.create(tmp_path / "shop", shop_name="x")
    for _ in range(2):
        with pytest.raises(KeyError), archive.lock():
            raise KeyError("on purpose")
    with archive.lock():
        pass
    archive.close()


def test_the_default_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """COUNTERFOIL_ARCHIVE names the folder, with ~ for the home; without it, it is in the user's data folder."""
    monkeypatch.setenv("COUNTERFOIL_ARCHIVE", str(tmp_path / "named"))
    assert default_folder() == tmp_path / "named"
    monkeypatch.setenv("COUNTERFOIL_ARCHIVE", os.path.join("~", "shop"))  # noqa: PTH118 - as typed
    assert default_folder() == Path("~/shop").expanduser()
    monkeypatch.delenv("COUNTERFOIL_ARCHIVE")
    assert default_folder().name == "counterfoil"
    assert default_folder().is_absolute()
