"""A folder on a mail server (RFC 3501), read with IMAPClient: nothing there is changed but what the settings ask for.

The folder is opened with EXAMINE and messages are fetched with BODY.PEEK[]: no message counts as seen or recent.
Certificates are always checked; without encryption a password goes to a server on this machine only.
"""

from __future__ import annotations

import contextlib
import ssl
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from imapclient import IMAPClient
from imapclient.exceptions import IMAPClientAbortError, IMAPClientError, LoginError

from counterfoil.errors import FetchingFailed, SettingsFaulty, SourceUnreadable
from counterfoil.settings import Limits, Settings
from counterfoil.sources.found import Found, Received, Unreadable, too_large
from counterfoil.sources.imap_address import ImapAddress

#: Messages of one FETCH, and their bytes: what has come of it is lost when the line drops, and is fetched again.
CHUNK_MESSAGES = 32
CHUNK_BYTES = 1_000_000
#: Messages whose sizes are asked for at once.
_SIZES = 1_000
_WAIT_SECONDS = 30.0
#: How often one who waits looks whether to stop.
_TICK_SECONDS = 0.5
#: Refusals that pass by themselves (RFC 5530, section 3).
_PASSING = ("[UNAVAILABLE]", "[INUSE]", "[LIMIT]", "[SERVERBUG]")
#: What a server's answers can make the library raise, beside its own exceptions: they are no IMAP then.
_NONSENSE = (ValueError, LookupError, AssertionError, TypeError, EOFError)
_TROUBLE = (IMAPClientError, OSError, *_NONSENSE)


@dataclass(frozen=True, slots=True)
class ImapRules:
    """How servers are spoken to: ``tls`` and ``done`` as in the settings, ``ca_file`` with its folder."""

    tls: str = "starttls"
    ca_file: Path | None = None
    done: str = ""


def rules_of(settings: Settings, folder: Path) -> ImapRules:
    """Return the rules in the settings.

    Args:
        settings: the shop's.
        folder: the archive's, from which a relative imap_ca_file counts.

    Raises:
        SettingsFaulty: imap_tls is none of its values.
    """
    if settings.imap_tls not in ("starttls", "none"):
        raise SettingsFaulty(f"imap_tls is {settings.imap_tls!r}.", "It is one of: starttls, none.")
    ca_file = folder / settings.imap_ca_file if settings.imap_ca_file else None
    return ImapRules(settings.imap_tls, ca_file, settings.imap_done_folder)


