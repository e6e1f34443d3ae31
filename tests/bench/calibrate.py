"""Estimates what each sign is worth from generated messages, and measures on others how far the odds can be believed.

    python tests/bench/calibrate.py [--messages 6000] [--held-out 4000] [--write]

How is said in ``tests/calibration.py``. The table under the estimates is made with other makers, label texts, page
layouts and seeds. --write puts the estimates into ``counterfoil/patterns/odds_data.py``; run it again until nothing
changes, since the weights decide which signs count.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from calibration import SETTINGS, Judged, estimate, judged, table
from calibration_mail import mail

from counterfoil.model import CODE_KINDS
from counterfoil.patterns import odds_data

SEED, HELD_OUT_SEED = 101, 202
DATA = Path(odds_data.__file__)


def _print_table(title: str, values: list[Judged]) -> None:
    print(title)
    print("  odds say        values   right %   promised %")
    for part in table(values):
        share, promised = 100 * part.right / part.number, 100 * part.promised / part.number
        print(f"  from {part.least:5.1f} %   {part.number:7}   {share:7.2f}   {promised:7.2f}")
    sure = [v for v in values if v.odds >= SETTINGS.filing_odds]
    wrong = Counter((v.kind.value, v.noise, " + ".join(v.signs)) for v in sure if not v.right)
    print(
        f"  at filing odds: {len(sure)} values, {sum(wrong.values())} wrong; codes: "
        f"{sum(v.kind in CODE_KINDS for v in sure)}, {sum(not v.right and v.kind in CODE_KINDS for v in sure)} wrong"
    )
    for what, number in wrong.most_common(12):
        print(f"    {number} x {', '.join(what)}")


def write(estimates: Mapping[str, float], counts: Mapping[str, tuple[int, int]], messages: int) -> None:
    """Put the estimates into the package's data; signs that no message showed keep what stands there."""
    lines = [
        '"""Weights of signs, written by tests/bench/calibrate.py; what they mean is said in odds.py."""',
        "",
        "#: Where they come from.",
        f'SOURCE = "tests/bench/calibrate.py, seed {SEED}, {messages} messages"',
        "",
        "#: sign -> log-odds; behind it how many values with it were right and wrong, none where it was set by hand.",
        "ESTIMATED = {",
    ]
    for name, worth in odds_data.ESTIMATED.items():
        right, wrong = counts.get(name, (0, 0))
        seen = f"{right} right, {wrong} wrong" if name in estimates else "set by hand"
        lines.append(f'    "{name}": {estimates.get(name, worth)},  # {seen}')
    DATA.write_text("\n".join([*lines, "}", ""]), encoding="utf-8")


def main() -> None:
    """Print weights beside those in use, then the table; write if asked to."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=6_000)
    parser.add_argument("--held-out", type=int, default=4_000)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    learned = judged(mail(arguments.messages, SEED, held_out=False), held_out=False)
    estimates = estimate(learned)
    counts = {
        name: (sum(name in v.signs and v.right for v in learned), sum(name in v.signs and not v.right for v in learned))
        for name in odds_data.ESTIMATED
    }
    print(f"{arguments.messages} messages, {len(learned)} values, seed {SEED}")
    print("  sign                     right   wrong   estimate   in use")
    for name, used in odds_data.ESTIMATED.items():
        shown = f"{estimates[name]:8.1f}" if name in estimates else "    none"
        print(f"  {name:22} {counts[name][0]:7} {counts[name][1]:7}   {shown}   {used:6.1f}")
    _print_table("the same messages, weights in use", learned)
    measured = judged(mail(arguments.held_out, HELD_OUT_SEED, held_out=True), held_out=True)
    _print_table(f"{arguments.held_out} held-out messages, weights in use", measured)
    if arguments.write:
        write(estimates, counts, arguments.messages)


if __name__ == "__main__":
    main()
