"""On which line a key of a TOML file stands (syntax: TOML v1.0.0, https://toml.io/en/v1.0.0)."""

from __future__ import annotations

import tomllib
from random import Random

import pytest

from counterfoil.answers.toml_lines import Lines

TRICKY = '''\
# [[term]] in a comment is no table
title = "one"
[[term]]                    # 3
part = "machine"            # 4
note = """                  # 5, and the string goes on
years = 3
[[term]]
"""
years = 2                   # 9
proof = [                   # 10
  "invoice", # years = 1
  "pdf",
]
"months" = 4                # 14
[[ "term" ]]                # 15
part = '[[term]]'           # 16
note = \'\'\'a = 1
months = 5\'\'\'
months = 6                  # 19
inner = { years = 3 }       # 20
holder.kind = "any"         # 21
[[example]]                 # 22
on = 2026-11-25             # 23
[other]                     # 24
part = "not a term's"
'''


def test_the_tricky_file_is_toml() -> None:
    """The file below is one that Python's own reader takes."""
    assert [len(tomllib.loads(TRICKY)[name]) for name in ("term", "example")] == [2, 1]


@pytest.mark.parametrize(
    ("name", "number", "key", "line"),
    [
        ("term", 1, "part", 4),
        ("term", 1, "note", 5),
        ("term", 1, "years", 9),
        ("term", 1, "proof", 10),
        ("term", 1, "months", 14),
        ("term", 2, "part", 16),
        ("term", 2, "months", 19),
        ("term", 2, "inner", 20),
        ("term", 2, "holder", 21),
        ("example", 1, "on", 23),
        ("term", 2, "years", 15),
        ("term", 3, "part", 0),
        ("other", 1, "part", 0),
    ],
)
def test_keys_are_found(name: str, number: int, key: str, line: int) -> None:
    """Each key is found where it stands, not in a string, list or comment; a missing one has the line of its table."""
    assert Lines(TRICKY).of_key(name, number, key) == line


@pytest.mark.parametrize(("name", "line"), [("title", 2), ("term", 3), ("example", 22), ("other", 24), ("years", 0)])
def test_names_at_the_top_are_found(name: str, line: int) -> None:
    """The first line of a table or key at the top is found; what stands inside a table is none."""
    assert Lines(TRICKY).of_name(name) == line


def test_every_line_of_random_files() -> None:
    """In 200 random files of tables, keys, strings, lists and comments every key has its own line."""
    random = Random(11)
    values = (
        '"text"',
        "3",
        "[1, 2]",
        '["a",\n "b # c",\n]',
        '"""x\n[[term]]\nkey = 1\n"""',
        "{ a = 1 }",
        "2026-11-25 # c",
    )
    for _ in range(200):
        text, wanted, number = "", {}, 0
        for _ in range(random.randint(1, 12)):
            if not number or random.random() < 0.3:
                number += 1
                wanted[number, ""] = text.count("\n") + 1
                text += "[[term]]\n"
            key = f"key{len(wanted)}"
            wanted[number, key] = text.count("\n") + 1
            text += f"{key} = {random.choice(values)}\n" + random.choice(("", "\n", "# key = [\n"))
        assert len(tomllib.loads(text)["term"]) == number
        lines = Lines(text)
        assert {k: lines.of_key("term", *k) if k[1] else lines.of_table("term", k[0]) for k in wanted} == wanted
