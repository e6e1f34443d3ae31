"""A password in a file: its first line, and only where nobody else may read it."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

from counterfoil.errors import SettingsFaulty


def read_password(path: Path, named_by: str) -> str:
    """Return the first line of a file that nobody else may read.

    Args:
        path: the file.
        named_by: the setting or option that names it, for messages.

    Raises:
        SettingsFaulty: it cannot be read, others can read it, or it holds no password.
    """
    try:
        if sys.platform != "win32" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise SettingsFaulty(f"{path} can be read by others.", f"Run: chmod 600 {path}")
        password = path.read_text(encoding="utf-8").partition("\n")[0].strip()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsFaulty(f"{path} ({named_by}) cannot be read: {error}.") from error
    if not password:
        raise SettingsFaulty(f"{path} ({named_by}) holds no password in its first line.")
    return password
