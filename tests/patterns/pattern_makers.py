"""A maker file for the tests, and codes with right check digits for it."""

from __future__ import annotations

from pathlib import Path

from counterfoil.patterns import Patterns
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("support@thimblelane.example",))

MAKER = """
maker = "Velotta"
also = ["Velotta Nähsysteme"]
senders = ["velotta.example"]
models = ["Corda 310", "Corda 310 S"]
enter = ["product_key", "activation_code"]
where = "Setup, Upgrades"

[codes.machine_id]
shape = "VT-######-@"

[codes.product_key]
shape = "VK-####-####-#"
check = "luhn"
check_from = 2

[codes.activation_code]
shape = "****-****-****"
alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
check = "mod_37_36"

[labels.en]
activation_code = ["Stitch code"]

[[upgrades]]
name = "Monogram Pack"
also = ["Monogramm-Paket"]
needs_firmware = "2.10"

[proofs]
found = [{ text = "Machine ID: VT-204417-R", kind = "machine_id", value = "VT-204417-R" }]
not_found = [{ text = "Order VT-2044", kind = "machine_id" }]
"""

KEY = "VK-2204-4171-1"
"""Its last digit makes the Luhn sum of 220441711 a multiple of ten."""
CODE = "9F3K-77AB-M2X5"
"""Its last character is the ISO 7064 Mod 37, 36 check character."""


def patterns(folder: Path, *extra: tuple[str, str]) -> Patterns:
    """Load the vocabulary with the test maker and, by file name, others."""
    (folder / "velotta.toml").write_text(MAKER, encoding="utf-8")
    for name, text in extra:
        (folder / name).write_text(text, encoding="utf-8")
    return Patterns.load(folder)
