"""Makes customer lists of any length with known bad rows, for tests and the benchmark; all names invented."""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass

_SYLLABLES = [a + b for a in "bdfklmnprstvz" for b in ("a", "e", "i", "o", "u", "an", "el", "or")]
HEADER = ("Kundin", "E-Mail", "Telefon", "Straße", "PLZ", "Ort", "Land")


@dataclass(frozen=True, slots=True)
class MadeList:
    """A list: its text, the numbers of the bad lines, and how many good rows it has."""

    text: str
    bad: tuple[int, ...]
    good: int


def make_list(rows: int, bad: int, *, seed: int = 20) -> MadeList:
    """Make a list.

    Args:
        rows: how many rows, the bad ones included.
        bad: how many of them are bad, spread evenly.
        seed: of the random numbers.
    """
    rng = random.Random(seed)
    family = ["".join(rng.choices(_SYLLABLES, k=rng.randint(3, 4))).capitalize() for _ in range(9_000)]
    given = ["".join(rng.choices(_SYLLABLES, k=rng.randint(2, 3))).capitalize() for _ in range(900)]
    lines = [_line(HEADER)]
    bad_lines: list[int] = []
    every = rows // bad if bad else rows + 1
    for number in range(rows):
        name = f"{rng.choice(given)} {rng.choice(family)}"
        fields = [
            name,
            f"{name.replace(' ', '.').lower()}.{number}@post.example" if rng.random() < 0.9 else "",
            f"+44 7700 {900_000 + number % 1_000:06}" if number < 1_000 else "",
            f"{rng.choice(family)}gasse {rng.randint(1, 80)}",
            f"{rng.randint(10_000, 99_999)}",
            f"{rng.choice(family)}höfen",
            rng.choice(("Deutschland", "United Kingdom", "")),
        ]
        if bad and number % every == every // 2 and len(bad_lines) < bad:
            bad_lines.append(number + 2)
            lines.append(_spoiled(fields, len(bad_lines)))
        else:
            lines.append(_line(fields))
    return MadeList("\r\n".join(lines) + "\r\n", tuple(bad_lines), rows - len(bad_lines))


def _line(fields: list[str] | tuple[str, ...]) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="").writerow(fields)
    return out.getvalue()


def _spoiled(fields: list[str], turn: int) -> str:
    """Return a row that cannot be taken, in one of seven ways."""
    match turn % 7:
        case 0:
            fields[0] = ""
        case 1:
            fields[1] = "no address at all"
        case 2:
            fields[2] = "12"
        case 3:
            return _line(fields[:-2])
        case 4:
            return f'"{_line(fields)}'
        case 5:
            fields[0] = "???"
        case _:
            return _line(fields).replace(fields[3], "bro\udcffken")
    return _line(fields)
