"""Sending against a real server on loopback: delivered as written, over TLS that is checked, or not at all."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from smtp_world import PASSWORD, USER, server

from counterfoil.errors import SendingFailed, SendingUnclear, SettingsFaulty
from counterfoil.post import Server, send, server_of
from counterfoil.settings import Settings

MAIL = "\r\n".join(
    [
        "From: desk@tidewheel.example",
        "To: m@post.example",
        "Subject: Re: =?utf-8?q?Best=C3=A4tigung?=",
        "",
        "Hello.",
        ".",
        "",
    ]
).encode()


#: The server under test speaks TLS from the first byte, which aiosmtpd does not count as TLS when it warns.
QUIET = pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")


def sent(to: Server) -> None:
    """Send the mail."""
    send(to, "desk@tidewheel.example", "m@post.example", MAIL)


@QUIET
@pytest.mark.parametrize("tls", ["implicit", "starttls"])
def test_over_tls(tls: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Over TLS, with user and password, the server gets the message byte for byte, for the one recipient."""
    with server(tmp_path, tls, auth=True) as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        sent(Server("localhost", running.port, tls, USER, PASSWORD))
        (kept,) = running.kept.messages
    assert kept[:2] == ("desk@tidewheel.example", ["m@post.example"])
    assert kept[2] == MAIL


@QUIET
@pytest.mark.parametrize("tls", ["implicit", "starttls"])
def test_a_certificate_nobody_vouches_for(tls: str, tmp_path: Path) -> None:
    """A certificate of an unknown authority is refused before password or message are shown."""
    with server(tmp_path, tls, auth=True) as running:
        with pytest.raises(SendingFailed, match="certificate"):
            sent(Server("localhost", running.port, tls, USER, PASSWORD))
        assert running.kept.messages == []


def test_a_certificate_for_another_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A certificate made out for another host is refused (RFC 6125)."""
    with server(tmp_path, "starttls", name="mail.other.example") as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        with pytest.raises(SendingFailed, match="certificate"):
            sent(Server("localhost", running.port, "starttls"))
        assert running.kept.messages == []


def test_no_falling_back_to_a_plain_line(tmp_path: Path) -> None:
    """A server without STARTTLS gets nothing where STARTTLS is asked for."""
    with server(tmp_path, "none") as running:
        with pytest.raises(SendingFailed, match="STARTTLS"):
            sent(Server("localhost", running.port, "starttls"))
        assert running.kept.messages == []
        sent(Server("localhost", running.port, "none"))
        assert len(running.kept.messages) == 1


def test_a_refusal_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong password, and what the server says against the message, are told in its words; never the password."""
    with server(tmp_path, "starttls", auth=True) as running:
        monkeypatch.setenv("SSL_CERT_FILE", str(running.authority))
        with pytest.raises(SendingFailed, match="535") as caught:
            sent(Server("localhost", running.port, "starttls", USER, "wrong word"))
        assert "wrong word" not in str(caught.value)
        running.kept.refuse = "554 no mail today"
        with pytest.raises(SendingFailed, match="554 no mail today"):
            sent(Server("localhost", running.port, "starttls", USER, PASSWORD))


def test_a_recipient_is_refused(tmp_path: Path) -> None:
    """A recipient the server does not take gets nothing, and the server's words are told."""
    with server(tmp_path, "none") as running:
        running.kept.refuse_to = "550 no such mailbox"
        with pytest.raises(SendingFailed, match="550 no such mailbox"):
            sent(Server("localhost", running.port, "none"))
        assert running.kept.messages == []


def test_gone_before_it_answered(tmp_path: Path) -> None:
    """A server that breaks off with the message in its hands may have taken it: that is neither sent nor not sent."""
    with server(tmp_path, "none") as running:
        running.kept.drop = True
        with pytest.raises(SendingUnclear, match="broke off after it was handed the message"):
            sent(Server("localhost", running.port, "none"))
        assert len(running.kept.messages) == 1


def test_gone_after_it_answered(tmp_path: Path) -> None:
    """What a server says to QUIT does not make a message unsent that it has taken (RFC 5321, section 4.1.1.10)."""
    with server(tmp_path, "none") as running:
        running.kept.farewell = "421 too busy"
        sent(Server("localhost", running.port, "none"))
        assert len(running.kept.messages) == 1


def test_bytes_as_they_are(tmp_path: Path) -> None:
    """Long identifiers, lines of one dot and a missing line end arrive as RFC 5321, section 4.5.2, has it."""
    thread = f"References: <{'a' * 300}@post.example>".encode()
    data = thread + b"\r\nFrom: desk@tidewheel.example\r\n\r\n.\r\n..\r\nend"
    with server(tmp_path, "none") as running:
        send(Server("localhost", running.port, "none"), "desk@tidewheel.example", "m@post.example", data)
        (kept,) = running.kept.messages
    assert kept[2] == data + b"\r\n"


def test_nobody_listens() -> None:
    """A server that cannot be reached is named."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with pytest.raises(SendingFailed, match=f"127.0.0.1:{port}"):
        sent(Server("127.0.0.1", port, "none"))


def test_the_password_is_never_shown() -> None:
    """A server printed for a person or a traceback leaves its password out."""
    assert "secret" not in repr(Server("h", 1, "none", "u", "secret"))


def test_the_server_in_the_settings(tmp_path: Path) -> None:
    """Ports follow the kind of TLS, the password is the first line of a file that only its owner can read."""
    (tmp_path / "pw").write_text("one two\nthree\n")
    (tmp_path / "pw").chmod(0o600)
    named = Settings(smtp_host="mail.tidewheel.example", smtp_user="desk", smtp_password_file="pw")
    assert server_of(named, tmp_path) == Server("mail.tidewheel.example", 587, "starttls", "desk", "one two")
    assert server_of(Settings(smtp_host="h", smtp_tls="implicit"), tmp_path).port == 465
    assert server_of(Settings(smtp_host="localhost", smtp_tls="none", smtp_port=2525), tmp_path).port == 2525


@pytest.mark.parametrize(
    ("settings", "named"),
    [
        (Settings(), "no server"),
        (Settings(smtp_host="h", smtp_tls="tls"), "smtp_tls"),
        (Settings(smtp_host="mail.tidewheel.example", smtp_tls="none"), "another machine"),
        (Settings(smtp_host="h", smtp_password_file="absent"), "absent"),
        (Settings(smtp_host="h", smtp_password_file="open"), "read by others"),
    ],
)
def test_settings_that_cannot_work(settings: Settings, named: str, tmp_path: Path) -> None:
    """No server, an unknown kind of TLS, none to another machine, a password file absent or open: each is refused."""
    (tmp_path / "open").write_text("x")
    (tmp_path / "open").chmod(0o644)
    with pytest.raises(SettingsFaulty, match=named):
        server_of(settings, tmp_path)


@pytest.mark.parametrize("answer", ["what?", "354 go on", "250 " + "x" * 9_000])
def test_no_answer_after_the_message(answer: str, tmp_path: Path) -> None:
    """Only 4xx and 5xx say that a message was not taken (RFC 5321, section 4.2.1): after anything else it may have
    been, and nothing is sent a second time unasked."""
    with server(tmp_path, "none") as running:
        running.kept.answer = answer
        with pytest.raises(SendingUnclear, match="gave no answer after it was handed the message"):
            sent(Server("localhost", running.port, "none"))
        assert len(running.kept.messages) == 1
