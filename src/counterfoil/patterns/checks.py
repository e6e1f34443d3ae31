"""Check digits: the algorithms a maker file may name, computed by python-stdnum.

Sources: Luhn, ISO/IEC 7812-1 annex B; Damm, "Total anti-symmetrische Quasigruppen" (2004); Verhoeff, "Error
Detecting Decimal Codes" (1969); the others ISO/IEC 7064.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from stdnum import damm, iban, luhn, verhoeff
from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10

from counterfoil.model import Check

DIGITS = "0123456789"
LETTERS_AND_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

_PLAIN: dict[str, Callable[[str], bool]] = {
    "damm": damm.is_valid,
    "verhoeff": verhoeff.is_valid,
    "mod_11_2": mod_11_2.is_valid,
    "mod_11_10": mod_11_10.is_valid,
    "mod_37_2": mod_37_2.is_valid,
    "mod_37_36": mod_37_36.is_valid,
    "mod_97_10": mod_97_10.is_valid,
}
#: Names a maker file may use for `check`.
CHECKS = ("none", "luhn", *_PLAIN)

_IBAN = re.compile(r"[A-Z]{2}\d{2}[A-Z0-9]{11,30}\Z")


def check(name: str, normal: str, alphabet: str = DIGITS) -> Check:
    """Compute a check digit over (part of) the normal form of a code.

    Args:
        name: one of :data:`CHECKS`.
        normal: upper-case letters and digits, check digit last.
        alphabet: for `luhn`: the characters in the order of their values (Luhn mod N; digits give plain Luhn).

    Returns:
        NONE for `none`; FAILED also where a character lies outside the algorithm's alphabet.

    Raises:
        KeyError: there is no such check.
    """
    if name == "none":
        return Check.NONE
    good = luhn.is_valid(normal, alphabet=alphabet) if name == "luhn" else _PLAIN[name](normal)
    return Check.PASSED if good else Check.FAILED


def is_iban(normal: str) -> bool:
    """Tell whether a normal form is a bank account number with a right check number (ISO 13616)."""
    return _IBAN.match(normal) is not None and bool(iban.is_valid(normal))
