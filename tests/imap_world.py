"""Real mail servers on the loopback interface, and a line in front of them that can be made to drop."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import trustme
from imapclient import IMAPClient

from counterfoil.sources.imap_address import ImapAddress

USER, PASSWORD = "demouser", "seam ripper 7"
FOLDER = "Desk"
PATIENCE_SECONDS = 30.0


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def until(true: Callable[[], bool], what: str) -> None:
    """Wait until something is so; that it never is, is a failure."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not true():
        assert time.monotonic() < deadline, f"waited in vain for {what}"
        time.sleep(0.02)


@dataclass
class Server:
    """A server under way."""

    port: int
    user: str = USER
    password: str = PASSWORD
    authority: Path | None = None

    @contextmanager
    def client(self) -> Iterator[IMAPClient]:
        """Give a connection of the test's own."""
        client = IMAPClient("127.0.0.1", self.port, ssl=False, timeout=PATIENCE_SECONDS)
        try:
            if self.authority is not None:
                client.starttls(ssl.create_default_context(cafile=str(self.authority)))
            # A message goes out in several small writes: each would wait for the answer to the one before.
            client.socket().setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            client.login(self.user, self.password)
            yield client
        finally:
            with contextlib.suppress(Exception):
                client.logout()

    def deliver(self, messages: Sequence[bytes], folder: str = FOLDER) -> None:
        """Put messages into a folder, which is made where it is not there."""
        with self.client() as client:
            if not client.folder_exists(folder):
                client.create_folder(folder)
            for data in messages:
                client.append(folder, data)

    def flags(self, folder: str = FOLDER) -> list[tuple[bytes, ...]]:
        """Return the flags of each message of a folder."""
        with self.client() as client:
            client.select_folder(folder, readonly=True)
            found = client.get_flags(client.search())
            return [tuple(flag for flag in found[uid] if flag != b"\\Recent") for uid in sorted(found)]

    def renumber(self, folder: str = FOLDER) -> None:
        """Remove a folder and make it anew: its numbering (UIDVALIDITY) is another one."""
        with self.client() as client:
            client.delete_folder(folder)
            client.create_folder(folder)

    def address(self, port: int | None = None, folder: str = FOLDER, *, implicit: bool = False) -> ImapAddress:
        """Return the address of a folder, through another port where one is named."""
        return ImapAddress(implicit, self.user, "127.0.0.1", port or self.port, folder)


@contextmanager
def pymap(folder: Path, *, tls: bool = False) -> Iterator[Server]:
    """Run pymap (PyPI, MIT), a server with mailboxes in memory; ``tls`` makes it offer STARTTLS."""
    server = Server(free_port())
    options = ["--no-tls"]
    if tls:
        server.authority, files = certificate(folder)
        options = ["--cert", str(files), "--key", str(files)]
    start = "import sys; from pymap.main import main; sys.exit(main())"
    command = [sys.executable, "-c", start, "--host", "127.0.0.1", "--port", str(server.port), *options]
    command += ["dict", "--demo-user", USER, "--demo-password", PASSWORD]
    with _running(command, server.port):
        yield server


def certificate(folder: Path, name: str = "127.0.0.1") -> tuple[Path, Path]:
    """Make an authority and a certificate; return the files of the authority, and of certificate and key."""
    authority = trustme.CA()
    vouches, files = folder / "authority.pem", folder / "server.pem"
    authority.cert_pem.write_to_path(str(vouches))
    authority.issue_cert(name).private_key_and_cert_chain_pem.write_to_path(str(files))
    return vouches, files


@contextmanager
def _running(command: Sequence[str], port: int) -> Iterator[None]:
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:

        def answers() -> bool:
            assert process.poll() is None, "the server ended"
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                return True
            return False

        until(answers, "the server")
        yield
    finally:
        process.terminate()
        try:
            process.wait(2)
        except subprocess.TimeoutExpired:
            # It waits for connections that tests left behind.
            process.kill()
            process.wait()


def has_dovecot() -> bool:
    """Say whether dovecot is installed and can be run: it starts as root only."""
    return shutil.which("dovecot") is not None and sys.platform != "win32" and os.geteuid() == 0


