"""Addresses of folders on a mail server: ``imaps://user@host:port/Folder`` (RFC 5092, the part that names a folder)."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote, unquote, urlsplit

from counterfoil.errors import UsageProblem

_PORTS = {"imaps": 993, "imap": 143}
_HERE = frozenset({"localhost", "127.0.0.1", "::1"})
_EXAMPLE = "An address looks like imaps://desk@mail.shop.example/INBOX."


@dataclass(frozen=True, slots=True)
class ImapAddress:
    """A folder of an account on a mail server.

    ``implicit`` says that the connection is encrypted from its first byte (imaps), else STARTTLS is asked for (imap).
    """

    implicit: bool
    user: str
    host: str
    port: int
    folder: str

    @property
    def account(self) -> str:
        """User, host and port: what a mark belongs to. Two servers behind two ports of one host are never mixed up."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{self.user}@{host}:{self.port}"

    @property
    def here(self) -> bool:
        """True for a server on this machine."""
        return self.host in _HERE

    def __str__(self) -> str:
        scheme = "imaps" if self.implicit else "imap"
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = "" if self.port == _PORTS[scheme] else f":{self.port}"
        return f"{scheme}://{quote(self.user, safe='@')}@{host}{port}/{quote(self.folder, safe='/')}"


def is_address(text: str) -> bool:
    """Say whether somebody names a folder on a mail server, rightly or wrongly."""
    return text.partition("://")[0].lower() in _PORTS and "://" in text


def read_address(text: str) -> ImapAddress:
    """Read an address.

    Args:
        text: as typed; user and folder may be percent-encoded, the folder is INBOX where none is named.

    Raises:
        UsageProblem: it names no user or host, holds a password, or cannot be read.
    """
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError as error:
        raise UsageProblem(f"{text!r} is no address of a mail server: {error}.", _EXAMPLE) from error
    scheme = parts.scheme.lower()
    host = (parts.hostname or "").lower()
    # An unencoded "@" in the user name is common: the last one stands before the host.
    user, colon, _ = parts.netloc.rpartition("@")[0].partition(":")
    user, folder = unquote(user), unquote(parts.path.removeprefix("/")) or "INBOX"
    if colon:
        raise UsageProblem(
            f"The address of {host or 'the server'} holds a password, which others could read in the list of commands.",
            "Leave it out; it is asked for, or name a file with --password-file.",
        )
    if scheme not in _PORTS or not host or not user:
        raise UsageProblem(f"{text!r} names no {'host' if user else 'user'}.", _EXAMPLE)
    if parts.query or parts.fragment or ";" in parts.path:
        raise UsageProblem(f"{text!r} names more than a folder.", _EXAMPLE)
    if not all(c.isprintable() for c in user + host + folder):
        raise UsageProblem("The address holds characters that cannot be shown.", _EXAMPLE)
    if folder.upper() == "INBOX":
        # The one name that means the same in any case (RFC 3501, section 5.1).
        folder = "INBOX"
    return ImapAddress(scheme == "imaps", user, host, port or _PORTS[scheme], folder)
