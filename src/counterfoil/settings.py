"""Settings of one archive (counterfoil.toml) and the limits that bound all reading, units in the names.

Raises:
    SettingsFaulty: the file is not TOML, names an unknown setting, or has a value of the wrong type.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, fields
from pathlib import Path

from counterfoil.errors import SettingsFaulty

SETTINGS_FILE = "counterfoil.toml"


@dataclass(frozen=True, slots=True)
class Limits:
    """Bounds on what one message may cost. Beyond a limit a part is left unread and becomes a question."""

    message_bytes: int = 50_000_000
    part_bytes: int = 25_000_000
    unpacked_bytes: int = 100_000_000
    mime_depth: int = 20
    parts: int = 200
    headers: int = 1_000
    header_bytes: int = 256_000
    addresses: int = 1_000
    text_chars: int = 1_000_000
    forward_chars: int = 64_000
    """Larger bodies are searched for forwards in their first part only: time stays bounded."""
    forward_depth: int = 10
    pdf_pages: int = 50
    pdf_chars: int = 1_000_000
    page_objects: int = 100_000
    zip_entries: int = 200
    zip_depth: int = 1
    reader_bytes: int = 1_000_000_000
    """Address space of a reading process; a PDF made to swell reaches it in a second or two."""
    reader_cpu_seconds: int = 10
    reader_seconds: int = 15
    """Wall clock for one task of a reading process; what takes longer is stopped and becomes a question."""
    reader_answer_bytes: int = 50_000_000
    message_seconds: int = 60
    """Wall clock for all tries at one message with files that end their reader."""
    picture_pixels: int = 40_000_000
    """Pixels of a picture, told before it is decoded."""
    pictures: int = 20
    """Pictures and scanned pages of one message that are read."""
    picture_memory_bytes: int = 3_000_000_000
    """Address space of a reading process while it reads a picture; the models alone take half a gigabyte."""
    picture_seconds: int = 20
    """Wall clock for one picture, on top of the time for the message; one with much text takes five on a busy core."""
    picture_cpu_seconds: int = 15
    facts: int = 500
    """More values than this in one message is a list, not a confirmation."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a shop decides for its archive.

    ``region`` is the ISO 3166-1 code used to read telephone numbers without a country code.
    ``shop_addresses`` are the shop's own mailboxes: never a customer.
    """

    shop_name: str = "Our shop"
    shop_addresses: tuple[str, ...] = ()
    region: str = "GB"
    filing_odds: float = 4.6
    """A value below these log-odds is never filed without a person. 4.6 = 99 in 100: one wrong code in a hundred
    is the most a single reading may risk, and filing asks for several independent values at once. That the odds
    keep this word is measured (tests/bench/calibrate.py); the sums of signs leave a gap around it, so that no value
    of a generated set stands between 4.1 and 4.8: moving it within decides nothing."""
    name_similarity: float = 0.92
    """Jaro-Winkler similarity from which two names agree. At .92 with given and family name in one alignment,
    0.1 % of what was filed without a person was wrong on a set with relatives for everyone; at .80 it was 0.8 %."""
    confirmation_odds: float = 0.0
    """From these log-odds on a message is treated as a confirmation (or a try at one), below it is put aside."""
    lock_wait_seconds: float = 30.0
    """How long a second writer waits for the first before it says so and stops."""
    busy_wait_seconds: float = 30.0
    """How long what needs no turn, as the note that codes were shown, waits for a transaction under way."""
    smtp_host: str = ""
    """The server that replies are sent through; empty: drafts only."""
    smtp_port: int = 0
    """0 takes the usual one: 465 for implicit, 587 for starttls."""
    smtp_tls: str = "starttls"
    """``implicit``, ``starttls``, or ``none`` for a server on this machine only."""
    smtp_user: str = ""
    smtp_password_file: str = ""
    """A file whose first line is the password, readable by nobody else; empty: it is asked for."""
    imap_tls: str = "starttls"
    """How imap:// addresses are secured: ``starttls``, or ``none`` for a server on this machine only."""
    imap_ca_file: str = ""
    """A file (PEM) of further authorities that vouch for mail servers, beside those the system trusts."""
    imap_done_folder: str = ""
    """Where fetched mail is moved to, once it is durably kept; empty: nothing on the server is changed."""
    watch_quiet_seconds: float = 2.0
    """A file in a watched folder is read once it has stayed as it is for this long: programs write without such
    pauses."""
    pdf_password_file: str = ""
    """A file with passwords that locked PDFs are tried with, one a line, readable by nobody else; empty: none."""
    readers: int = 0
    """Reading processes at work at once; 0: as many as the machine has cores."""
    index_batch: int = 2_000
    """Messages in one commit of the full-text index: each commit costs several syncs and one more segment."""
    limits: Limits = field(default_factory=Limits)


_SCALARS = {"str": str, "int": int, "float": (int, float)}


def load(path: Path) -> Settings:
    """Read counterfoil.toml; settings not named keep their default.

    Args:
        path: the file.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsFaulty(f"{path} cannot be read: {error}.") from error
    limits = raw.pop("limits", {})
    values = _checked(path, raw, Settings, skip="limits")
    if not isinstance(limits, dict):
        raise SettingsFaulty(f"{path}: `limits` must be a table.")
    return Settings(**values, limits=Limits(**_checked(path, limits, Limits)))  # type: ignore[arg-type]


def _checked(path: Path, raw: dict[str, object], cls: type, skip: str = "") -> dict[str, object]:
    kinds = {f.name: str(f.type) for f in fields(cls) if f.name != skip}
    values: dict[str, object] = {}
    for name, value in raw.items():
        if name not in kinds:
            raise SettingsFaulty(
                f"{path}: there is no setting `{name}`.", f"Known settings: {', '.join(sorted(kinds))}."
            )
        wanted = kinds[name]
        if wanted.startswith("tuple"):
            good = isinstance(value, list) and all(isinstance(v, str) for v in value)
            value = tuple(value) if isinstance(value, list) else value
        else:
            good = isinstance(value, _SCALARS[wanted]) and not isinstance(value, bool)  # type: ignore[arg-type]
        if not good:
            raise SettingsFaulty(f"{path}: `{name}` has a value of the wrong type: {value!r}.")
        values[name] = value
    return values
