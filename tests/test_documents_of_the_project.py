"""README and DEVELOPERS say what is so: commands, files, paths and figures that exist."""

from __future__ import annotations

import re
import tomllib

import pytest
from conftest import ROOT

from counterfoil.patterns import Patterns

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BOTH = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_the_top_level_holds_only_what_it_should() -> None:
    """At the top lie the two documents, pyproject.toml, src, tests, samples, and dot files; build folders aside."""
    made = {"build", "dist", "counterfoil-demo", "__pycache__"}
    found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")} - made
    assert found == {"README.md", "DEVELOPERS.md", "pyproject.toml", "src", "tests", "samples"}


@pytest.mark.parametrize("name", BOTH)
def test_nothing_is_left_to_fill_in(name: str) -> None:
    """No mark of an unfinished text is left."""
    assert re.findall(r"@@\w*|TODO|FIXME|XXX|lorem ipsum", BOTH[name], re.IGNORECASE) == []


@pytest.mark.parametrize("name", BOTH)
def test_every_code_block_is_closed(name: str) -> None:
    """Fences come in pairs, so that the page shows as meant."""
    assert BOTH[name].count("```") % 2 == 0


def test_the_map_names_files_that_exist() -> None:
    """Every file and folder in the map of DEVELOPERS.md exists, and every part of the package stands in it."""
    block = DEVELOPERS.partition("## Map")[2].split("```")[1]
    lines = re.findall(r"^( *)([\w/.]+/?)", block, re.MULTILINE)
    names = {name for _, name in lines} | set(re.findall(r"\b(\w+\.(?:py|toml))\b", block))
    package = ROOT / "src" / "counterfoil"
    for indent, name in lines:
        assert ((package if indent else ROOT) / name).exists(), name
    parts = {p.name + "/" * p.is_dir() for p in package.iterdir() if not p.name.startswith("_")}
    assert {part.removesuffix("/") for part in parts} <= {name.split("/")[0] for name in names}


@pytest.mark.parametrize("name", BOTH)
def test_paths_in_the_text_exist(name: str) -> None:
    """A path in back quotes that begins in the source tree, the tests or the samples is there."""
    wanted = re.findall(r"`((?:src|tests|samples|\.ci)/[\w./-]+)`", BOTH[name])
    wanted += re.findall(r"^(?:python |\.ci/)?((?:tests|samples)/[\w./]+\.py)", BOTH[name], re.MULTILINE)
    assert [path for path in wanted if not (ROOT / path).exists()] == []
    inside = re.findall(r"`((?:patterns|records|sources|answers|faces|documents|index)/[\w./]+\.\w+)`", BOTH[name])
    assert [path for path in inside if not (ROOT / "src" / "counterfoil" / path).exists()] == []


def test_the_test_command_is_the_one_that_runs_in_ci() -> None:
    """The command under the README's mark for tests installs the extra that pyproject has, and runs pytest."""
    block = README.partition("<!-- test command -->")[2].split("```")[1]
    assert ".[test]" in block
    assert "pytest" in block
    assert "test" in PYPROJECT["project"]["optional-dependencies"]
    assert (ROOT / ".ci" / "run").is_file()
    assert "test command" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_pythons_and_licence_are_those_of_the_package() -> None:
    """The Pythons the README names are the package's, and so is the licence."""
    named = set(re.findall(r"\b3\.\d\d\b", README))
    classified = {c.rpartition(" ")[2] for c in PYPROJECT["project"]["classifiers"] if re.search(r":: 3\.\d", c)}
    assert named == classified
    assert PYPROJECT["project"]["license"] in README.partition("## Licence")[2]


def test_languages_are_those_of_the_vocabulary() -> None:
    """The README names exactly the languages the vocabulary has."""
    words = {"en": "English", "de": "German", "fr": "French", "nl": "Dutch", "es": "Spanish", "it": "Italian"}
    words |= {"sv": "Swedish", "da": "Danish", "nb": "Norwegian", "fi": "Finnish", "pl": "Polish", "cs": "Czech"}
    words |= {"pt": "Portuguese", "ja": "Japanese"}
    known = {v.language for v in Patterns.load(None).vocabularies}
    assert known == set(words)
    assert all(word in README for word in words.values())


def test_the_maker_file_in_the_recipe_works() -> None:
    """The maker file shown in DEVELOPERS.md is valid and its own proofs hold, so that it can be copied."""
    import tempfile
    from pathlib import Path

    (text,) = re.findall(r"```toml\n(maker = .+?)```", DEVELOPERS, re.DOTALL)
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "name.toml").write_text(text, encoding="utf-8")
        patterns = Patterns.load(Path(folder))
        assert [maker.name for maker in patterns.makers] == ["Name"]
        assert patterns.check_proofs() == []


def test_the_version_has_its_notes() -> None:
    """What changed in the present version stands in DEVELOPERS.md."""
    assert f"**{PYPROJECT['project']['version']}**" in DEVELOPERS.partition("## What changed")[2]
