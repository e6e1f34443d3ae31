"""Mail of a maker nobody described, whose labels are in no vocabulary; drawn anew the same for each number."""

from __future__ import annotations

import random
from dataclasses import dataclass

from stdnum import luhn

MAKER = "Mirabelo"
SENDER = "care@mirabelo.example"
_FAMILIES = ("Aldermoor", "Brackwell", "Chantrey", "Dunholme", "Elderwick", "Farnleigh")
_ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Pass:
    """One message and the values in it."""

    data: bytes
    machine_id: str
    product_key: str
    activation_code: str
    model: str

    def words(self) -> list[str]:
        """Return the values as options of the command line."""
        kinds = ("machine_id", "product_key", "activation_code", "model")
        return [word for kind in kinds for word in ("--value", f"{kind}={getattr(self, kind)}")]


def make_pass(number: int, *, maker: str = MAKER, labels: tuple[str, str, str] | None = None) -> Pass:
    """Return the forwarded confirmation of one customer: keys end in a Luhn digit, codes in none."""
    rng = random.Random(number)
    key = "".join(rng.choice("0123456789") for _ in range(11))
    key += luhn.calc_check_digit(key)
    code = "".join(rng.choice(_ALPHABET) for _ in range(16))
    machine = f"MB-{rng.randrange(10**6):06d}-{rng.choice('KLMN')}"
    grouped_key = "-".join(key[n : n + 4] for n in (0, 4, 8))
    grouped_code = "-".join(code[n : n + 4] for n in (0, 4, 8, 12))
    model = f"Lina {200 + 100 * (number % 2)}"
    board, gift, stitch = labels or ("Board mark", "Gift word", "Stitch pass")
    name = f"Odile {_FAMILIES[number % len(_FAMILIES)]}"
    day = 1 + number % 27
    text = f"""From: {name} <k{number}@post.example>
To: support@thimblewick.example
Subject: Fwd: Confirmation of your activation
Date: Wed, {day:02d} Apr 2026 10:00:00 +0000
Message-ID: <pass{number}.{maker.lower()}@post.example>

Hello, I forward this.

---------- Forwarded message ---------
From: {maker} <{SENDER}>
Date: 2026-03-{day:02d} 10:00
Subject: Confirmation of your activation
To: {name} <k{number}@post.example>

Dear customer,

your {maker} {model} has its new stitches. Please keep this confirmation for the warranty.

Manufacturer: {maker}
Model: {model}
{board}: {machine}
{gift}: {grouped_key}
{stitch}: {grouped_code}
Order number: 2026-{rng.randrange(10**6):06d}
"""
    return Pass(text.encode(), machine, grouped_key, grouped_code, model)