class ImapFolder:
    """An opened folder; use it in a `with` statement.

    Args:
        address: which.
        password: of the account.
        rules: how servers are spoken to.
        limits: the size beyond which a message is left alone.

    Raises:
        FetchingFailed: the server cannot be reached, shows no valid certificate, or does not let the account in.
        SourceUnreadable: there is no such folder.
        SettingsFaulty: the settings cannot work with this address.
    """

    def __init__(self, address: ImapAddress, password: str, rules: ImapRules, limits: Limits) -> None:
        self.address, self.lost, self._newest = address, None, 0
        self._rules, self._limits = rules, limits
        if not address.implicit and rules.tls == "none" and not address.here:
            raise SettingsFaulty(
                f"imap_tls is 'none', but {address.host} is another machine.", "Use 'starttls', or an imaps:// address."
            )
        self._client = self._connected(_context(rules.ca_file))
        try:
            self._log_in(password)
            self.uidvalidity = self._open()
        except BaseException:
            self.close()
            raise

    address: ImapAddress
    lost: FetchingFailed | None
    """Why :meth:`messages` ended before its end, if it did."""
    uidvalidity: int

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the connection. The folder is not closed: that would expunge what others have marked."""
        with contextlib.suppress(*_TROUBLE):
            self._client.logout()
        with contextlib.suppress(*_TROUBLE):
            self._client.shutdown()

    # --- the connection -------------------------------------------------------------------------------

    def _connected(self, context: ssl.SSLContext) -> IMAPClient:
        address = self.address
        client = None
        try:
            client = IMAPClient(
                address.host,
                address.port,
                ssl=address.implicit,
                ssl_context=context if address.implicit else None,
                timeout=_WAIT_SECONDS,
            )
            if not address.implicit and self._rules.tls != "none":
                # Raises where the server offers none: there is no falling back to a line that can be read on the way.
                client.starttls(context)
            return client
        except _TROUBLE as error:
            if client is not None:
                with contextlib.suppress(*_TROUBLE):
                    client.shutdown()
            raise self._failed(error, "cannot be reached") from error

    def _log_in(self, password: str) -> None:
        client, user = self._client, self.address.user
        try:
            # LOGIN takes ASCII only; AUTHENTICATE takes any password.
            login = client.plain_login if client.has_capability("AUTH=PLAIN") else client.login
            login(user, password)
        except UnicodeError as error:
            what = f"{self._where} takes no password with letters beyond ASCII."
            raise FetchingFailed(what, "Change the password.") from error
        except LoginError as error:
            if isinstance(error.__context__, IMAPClientAbortError):
                raise self._failed(error, "ended the connection") from error
            passing = any(code in str(error).upper() for code in _PASSING)
            what = f"{self._where} does not let {user} in: {_words(error)}."
            raise FetchingFailed(what, "Check the user and the password.", passing=passing) from error
        except _TROUBLE as error:
            raise self._failed(error, "ended the connection") from error

    def _open(self) -> int:
        """Open the folder and return its UIDVALIDITY."""
        client, done = self._client, self._rules.done
        try:
            if done:
                self._check_done(done)
            opened = client.select_folder(self.address.folder, readonly=not done)
            return int(opened[b"UIDVALIDITY"])
        except IMAPClientAbortError as error:
            raise self._failed(error, "ended the connection") from error
        except IMAPClientError as error:
            folder = self.address.folder
            raise SourceUnreadable(
                f"{self._where} does not open the folder {folder!r}: {_words(error)}.",
                "Check its name; folders inside others are often written Parent/Child or Parent.Child.",
            ) from error
        except _TROUBLE as error:
            raise self._failed(error, "cannot be understood") from error

    def _check_done(self, done: str) -> None:
        """Refuse a folder for finished mail that cannot serve, before anything is fetched."""
        client = self._client
        if done == self.address.folder:
            raise SettingsFaulty("imap_done_folder is the folder that mail is fetched from.", "Name another one.")
        if not client.folder_exists(done):
            raise SourceUnreadable(f"{self._where} has no folder {done!r} (imap_done_folder).", "Make it there.")
        if not (client.has_capability("MOVE") or client.has_capability("UIDPLUS")):
            # A plain EXPUNGE would also remove what others have marked for it.
            raise SettingsFaulty(
                f"{self._where} cannot move single messages (it has neither MOVE nor UIDPLUS).",
                "Take imap_done_folder out of counterfoil.toml.",
            )

    @property
    def _where(self) -> str:
        return f"{self.address.host}:{self.address.port}"

    def _failed(self, error: BaseException, what: str) -> FetchingFailed:
        """Return our error for one of the library's."""
        cause = error.__context__ if isinstance(error, LoginError) and error.__context__ else error
        if isinstance(cause, ssl.SSLCertVerificationError):
            return FetchingFailed(
                f"{self._where} shows no certificate that can be trusted: {cause.verify_message or cause}.",
                "Check the name of the server; a shop's own authority is named with imap_ca_file in counterfoil.toml.",
            )
        if isinstance(cause, OSError | IMAPClientAbortError | EOFError):
            return FetchingFailed(f"{self._where} {what}: {_words(cause)}.", passing=True)
        if isinstance(cause, IMAPClientError):
            return FetchingFailed(f"{self._where} {what}: {_words(cause)}.")
        return FetchingFailed(f"{self._where} answers in a way that cannot be understood ({type(cause).__name__}).")

    # --- messages -------------------------------------------------------------------------------------

    def messages(
        self, after: int, again: Sequence[int] = (), stop: Callable[[], bool] = lambda: False
    ) -> Iterator[Found]:
        """Hand out messages in the order of their UIDs. A line that drops ends it; :attr:`lost` then says why.

        Args:
            after: the UID that was dealt with last.
            again: UIDs up to that one that are tried again.
            stop: asked before each FETCH whether to end.
        """
        self.lost = None
        try:
            uids = self._uids(after, again)
            self._newest = max((after, *uids))
            for start in range(0, len(uids), _SIZES):
                sizes = self._sizes(uids[start : start + _SIZES])
                for chunk in _chunks(sizes, self._limits.message_bytes):
                    if stop():
                        return
                    yield from self._fetch(chunk, sizes)
        except _TROUBLE as error:
            self.lost = self._failed(error, "ended the connection before all was fetched")

    def _uids(self, after: int, again: Sequence[int]) -> list[int]:
        # "n:*" means the last message even where n is beyond it (RFC 3501, section 6.4.8).
        found = {uid for uid in self._client.search(["UID", f"{after + 1}:*"]) if uid > after}
        return sorted(found | set(again))

    def _sizes(self, uids: Sequence[int]) -> dict[int, int]:
        answer = self._client.fetch(uids, ["RFC822.SIZE"])
        # Messages that others removed meanwhile are not in the answer.
        return {uid: int(answer[uid][b"RFC822.SIZE"]) for uid in uids if b"RFC822.SIZE" in answer.get(uid, {})}

    def _fetch(self, uids: Sequence[int], sizes: dict[int, int]) -> Iterator[Found]:
        small = [uid for uid in uids if sizes[uid] <= self._limits.message_bytes]
        try:
            bodies = self._bodies(small)
        except IMAPClientAbortError:
            raise
        except IMAPClientError:
            # One message that the server cannot hand out must not keep back the others.
            bodies = {uid: self._body(uid) for uid in small}
        for uid in uids:
            source = f"{self.address}#{uid}"
            data = bodies.get(uid)
            if sizes[uid] > self._limits.message_bytes or (data and len(data) > self._limits.message_bytes):
                large = too_large(source, max(sizes[uid], len(data or b"")), self._limits)
                yield Unreadable(source, large.reason, uid)
            elif isinstance(data, bytes):
                yield Received(data, source, uid) if data.strip() else Unreadable(source, "It is empty.", uid)
            elif self._client.search(["UID", str(uid)]):
                yield Unreadable(source, "The server does not hand it out.", uid)

    def _bodies(self, uids: Sequence[int]) -> dict[int, bytes | None]:
        answer = self._client.fetch(uids, ["BODY.PEEK[]"])
        return {uid: item.get(b"BODY[]") for uid, item in answer.items()}

    def _body(self, uid: int) -> bytes | None:
        try:
            return self._bodies([uid]).get(uid)
        except IMAPClientAbortError:
            raise
        except IMAPClientError:
            return None

    def finished(self, last: int, left: Sequence[int]) -> list[int]:
        """Return the UIDs of messages still in the folder that were dealt with and not left.

        Args:
            last: the UID that was dealt with last.
            left: those up to it that could not be taken in.

        Raises:
            FetchingFailed: the line dropped.
        """
        if not last:
            return []
        try:
            return sorted(set(self._client.search(["UID", f"1:{last}"])) - set(left))
        except _TROUBLE as error:
            raise self._failed(error, "ended the connection") from error

    def move(self, uids: Sequence[int]) -> None:
        """Move messages to the folder for finished mail, where the settings name one.

        Raises:
            FetchingFailed: the server refused, or the line dropped; the messages are kept here, whatever happens there.
        """
        client, done = self._client, self._rules.done
        if not done or not uids:
            return
        try:
            if client.has_capability("MOVE"):
                client.move(uids, done)
            else:
                client.copy(uids, done)
                client.delete_messages(uids, silent=True)
                client.uid_expunge(uids)
        except _TROUBLE as error:
            raise self._failed(error, f"did not move mail to {done!r}") from error

    # --- waiting --------------------------------------------------------------------------------------

    def wait(self, seconds: float, stop: Callable[[], bool]) -> None:
        """Wait until mail may have come: the server says so (RFC 2177), the time is up, or ``stop`` says so.

        Args:
            seconds: the longest wait.
            stop: asked twice a second.

        Raises:
            FetchingFailed: the line dropped.
        """
        until = time.monotonic() + seconds
        try:
            # What came during the last FETCH was told of then, and is not told of again.
            if self._uids(self._newest, ()):
                return
            if not self._client.has_capability("IDLE"):
                while not stop() and time.monotonic() < until:
                    time.sleep(min(_TICK_SECONDS, max(0.0, until - time.monotonic())))
                self._client.noop()
                return
            self._client.idle()
            while not stop() and (left := until - time.monotonic()) > 0:
                asked, tick = time.monotonic(), min(_TICK_SECONDS, left)
                said = self._client.idle_check(timeout=tick)
                # A line that was cut shows itself as an answer without words; the end of the IDLE tells.
                if any(_tells_of_mail(item) for item in said) or (not said and time.monotonic() - asked < tick / 2):
                    break
            self._client.idle_done()
        except _TROUBLE as error:
            raise self._failed(error, "ended the connection") from error


