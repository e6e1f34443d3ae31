"""One archive folder: makes it, opens it, hands out its parts.

    counterfoil.toml   settings of the shop          coverage.toml   warranty terms
    patterns/          the shop's own maker files    records.db      records (SQLite)
    originals/         every message as received     index/          full text, derived
    replies/           the shop's own reply texts    write.lock      held by the one who writes
    turn.lock          held by the one who is next   unfinished      stands while mail is taken in
    journal.head       the journal's last line, told apart from it
    customers.pw       passwords of customers' locked PDFs, where there are any

The parts are opened when first asked for, so that a command pays only for what it uses.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil import settings as settings_module
from counterfoil.durable import sync_folder
from counterfoil.errors import ArchiveBusy, ArchiveMissing, RecordUnknown, StorageFull, UsageProblem
from counterfoil.model import Kind
from counterfoil.settings import SETTINGS_FILE, Settings

if TYPE_CHECKING:
    from counterfoil.index import Index
    from counterfoil.model import Box, Document, Fact, Message, PagePicture
    from counterfoil.patterns import Patterns
    from counterfoil.records.originals import Originals
    from counterfoil.records.store import Store
    from counterfoil.sandbox import Reader
    from counterfoil.sandbox.locks import CustomerPasswords

COVERAGE_FILE = "coverage.toml"
RECORDS_FILE = "records.db"
CUSTOMER_PASSWORD_FILE = "customers.pw"
#: How often one who waits looks whether it may write.
_POLL_SECONDS = 0.01

_SETTINGS_TEMPLATE = """\
# Settings of this archive. Lines that start with # show the default.

shop_name = {shop_name}
# The shop's own mailboxes: mail from or to them never makes a customer.
shop_addresses = [{shop_addresses}]
# ISO 3166-1 code of the country whose telephone numbers are written without a country code.
region = {region}

# A value below these log-odds is never filed without a person (4.6 = 99 in 100).
# filing_odds = 4.6
# How long a second writer waits for the first, in seconds.
# lock_wait_seconds = 30.0

# The server that replies are sent through, when told to. Without it there are drafts only.
# smtp_host = "mail.example.com"
# smtp_port = 587
# smtp_tls = "starttls"            # or "implicit"; "none" only for a server on this machine
# smtp_user = "desk"
# smtp_password_file = "smtp.pw"   # its first line; without it the password is asked for

# Mail servers that mail is fetched from. Nothing on them is changed unless a folder for fetched mail is named.
# imap_tls = "starttls"            # for imap:// addresses; "none" only for a server on this machine
# imap_ca_file = "own-ca.pem"      # further authorities that vouch for servers
# imap_done_folder = "Counterfoil" # mail that is durably kept is moved there

