"""On which line a key of a TOML file stands: :mod:`tomllib` gives values without their places.

Only what is written in the usual way is found: tables of arrays under ``[[name]]`` and plain keys below them; all else
has the line 0. Source of the syntax: TOML v1.0.0, https://toml.io/en/v1.0.0.
"""

from __future__ import annotations

import re

_TABLE = re.compile(r"""\s*\[\[\s*["']?(?P<name>[\w-]+)["']?\s*\]\]""")
_KEY = re.compile(r"""\s*["']?(?P<key>[\w-]+)["']?\s*[=.]""")
_OTHER_TABLE = re.compile(r"""\s*\[\s*["']?(?P<name>[\w-]+)""")
#: A string that may run over several lines, or a comment: what stands in them is no key.
_TEXTS = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*')


class Lines:
    """The lines of the tables and keys of a file.

    Args:
        text: the whole file; it was read without fault.
    """

    def __init__(self, text: str) -> None:
        self._tables: dict[tuple[str, int], int] = {}
        self._keys: dict[tuple[str, int, str], int] = {}
        self._names: dict[str, int] = {}
        at: tuple[str, int] | None = None
        top = True
        counts: dict[str, int] = {}
        depth, inside = 0, ""
        for number, line in enumerate(text.splitlines(), start=1):
            if not inside and not depth:
                if table := _TABLE.match(line):
                    name = table["name"]
                    counts[name] = counts.get(name, 0) + 1
                    at, top = (name, counts[name]), False
                    self._tables[at] = number
                    self._names.setdefault(name, number)
                elif other := _OTHER_TABLE.match(line):
                    at, top = None, False
                    self._names.setdefault(other["name"], number)
                elif key := _KEY.match(line):
                    if at is not None:
                        self._keys.setdefault((*at, key["key"]), number)
                    elif top:
                        self._names.setdefault(key["key"], number)
            inside, depth = _after(line, inside, depth)

    def of_name(self, name: str) -> int:
        """Return the line on which a name first stands at the top of the file, 0 where it is not found."""
        return self._names.get(name, 0)

    def of_table(self, name: str, number: int) -> int:
        """Return the line of the so-manieth ``[[name]]``, counted from 1; 0 where it is not found."""
        return self._tables.get((name, number), 0)

    def of_key(self, name: str, number: int, key: str) -> int:
        """Return the line of a key of a table, that of the table where the key is not there; 0 where neither is."""
        return self._keys.get((name, number, key), self.of_table(name, number))


def _after(line: str, inside: str, depth: int) -> tuple[str, int]:
    """Return which long string, and how deep a list, is still open at the end of a line."""
    at = 0
    while at < len(line):
        if inside:
            end = line.find(inside, at)
            if end < 0:
                return inside, depth
            at, inside = end + 3, ""
            continue
        found = _TEXTS.search(line, at)
        plain = line[at : found.start()] if found else line[at:]
        if "=" in plain or depth:
            value = plain if depth else plain.partition("=")[2]
            depth = max(0, depth + value.count("[") + value.count("{") - value.count("]") - value.count("}"))
        if found is None:
            break
        at = found.end()
        inside = found.group() if found.group() in ('"""', "'''") else ""
    return inside, depth
