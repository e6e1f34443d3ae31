"""The password of an account on a mail server: from a file, the system's keyring, or a person."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import F, clean
from counterfoil.password_file import read_password
from counterfoil.sources.imap_address import ImapAddress

#: Under which the keyring keeps these passwords.
SERVICE = "counterfoil"


def password_options(command: F) -> F:
    """Add --password-file and --keyring; the command receives ``password_file`` and ``keyring``."""
    command = click.option(
        "--keyring", is_flag=True, help="Take the password from the system's keyring (extra `keyring`)."
    )(command)
    return click.option(
        "--password-file",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help="Take the password from this file's first line.  [default: ask]",
    )(command)


def password_of(address: ImapAddress, password_file: Path | None, *, keyring: bool) -> str:
    """Return the password of an account.

    Args:
        address: the account.
        password_file: a file whose first line it is, readable by nobody else.
        keyring: ask the system's keyring.

    Raises:
        SettingsFaulty: the file cannot be used.
        UsageProblem: the keyring holds none, or there is nobody to ask.
    """
    if password_file is not None:
        return read_password(password_file, "--password-file")
    if keyring:
        return _from_keyring(address)
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageProblem(
            f"The password of {clean(address.account)} is needed, and there is no terminal to ask on.",
            "Name a file that holds it with --password-file, or add --keyring.",
        )
    asked: Any = click.prompt(f"Password of {clean(address.account)}", hide_input=True, err=True)
    return str(asked)


def _from_keyring(address: ImapAddress) -> str:
    try:
        import keyring
        import keyring.errors
    except ImportError as error:
        raise UsageProblem(
            "The keyring cannot be asked: the extra `keyring` is not installed.",
            "Run: pip install keyring, or use --password-file.",
        ) from error
    try:
        password = keyring.get_password(SERVICE, address.account)
    except keyring.errors.KeyringError as error:
        raise UsageProblem(f"The keyring cannot be asked: {error}.", "Use --password-file.") from error
    if not password:
        raise UsageProblem(
            f"The keyring holds no password of {clean(address.account)}.",
            f"Put it in: keyring set {SERVICE} {address.account}",
        )
    return password
