"""A real SMTP server on the loopback interface, with certificates made for it, that keeps what it was handed."""

from __future__ import annotations

import asyncio
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, Envelope, LoginPassword

USER, PASSWORD = "desk", "seam ripper 7"


@dataclass
class Kept:
    """A handler that keeps every message.

    ``refuse`` is what it answers to a message instead, ``refuse_to`` to every recipient, ``farewell`` to QUIT. With
    ``drop`` it keeps a message and breaks the connection before it answers; with ``hold`` it never answers. Its
    ``answer`` is what it says once it has kept one.
    """

    messages: list[tuple[str | None, list[str], bytes]] = field(default_factory=list)
    refuse: str = ""
    refuse_to: str = ""
    farewell: str = "221 Bye"
    drop: bool = False
    hold: bool = False
    answer: str = "250 kept"

    async def handle_RCPT(  # noqa: N802 - aiosmtpd's name
        self, server: Any, session: Any, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        """Take or refuse a recipient."""
        if self.refuse_to:
            return self.refuse_to
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_QUIT(self, server: Any, session: Any, envelope: Envelope) -> str:  # noqa: N802 - aiosmtpd's name
        """Say good-bye."""
        return self.farewell

    async def handle_DATA(self, server: Any, session: Any, envelope: Envelope) -> str:  # noqa: N802 - aiosmtpd's name
        """Keep a message."""
        if self.refuse:
            return self.refuse
        assert isinstance(envelope.content, bytes)
        self.messages.append((envelope.mail_from, list(envelope.rcpt_tos), envelope.content))
        while self.hold:
            await asyncio.sleep(0.02)
        if self.drop:
            server.transport.abort()
        return self.answer


@dataclass(frozen=True)
class Running:
    """A server under way: its port, what it keeps, and the file with the authority that vouches for it."""

    port: int
    kept: Kept
    authority: Path


def _login(server: Any, session: Any, envelope: Any, mechanism: str, data: object) -> AuthResult:
    good = isinstance(data, LoginPassword) and (data.login, data.password) == (USER.encode(), PASSWORD.encode())
    return AuthResult(success=good, handled=False)


def _free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def server(folder: Path, tls: str, *, name: str = "localhost", auth: bool = False) -> Iterator[Running]:
    """Run a server; ``tls`` as in the settings, ``name`` what its certificate is made out for."""
    authority = trustme.CA()
    path = folder / "authority.pem"
    authority.cert_pem.write_to_path(str(path))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert(name).configure_cert(context)
    kept = Kept()
    more: dict[str, Any] = {"hostname": "localhost", "port": _free_port()}
    if auth:
        more |= {
            "authenticator": _login,
            "auth_required": True,
            "auth_exclude_mechanism": ["LOGIN"],
            "auth_require_tls": tls == "starttls",
        }
    if tls == "implicit":
        controller = Controller(kept, ssl_context=context, **more)
    elif tls == "starttls":
        controller = Controller(kept, tls_context=context, require_starttls=True, **more)
    else:
        controller = Controller(kept, **more)
    controller.start()
    try:
        yield Running(controller.port, kept, path)
    finally:
        controller.stop()
