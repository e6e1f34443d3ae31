"""counterfoil.toml: what is named is used, what is wrong is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from counterfoil import settings
from counterfoil.errors import SettingsFaulty


def write(tmp_path: Path, text: str) -> Path:
    """Write a settings file and return its path."""
    path = tmp_path / settings.SETTINGS_FILE
    path.write_text(text, encoding="utf-8")
    return path


def test_settings_not_named_keep_their_default(tmp_path: Path) -> None:
    """A file may name one setting and one limit and leave the rest."""
    loaded = settings.load(write(tmp_path, 'shop_addresses = ["help@shop.example"]\n[limits]\nparts = 5\n'))
    assert loaded.shop_addresses == ("help@shop.example",)
    assert loaded.limits.parts == 5
    assert loaded.limits.mime_depth == settings.Limits().mime_depth
    assert loaded.filing_odds == settings.Settings().filing_odds


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("shop_nam = 'x'", "shop_nam"),
        ("filing_odds = 'high'", "filing_odds"),
        ("shop_addresses = 'a@shop.example'", "shop_addresses"),
        ("shop_addresses = [1]", "shop_addresses"),
        ("limits = 3", "limits"),
        ("[limits]\nparts = true", "parts"),
        ("[limits]\npages = 3", "pages"),
        ("shop_name = ", "cannot be read"),
    ],
)
def test_what_is_wrong_is_named(tmp_path: Path, text: str, named: str) -> None:
    """An unknown name, a wrong type or broken TOML is an error that names the file and the setting."""
    path = write(tmp_path, text)
    with pytest.raises(SettingsFaulty) as caught:
        settings.load(path)
    assert named in str(caught.value)
    assert str(path) in str(caught.value)


def test_every_setting_can_be_set(tmp_path: Path) -> None:
    """Each scalar setting accepts its own default from a file."""
    lines = []
    for name in ("shop_name", "region"):
        lines.append(f'{name} = "{getattr(settings.Settings(), name)}"')
    for name in ("filing_odds", "name_similarity", "confirmation_odds", "lock_wait_seconds", "index_batch"):
        lines.append(f"{name} = {getattr(settings.Settings(), name)}")
    assert settings.load(write(tmp_path, "\n".join(lines))) == settings.Settings()


def test_the_limits_on_what_a_message_may_cost() -> None:
    """The bounds are those that were tried with hostile mail: sizes, nesting, parts, fields, pages, pixels."""
    limits = settings.Limits()
    sizes = (limits.message_bytes, limits.part_bytes, limits.unpacked_bytes, limits.header_bytes)
    assert sizes == (50_000_000, 25_000_000, 100_000_000, 256_000)
    numbers = (limits.mime_depth, limits.parts, limits.headers, limits.addresses, limits.pdf_pages)
    assert numbers == (20, 200, 1_000, 1_000, 50)
    rest = (limits.text_chars, limits.pdf_chars, limits.picture_pixels, limits.zip_entries, limits.zip_depth)
    assert rest == (1_000_000, 1_000_000, 40_000_000, 200, 1)
    reader = (limits.reader_bytes, limits.reader_cpu_seconds, limits.reader_seconds)
    assert reader == (1_000_000_000, 10, 15)
    assert (limits.forward_chars, limits.forward_depth) == (64_000, 10)