def _tells_of_mail(said: Any) -> bool:
    return isinstance(said, tuple) and len(said) > 1 and said[1] in (b"EXISTS", b"RECENT")


def _context(ca_file: Path | None) -> ssl.SSLContext:
    """Return what certificates are checked against: the system's authorities, and the shop's own."""
    context = ssl.create_default_context()
    if ca_file is not None:
        try:
            context.load_verify_locations(cafile=ca_file)
        except OSError as error:
            raise SettingsFaulty(f"{ca_file} (imap_ca_file) cannot be read: {error.strerror or error}.") from error
    return context


def _chunks(sizes: dict[int, int], most: int) -> Iterator[list[int]]:
    """Group UIDs, so that one FETCH brings a bounded number of bytes; a large message comes alone."""
    chunk: list[int] = []
    total = 0
    for uid, size in sizes.items():
        size = size if size <= most else 0
        if chunk and (len(chunk) >= CHUNK_MESSAGES or total + size > CHUNK_BYTES):
            yield chunk
            chunk, total = [], 0
        chunk.append(uid)
        total += size
    if chunk:
        yield chunk


def _words(error: BaseException) -> str:
    """Return what a server or the system said, without the marks of bytes that the library leaves in."""
    text = str(error).strip() or type(error).__name__
    if isinstance(error, OSError) and error.strerror:
        text = error.strerror
    for mark in ("b'", 'b"'):
        if text.startswith(mark) and text.endswith(mark[1]):
            text = text[2:-1]
    return text.rstrip(".")