@contextmanager
def dovecot(folder: Path) -> Iterator[Server]:
    """Run Debian's dovecot-imapd from a configuration of its own, with Maildirs, STARTTLS and one user."""
    import pwd

    server = Server(free_port(), "desk")
    server.authority, files = certificate(folder)
    (folder / "users").write_text(f"desk:{{PLAIN}}{PASSWORD}\n", encoding="utf-8")
    (folder / "mail").mkdir()
    for path in (folder, folder / "users", folder / "mail"):
        os.chown(path, pwd.getpwnam("nobody").pw_uid, -1)
    # The folders above belong to the test alone; the server's processes must get through.
    for above in folder.parents:
        if above.stat().st_uid == os.geteuid() and above != Path("/"):
            above.chmod(above.stat().st_mode | 0o111)
    config = folder / "dovecot.conf"
    # Sockets lie in it, whose paths may have 107 characters (unix(7)): a test's own folder can be deeper.
    with tempfile.TemporaryDirectory(prefix="mail") as run:
        Path(run).chmod(0o755)
        config.write_text(_DOVECOT.format(folder=folder, run=run, port=server.port, cert=files), encoding="utf-8")
        with _running(["dovecot", "-F", "-c", str(config)], server.port):
            yield server


_DOVECOT = """\
protocols = imap
base_dir = {run}/run
state_dir = {run}/run
log_path = {folder}/log
default_internal_user = nobody
default_login_user = nobody
default_internal_group = nogroup
listen = 127.0.0.1
ssl = yes
ssl_cert = <{cert}
ssl_key = <{cert}
disable_plaintext_auth = no
mail_location = maildir:{folder}/mail/%u
mail_uid = nobody
mail_gid = nogroup
first_valid_uid = 1
passdb {{
  driver = passwd-file
  args = {folder}/users
}}
userdb {{
  driver = static
  args = uid=nobody gid=nogroup home={folder}/mail/%u
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {port}
  }}
  inet_listener imaps {{
    port = 0
  }}
}}
service anvil {{
  chroot =
}}
service stats {{
  chroot =
}}
"""


@dataclass
class Line:
    """A line to a server: everything passes, until it is told to drop after so many bytes from the server."""

    port: int
    drop_after: int | None = None
    drops: int = 0
    connections: int = 0
    refuse: bool = False
    open: list[socket.socket] = field(default_factory=list)

    def cut(self) -> None:
        """Drop what is connected now."""
        for end in self.open:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@contextmanager
def line(to: int, *, tls: Path | None = None) -> Iterator[Line]:
    """Run a line to a port; with ``tls`` (certificate and key) it speaks TLS from the first byte on the near side."""
    listener = socket.create_server(("127.0.0.1", 0))
    # Closing a socket does not wake a thread that accepts on it.
    listener.settimeout(0.05)
    ended = threading.Event()
    threads: list[threading.Thread] = []
    made = Line(int(listener.getsockname()[1]))
    context = None
    if tls is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(tls)

    def accept() -> None:
        while True:
            try:
                near, _ = listener.accept()
            except TimeoutError:
                if ended.is_set():
                    return
                continue
            near.settimeout(None)
            if made.refuse:
                near.close()
                continue
            try:
                if context is not None:
                    near.settimeout(PATIENCE_SECONDS)
                    near = context.wrap_socket(near, server_side=True)
                    near.settimeout(None)
                far = socket.create_connection(("127.0.0.1", to))
            except OSError:
                near.close()
                continue
            for end in (near, far):
                end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            made.connections += 1
            made.open += [near, far]
            left = [made.drop_after]
            made.drop_after = None
            for source, target, budget in ((near, far, [None]), (far, near, left)):
                threads.append(threading.Thread(target=_pass_on, args=(made, source, target, budget), daemon=True))
                threads[-1].start()

    accepting = threading.Thread(target=accept, daemon=True)
    accepting.start()
    try:
        yield made
    finally:
        ended.set()
        accepting.join()
        listener.close()
        made.cut()
        for thread in threads:
            thread.join(PATIENCE_SECONDS)
        for end in made.open:
            end.close()


def _pass_on(made: Line, source: socket.socket, target: socket.socket, budget: list[int | None]) -> None:
    with contextlib.suppress(OSError):
        while data := source.recv(65_536):
            left = budget[0]
            if left is not None:
                target.sendall(data[:left])
                budget[0] = left - len(data)
                if budget[0] is not None and budget[0] <= 0:
                    made.drops += 1
                    break
            else:
                target.sendall(data)
    for end in (source, target):
        with contextlib.suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)


def stop(process: subprocess.Popen[bytes], number: signal.Signals) -> tuple[int, bytes, bytes]:
    """Send a signal to a process and return how it ended and what it printed."""
    process.send_signal(number)
    out, err = process.communicate(timeout=PATIENCE_SECONDS)
    return process.returncode, out, err
