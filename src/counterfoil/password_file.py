"""Passwords in files: one in the first line, one in each, or one a customer; only where nobody else may read them."""

from __future__ import annotations

import os
import re
import stat
import sys
from collections.abc import Mapping
from pathlib import Path

from counterfoil.durable import sync_folder
from counterfoil.errors import SettingsFaulty, StorageFull

#: Each password costs a try on every locked file.
MOST_PASSWORDS = 50
MOST_OF_ONE = 10
"""Passwords of one customer."""
#: A line of the file of customers' passwords: the customer's id, a space, and the password as it is.
_LINE = re.compile(r"(?P<customer>C[1-9]\d{0,11}) (?P<password>\S.*)")


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


def read_customer_passwords(path: Path) -> dict[str, tuple[str, ...]]:
    """Return the passwords of customers' PDFs by the customers' ids (C12), from lines such as ``C12 password``.

    Args:
        path: the file; that there is none is no error.

    Raises:
        SettingsFaulty: it cannot be read, others can read it, or a line is of another kind.
    """
    if not path.exists():
        return {}
    found: dict[str, dict[str, None]] = {}
    for number, line in enumerate(_text(path, "passwords of customers").split("\n"), start=1):
        match = _LINE.fullmatch(line)
        if match is not None:
            found.setdefault(match["customer"], {})[match["password"]] = None
        elif line.strip():
            # The line is not shown: it may be a password.
            raise SettingsFaulty(
                f"{path}, line {number}: this is no customer's id (C12), a space and a password.",
                "Put the line right, or take it out and use: counterfoil password",
            )
    for customer, passwords in found.items():
        if len(passwords) > MOST_OF_ONE:
            raise SettingsFaulty(f"{path} has more than {MOST_OF_ONE} passwords of {customer}.", "Take some out.")
    return {customer: tuple(passwords) for customer, passwords in found.items()}


def password_fault(password: str) -> str | None:
    """Return why a password cannot be kept in the file of customers' passwords, None where it can."""
    if not password.strip():
        return "The password is empty."
    if password != password.lstrip() or any(not char.isprintable() for char in password):
        return "A password begins with no space, and has no line breaks, tabs or other signs that cannot be seen."
    return None


def write_customer_passwords(path: Path, passwords: Mapping[str, tuple[str, ...]]) -> None:
    """Write the passwords of customers' PDFs, so that the file is whole at any moment and only its owner reads it.

    Args:
        path: the file.
        passwords: by the customers' ids.

    Raises:
        StorageFull: it cannot be written.
    """
    text = "".join(f"{customer} {password}\n" for customer, some in passwords.items() for password in some)
    temporary = path.with_suffix(".new")
    try:
        temporary.unlink(missing_ok=True)
        with open(temporary, "w", encoding="utf-8", newline="\n", opener=_for_owner) as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags | os.O_EXCL, stat.S_IRUSR | stat.S_IWUSR)


def _text(path: Path, named_by: str) -> str:
    try:
        if sys.platform != "win32" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise SettingsFaulty(f"{path} can be read by others.", f"Run: chmod 600 {path}")
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsFaulty(f"{path} ({named_by}) cannot be read: {error}.") from error