# Passwords that makers lock their PDFs with, one a line, in a file that nobody else may read.
# pdf_password_file = "pdf.pw"
"""

_COVERAGE_TEMPLATE = """\
# Warranty terms of the shop and the makers it sells. The maker's own decision always stands above these records.
# One [[term]] a part class; `maker` and `model` may be left out: the term then holds for all.
#
# [[term]]
# maker = "Name of the maker"
# part = "machine"          # the part class, in your own words: machine, electronics, motor, labour
# years = 2
# months = 0
# start = "purchase"        # or "registration", which stands in, marked as assumed, where no purchase is known;
#                           # or "activation", the first confirmation that holds an activation code
# holder = "any"            # or "first": ends when the machine changes hands
# register_within_days = 30 # registered so soon after the purchase, or the shorter term:
# else_years = 1            # else_months as well; both left out: no cover at all
# proof = ["invoice"]       # what proves the start, any one: invoice, confirmation, pdf, registration
# note = "Keep the invoice."
#
# [[example]]               # a worked case: `counterfoil coverage check` compares the answer with it
# part = "machine"
# purchase = 2024-02-29     # also registration, activation, changed_hands
# on = 2026-02-28
# covered = true            # or false, or "unknown"
# last_day = 2026-02-28
"""


class Archive:
    """An opened archive folder.

    Args:
        folder: the folder; it must have been made with :meth:`create`.

    Raises:
        ArchiveMissing: the folder is not an archive.
        SettingsFaulty: its counterfoil.toml is wrong.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        if not (folder / SETTINGS_FILE).is_file() or not (folder / RECORDS_FILE).is_file():
            raise ArchiveMissing(f"There is no archive in {folder}.")
        settings = settings_module.load(folder / SETTINGS_FILE)
        if settings.pdf_password_file:
            # Reading processes open it themselves, wherever they run: its lines pass through no pipe.
            settings = replace(settings, pdf_password_file=str((folder / settings.pdf_password_file).resolve()))
        self.settings: Settings = settings

    @classmethod
    def create(
        cls, folder: Path, *, shop_name: str, shop_addresses: tuple[str, ...] = (), region: str = "GB"
    ) -> Archive:
        """Make a new, empty archive.

        Args:
            folder: a folder that does not exist yet, or is empty.
            shop_name: printed on restore sheets.
            shop_addresses: the shop's own mailboxes.
            region: ISO 3166-1 code for telephone numbers without a country code.

        Raises:
            UsageProblem: something is in the folder already.
            StorageFull: the folder cannot be written.
        """
        from counterfoil.records.store import Store

        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise UsageProblem(f"{folder} is not an empty folder.", "Name a new folder with --archive.")
        try:
            for part in (folder, folder / "originals", folder / "index", folder / "patterns", folder / "replies"):
                part.mkdir(parents=True, exist_ok=True)
                part.chmod(0o700)
            quoted = ", ".join(_toml_text(a) for a in shop_addresses)
            text = _SETTINGS_TEMPLATE.format(
                shop_name=_toml_text(shop_name), shop_addresses=quoted, region=_toml_text(region)
            )
            (folder / COVERAGE_FILE).write_text(_COVERAGE_TEMPLATE, encoding="utf-8")
            # The settings come last: a folder without them, left by a kill in between, is not taken for an archive.
            Store(folder / RECORDS_FILE, create=True).close()
            (folder / SETTINGS_FILE).write_text(text, encoding="utf-8")
        except OSError as error:
            raise StorageFull(f"{folder} cannot be written: {error.strerror or error}.") from error
        return cls(folder)

    @cached_property
    def store(self) -> Store:
        """The records."""
        from counterfoil.records.store import Store

        return Store(self.folder / RECORDS_FILE, settings=self.settings)

    @cached_property
    def originals(self) -> Originals:
        """The messages as received."""
        from counterfoil.records.originals import Originals

        return Originals(self.folder / "originals")

    @cached_property
    def index(self) -> Index:
        """The full-text index."""
        from counterfoil.index import Index

        return Index(self.folder / "index", self.store)

    @cached_property
    def patterns(self) -> Patterns:
        """The vocabulary and the shop's maker files."""
        from counterfoil.patterns import Patterns

        return Patterns.load(self.folder / "patterns")

    @cached_property
    def reader(self) -> Reader:
        """Reads messages, in processes of their own where that is called for.

        Raises:
            SettingsFaulty: the file with passwords of PDFs cannot be used.
        """
        from counterfoil.password_file import read_passwords
        from counterfoil.sandbox import Reader

        if self.settings.pdf_password_file:
            # Said here, before anything is read: a reading process could only go without.
            read_passwords(Path(self.settings.pdf_password_file), "pdf_password_file")
        return Reader(self.settings, self.folder / "patterns", lambda: self.patterns, self.customer_passwords)

    @cached_property
    def customer_passwords(self) -> CustomerPasswords | None:
        """Where passwords of customers' PDFs stand, and whose they are; None where there are none.

        Raises:
            SettingsFaulty: the file cannot be used.
        """
        from counterfoil.password_file import read_customer_passwords
        from counterfoil.sandbox.locks import CustomerPasswords, Owner

        owners = []
        for customer in read_customer_passwords(self.customer_password_file):
            try:
                profile = self.store.customer(customer)
            except RecordUnknown:
                continue
            owners.append(Owner(customer, profile.id, profile.values(Kind.EMAIL_ADDRESS)))
        return CustomerPasswords(self.customer_password_file, tuple(owners)) if owners else None

    @property
    def customer_password_file(self) -> Path:
        """The file with passwords of customers' PDFs; only the desk's own account may read it."""
        return self.folder / CUSTOMER_PASSWORD_FILE

    def concerned(self, sha256: str) -> tuple[str, ...]:
        """Return the customer a message is filed to, where passwords of customers may be needed to read it.

        Args:
            sha256: the message's hash.
        """
        if self.customer_passwords is None:
            return ()
        known = self.store.known(sha256)
        customer = None if known is None else self.store.message(known).customer
        return () if customer is None else (customer,)

    def read_with_boxes(self, data: bytes) -> Message:
        """Read a message with its lines and the boxes of its characters, as pages are shown by them.

        Args:
            data: its bytes.

        Raises:
            ReadingImpossible: no reading process can be started.
        """
        from counterfoil.sandbox.reader import Task

        customers = self.concerned(hashlib.sha256(data).hexdigest())
        message, _ = next(self.reader.read([Task("", data, whole=True, boxes=True, customers=customers)]))
        return message

    def draw_page(
        self,
        data: bytes,
        document: Document,
        page: int,
        frames: Sequence[Box],
        hidden: Sequence[Box],
        hide_pictures: bool,
    ) -> PagePicture | None:
        """Draw a page of a PDF in a process of its own; see :func:`counterfoil.documents.render.page_picture`.

        Raises:
            ReadingImpossible: no reading process can be started.
        """
        from counterfoil.sandbox.drawing import Drawing

        drawing = Drawing(document.name, page, tuple(frames), tuple(hidden), hide_pictures)
        return self.reader.draw(data, drawing, self.concerned(hashlib.sha256(data).hexdigest()))

    def crops(self, data: bytes, facts: Sequence[Fact]) -> list[bytes | None]:
        """Cut out of a message's pictures where values were read by eye, in a process of its own.

        Raises:
            ReadingImpossible: no reading process can be started.
        """
        return self.reader.crops(data, facts, self.concerned(hashlib.sha256(data).hexdigest()))

    @property
    def coverage_file(self) -> Path:
        """The file with the warranty terms."""
        return self.folder / COVERAGE_FILE

    @property
    def replies_folder(self) -> Path:
        """The folder of the shop's own reply texts; archives made earlier may lack it."""
        return self.folder / "replies"

    @property
    def unfinished(self) -> Path:
        """A file that stands while a batch of originals is kept and filed, and after a run that was killed in it."""
        return self.folder / "unfinished"

    def mark_unfinished(self) -> None:
        """Leave the mark durably, before the first original of a batch is written."""
        self.unfinished.touch()
        sync_folder(self.folder)

    @contextmanager
    def lock(self) -> Iterator[None]:
        """Hold the right to write; others wait, and come in turn: who lets go and asks again stands behind them.

        Raises:
            ArchiveBusy: the other writer did not finish in :attr:`Settings.lock_wait_seconds`.
        """
        from filelock import FileLock, Timeout

        lock, turn = FileLock(self.folder / "write.lock"), FileLock(self.folder / "turn.lock")
        deadline = time.monotonic() + self.settings.lock_wait_seconds
        try:
            # Only one waits at the lock itself, all others for their turn: a run that takes the lock again and again
            # would else be quicker each time than one that looks every few milliseconds.
            with turn.acquire(timeout=self.settings.lock_wait_seconds, poll_interval=_POLL_SECONDS):
                lock.acquire(timeout=max(0.0, deadline - time.monotonic()), poll_interval=_POLL_SECONDS)
        except Timeout as error:
            waited = self.settings.lock_wait_seconds
            raise ArchiveBusy(f"Another run has been writing to {self.folder} for more than {waited:g} s.") from error
        except OSError as error:
            raise StorageFull(f"{self.folder} cannot be written: {error.strerror or error}.") from error
        try:
            yield
        finally:
            lock.release()

    def close(self) -> None:
        """Close the records and end the reading processes, where there are any."""
        if "reader" in self.__dict__:
            self.reader.close()
        if "store" in self.__dict__:
            self.store.close()


def _toml_text(value: str) -> str:
    """Return ``value`` as a TOML basic string."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'


def default_folder() -> Path:
    """Return the folder used when none is named: COUNTERFOIL_ARCHIVE, else the platform's user data folder."""
    named = os.environ.get("COUNTERFOIL_ARCHIVE")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("counterfoil", appauthor=False)
