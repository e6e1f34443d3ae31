"""Passwords in a file: one in its first line, or one in each, and only where nobody else may read it."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

from counterfoil.errors import SettingsFaulty

#: Each password costs a try on every locked file.
MOST_PASSWORDS = 50


def read_password(path: Path, named_by: str) -> str:
    """Return the first line of a file that nobody else may read.

    Args:
        path: the file.
        named_by: the setting or option that names it, for messages.

    Raises:
        SettingsFaulty: it cannot be read, others can read it, or it holds no password.
    """
    password = _text(path, named_by).partition("\n")[0].strip()
    if not password:
        raise SettingsFaulty(f"{path} ({named_by}) holds no password in its first line.")
    return password


def read_passwords(path: Path, named_by: str) -> tuple[str, ...]:
    """Return the passwords in a file that nobody else may read, one a line, at most :data:`MOST_PASSWORDS`.

    Args:
        path: the file.
        named_by: the setting or option that names it, for messages.

    Raises:
        SettingsFaulty: it cannot be read, others can read it, or it holds none or too many.
    """
    passwords = tuple(dict.fromkeys(line for line in _text(path, named_by).splitlines() if line.strip()))
    if not 0 < len(passwords) <= MOST_PASSWORDS:
        raise SettingsFaulty(f"{path} ({named_by}) must hold 1 to {MOST_PASSWORDS} passwords, one a line.")
    return passwords


def _text(path: Path, named_by: str) -> str:
    try:
        if sys.platform != "win32" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise SettingsFaulty(f"{path} can be read by others.", f"Run: chmod 600 {path}")
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsFaulty(f"{path} ({named_by}) cannot be read: {error}.") from error
