"""What is read right of generated confirmations of makers nobody described, by medium: text, HTML, thirteen layouts.

    python tests/bench/bench_reading.py [--messages 1176] [--noisy 1400] [--tables 504]

The sets are those of tests/test_wide.py. *Certain* values stand at the filing threshold with nothing against them.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from test_wide import tally
from wide_confirmations import Wide, wide
from wide_papers import LAYOUTS
from wide_words import LANGUAGES


def _print(title: str, messages: Iterable[Wide], by: str) -> Counter[tuple[str, str]]:
    sets: dict[str, list[Wide]] = {}
    for message in messages:
        sets.setdefault(getattr(message, by), []).append(message)
    total: Counter[tuple[str, str]] = Counter()
    print(title)
    print(f"  {'':14} messages    codes  certain and right  wrong    others    right  wrong")
    for name, some in sorted(sets.items()):
        counts = tally(some)
        total.update(counts)
        _line(name, len(some), counts)
    _line("all", sum(map(len, sets.values())), total)
    return total


def _line(name: str, number: int, counts: Counter[tuple[str, str]]) -> None:
    code, other = ([counts[group, what] for what in ("all", "right", "wrong")] for group in ("code", "other"))
    print(
        f"  {name:14} {number:8} {code[0]:8} {code[1]:8} {100 * code[1] / code[0]:8.2f} % {code[2]:6}"
        f" {other[0]:9} {100 * other[1] / other[0]:6.2f} % {other[2]:6}"
    )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=1_176)
    parser.add_argument("--noisy", type=int, default=1_400)
    parser.add_argument("--tables", type=int, default=504)
    arguments = parser.parse_args()
    print(f"{len(LANGUAGES)} languages, {len(LAYOUTS)} page layouts, four forms of HTML; no maker files")
    sent = list(wide(arguments.messages, seed=21))
    _print("as sent, by medium", sent, "medium")
    _print("as sent, by layout", sent, "layout")
    _print("in tables with wrapped cells", wide(arguments.tables, seed=21, ruled=True), "layout")
    _print("with noise, by noise", wide(arguments.noisy, seed=6, noisy=True), "noise")


if __name__ == "__main__":
    main()
