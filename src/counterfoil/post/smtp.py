"""Sends one message through an SMTP server (RFC 5321, RFC 6409), over TLS with its certificate checked."""

from __future__ import annotations

import smtplib
import ssl
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from counterfoil.errors import SendingFailed, SendingUnclear, SettingsFaulty
from counterfoil.password_file import read_password
from counterfoil.settings import Settings

#: How a connection is secured: from the start (RFC 8314), by STARTTLS (RFC 3207), or not at all, on this machine only.
TLS_MODES = ("implicit", "starttls", "none")
_PORTS = {"implicit": 465, "starttls": 587, "none": 25}
_HERE = frozenset({"localhost", "127.0.0.1", "::1"})
_WAIT_SECONDS = 30.0
#: What smtplib says in place of an answer that is longer than it reads.
_UNREAD = "Line too long."


@dataclass(frozen=True, slots=True)
class Server:
    """An SMTP server; ``password`` is needed where a user is named."""

    host: str
    port: int
    tls: str
    user: str = ""
    password: str = field(default="", repr=False)


def server_of(settings: Settings, folder: Path) -> Server:
    """Return the server that the settings name; the password from its file, empty where none is named.

    Args:
        settings: the shop's.
        folder: the archive's, from which a relative smtp_password_file counts.

    Raises:
        SettingsFaulty: no server is named, or its settings cannot work or would show mail or password to others.
    """
    host, tls = settings.smtp_host.strip(), settings.smtp_tls
    if not host:
        raise SettingsFaulty(
            "The settings name no server to send through.",
            "Add smtp_host to counterfoil.toml, or send the draft yourself.",
        )
    if tls not in TLS_MODES:
        raise SettingsFaulty(f"smtp_tls is {tls!r}.", f"It is one of: {', '.join(TLS_MODES)}.")
    if tls == "none" and host not in _HERE:
        raise SettingsFaulty(f"smtp_tls is 'none', but {host} is another machine.", "Use 'implicit' or 'starttls'.")
    password = (
        read_password(folder / settings.smtp_password_file, "smtp_password_file") if settings.smtp_password_file else ""
    )
    return Server(host, settings.smtp_port or _PORTS[tls], tls, settings.smtp_user, password)


def send(server: Server, sender: str, to: str, data: bytes) -> None:
    """Send one message, byte for byte.

    Args:
        server: the server.
        sender: the envelope's sender; ASCII, as all addresses here.
        to: the envelope's only recipient.
        data: the message, RFC 5322, lines ending in CR LF.

    Raises:
        SendingFailed: the server cannot be reached, shows no valid certificate, or refuses; nothing was sent.
        SendingUnclear: the connection broke after the message was handed over and before the server had answered.
    """
    where = f"{server.host}:{server.port}"
    handed_over = False
    try:
        connection = _connected(server)
        try:
            if server.user:
                connection.login(server.user, server.password)
            _envelope(connection, sender, to)
            handed_over = True
            _taken(connection, data, where)
            # The server has taken the message: what it says to QUIT, or that it is gone, changes nothing.
            with suppress(smtplib.SMTPException, OSError):
                connection.quit()
        finally:
            connection.close()
    except ssl.SSLError as error:
        if handed_over:
            raise SendingUnclear(f"{where} broke off after it was handed the message: {error}.") from error
        raise SendingFailed(f"{where} shows no certificate that can be trusted: {error}.") from error
    except smtplib.SMTPResponseException as error:
        raise SendingFailed(
            f"{where} did not take the message: {_answer(error.smtp_code, error.smtp_error)}."
        ) from error
    except (smtplib.SMTPException, OSError, UnicodeError) as error:
        words = str(error) or type(error).__name__
        if handed_over:
            raise SendingUnclear(f"{where} broke off after it was handed the message: {words}.") from error
        raise SendingFailed(f"{where} did not take the message: {words}.") from error


def _envelope(connection: smtplib.SMTP, sender: str, to: str) -> None:
    """Name sender and recipient (RFC 5321, section 3.3)."""
    connection.ehlo_or_helo_if_needed()
    _accepted(*connection.mail(sender))
    _accepted(*connection.rcpt(to))


def _accepted(code: int, answer: bytes) -> None:
    """Raise unless the server said yes: 2xx (RFC 5321, section 4.2.1)."""
    if code // 100 != 2:
        raise smtplib.SMTPResponseException(code, answer)


def _taken(connection: smtplib.SMTP, data: bytes, where: str) -> None:
    """Hand the message over; only a refusal (4xx, 5xx) says that it was not taken (RFC 5321, section 4.2.1).

    Raises:
        SendingUnclear: what came after the message is no answer.
    """
    try:
        _accepted(*connection.data(data))
    except smtplib.SMTPDataError:
        # To the command itself: no message went out after it.
        raise
    except smtplib.SMTPResponseException as error:
        # smtplib makes up -1 for what is no answer and 500 for a line it will not read.
        if error.smtp_code // 100 in (4, 5) and error.smtp_error != _UNREAD:
            raise
        said = _answer(error.smtp_code, error.smtp_error)
        raise SendingUnclear(f"{where} gave no answer after it was handed the message: {said}.") from error


def _connected(server: Server) -> smtplib.SMTP:
    if server.tls == "implicit":
        return smtplib.SMTP_SSL(server.host, server.port, timeout=_WAIT_SECONDS, context=ssl.create_default_context())
    connection = smtplib.SMTP(server.host, server.port, timeout=_WAIT_SECONDS)
    try:
        if server.tls == "starttls":
            # Raises where the server offers none: there is no falling back to a line that can be read on the way.
            connection.starttls(context=ssl.create_default_context())
    except BaseException:
        connection.close()
        raise
    return connection


def _answer(code: int, text: bytes | str) -> str:
    return f"{code} {text.decode('utf-8', 'replace') if isinstance(text, bytes) else text}"
