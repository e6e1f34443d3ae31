"""Draft replies to senders whose message raises a question only they can answer: polite, in their language, no codes.

The texts are data: `reply_texts/*.toml`, one a language; a file of the same name in the folder `replies/` takes
the place of what it names. A draft answers in the thread of the original (RFC 5322, section 3.6.4). Nothing is sent.
"""

from __future__ import annotations

import hashlib
import re
import textwrap
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.parser import BytesHeaderParser
from email.policy import SMTP, compat32
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.answers.asked import kinds_in
from counterfoil.answers.masking import mask, mask_in, secrets_of
from counterfoil.errors import SettingsFaulty, UsageProblem
from counterfoil.model import DATE_KINDS, Kind, Mailbox, MessageRecord, Question, Standing

if TYPE_CHECKING:
    from counterfoil.records.store import Store
    from counterfoil.settings import Settings

#: Used where a message's language has no texts.
DEFAULT_LANGUAGE = "en"
_WIDTH_CHARS = 72
#: Begin of the names of documents that were read off a picture.
_SEEN = ("picture:", "scan:", "layer:")
#: Message identifiers kept of a long thread: the first and the latest.
_MOST_REFERENCES = 21
#: Printable ASCII without blanks; a line of a message ends at 998 characters (RFC 5322, sections 2.1.1 and 3.6.4).
_ID = re.compile(r"<[!-;=?-~]{1,900}>")
#: What looks like a code in a subject, read as one or not: ten letters and digits or more, a digit among them.
_LIKE_A_CODE = re.compile(r"(?=[A-Za-z-]*\d)(?:[A-Za-z0-9]-?){10,}")
_ATOM, _LABEL = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+", r"[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?"
_ADDRESS = re.compile(rf"{_ATOM}(?:\.{_ATOM})*@{_LABEL}(?:\.{_LABEL})*")
#: The local parts of addresses that nobody reads; common practice, no source.
_NOBODY = re.compile(r"(?:no|do[-_.]?not)[-_.]?reply|mailer-daemon|postmaster|bounces?", re.IGNORECASE)
_RE = re.compile(r"^\s*(?:re|aw|antw|sv|r|ref)\s*:\s*", re.IGNORECASE)

#: What is asked for where a question's sentence names no kind of value.
_UNNAMED = {"date_contradiction": (Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE)}

Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Reply:
    """A draft: whom it goes to, its language, subject and text, and the whole as RFC 5322 bytes (``data``).

    ``questions`` are the codes it asks about.
    """

    id: str
    sender: str
    to: Mailbox
    subject: str
    language: str
    questions: tuple[str, ...]
    text: str
    data: bytes

    def to_json(self) -> dict[str, object]:
        """Return what a program needs of it, without the bytes."""
        names = ("id", "subject", "language", "text")
        more = {"from": self.sender, "to": self.to.address, "questions": list(self.questions)}
        return {name: getattr(self, name) for name in names} | more


def draft(
    store: Store,
    settings: Settings,
    read_original: Callable[[str], bytes],
    ref: str,
    *,
    own_texts: Path,
    when: datetime,
) -> Reply:
    """Draft the reply to an open message.

    Args:
        store: the records.
        settings: the shop's: its name, and its first address as the sender.
        read_original: returns the bytes of an original by its hash.
        ref: the message's id, E5.
        own_texts: the archive's folder of texts; need not exist.
        when: the moment the draft is made, with its offset; gives the Date and the Message-ID.

    Raises:
        RecordUnknown: there is no such message.
        UsageProblem: it is not open, or has no sender to ask, or raises no question that its sender can answer.
        SettingsFaulty: the settings name no address of the shop, or a text is wrong.
    """
    message = store.message(ref)
    to = _sender(message, settings)
    language, texts = load_texts(message.language, own_texts)
    questions = [q for q in message.questions if f"questions.{q.code}" in texts]
    if message.standing is not Standing.OPEN or not questions:
        why = (
            "is not open" if message.standing is not Standing.OPEN else "raises no question that its sender can answer"
        )
        raise UsageProblem(f"{message.id} {why}.", f"Look at it with `counterfoil triage show {message.id}`.")
    secrets = secrets_of(message.facts)
    subject = _LIKE_A_CODE.sub(lambda hit: mask(hit.group()), mask_in(_one_line(message.subject), secrets))
    text = mask_in(_text(message, questions, texts, settings, subject), secrets)
    original = read_original(message.sha256)
    mail = _mail(original, settings, to, when)
    mail["Subject"] = reply_subject(subject)
    mail.set_content(text, cte="quoted-printable")
    mail["Content-Language"] = language
    codes = tuple(dict.fromkeys(q.code for q in questions))
    return Reply(
        message.id,
        plain_address(settings.shop_addresses[0]),
        to,
        str(mail["Subject"]),
        language,
        codes,
        text,
        _thread(original) + mail.as_bytes(policy=SMTP),
    )


def reply_subject(subject: str) -> str:
    """Return the subject of a reply: one `Re: ` before it, whatever stood there in whichever language."""
    while (found := _RE.match(subject)) is not None:
        subject = subject[found.end() :]
    return f"Re: {subject}".rstrip()


def references(original: bytes) -> tuple[str | None, tuple[str, ...]]:
    """Return In-Reply-To and References of a reply to a message (RFC 5322, section 3.6.4).

    Args:
        original: the message answered.

    Returns:
        Its Message-ID, None where it has none, and its references (else its only In-Reply-To) with that behind them.
    """
    headers = BytesHeaderParser(policy=compat32).parsebytes(original)

    def ids(name: str) -> list[str]:
        return _ID.findall(str(headers.get(name, "")))

    parent = next(iter(ids("Message-ID")), None)
    answered = ids("In-Reply-To")
    before = ids("References") or (answered if len(answered) == 1 else [])
    chain = list(dict.fromkeys([*before, *([parent] if parent else [])]))
    if len(chain) > _MOST_REFERENCES:
        chain = [chain[0], *chain[1 - _MOST_REFERENCES :]]
    return parent, tuple(chain)


def _sender(message: MessageRecord, settings: Settings) -> Mailbox:
    """Return whom to ask."""
    if not settings.shop_addresses:
        raise SettingsFaulty("The settings name no address of the shop.", "Add shop_addresses to counterfoil.toml.")
    sender = message.sender
    if sender is None or "@" not in sender.address:
        raise UsageProblem(f"{message.id} names no sender to reply to.", "Look at it with `counterfoil triage show`.")
    if _NOBODY.fullmatch(sender.address.strip().partition("@")[0]):
        raise UsageProblem(f"Nobody reads what is sent to {sender.address}.", "Ask the customer whom it is about.")
    if sender.address.strip().lower() in {own.strip().lower() for own in settings.shop_addresses}:
        raise UsageProblem(f"{message.id} was sent by the shop itself.", "Ask the customer whom it is about.")
    return replace(sender, address=plain_address(sender.address))


def plain_address(address: str) -> str:
    """Return an address as every server takes it: a dot-atom in ASCII (RFC 5322, section 3.4.1), the domain in the form
    of RFC 5890 where it has other letters.

    Raises:
        UsageProblem: it is none such.
    """
    local, _, domain = address.strip().rpartition("@")
    try:
        wire = domain.encode("idna")
        # Python knows the older rules (RFC 3490), which make another domain of some letters: ß becomes ss.
        same = domain.isascii() or wire.decode("idna").lower() == unicodedata.normalize("NFC", domain).lower()
        plain = f"{local}@{wire.decode('ascii')}" if same else ""
    except UnicodeError:
        plain = ""
    if not _ADDRESS.fullmatch(plain):
        raise UsageProblem(f"{address} cannot be written to.", "Ask the customer another way.")
    return plain


def _mail(original: bytes, settings: Settings, to: Mailbox, when: datetime) -> EmailMessage:
    """Return a message with its headers but for subject and language."""
    mail = EmailMessage(policy=SMTP)
    own = plain_address(settings.shop_addresses[0])
    mail["From"] = Address(display_name=_one_line(settings.shop_name), addr_spec=own)
    mail["To"] = Address(display_name=_one_line(to.name), addr_spec=to.address)
    mail["Date"] = when
    own_id = hashlib.sha256(original + when.isoformat().encode()).hexdigest()[:32]
    mail["Message-ID"] = f"<{own_id}@{own.rpartition('@')[2]}>"
    return mail


def _thread(original: bytes) -> bytes:
    """Return the header lines that put a reply into the thread, one identifier a line.

    Written by hand: the library would encode a long identifier as if it were text, and break the thread.
    """
    parent, chain = references(original)
    lines = [] if parent is None else [f"In-Reply-To: {parent}"]
    if chain:
        lines.append("References: " + "\r\n ".join(chain))
    return "".join(f"{line}\r\n" for line in lines).encode("ascii")


# --- the text -------------------------------------------------------------------------------------


def languages() -> tuple[str, ...]:
    """Return the codes of the languages with texts (ISO 639-1), the one used where there is none first."""
    folder = resources.files("counterfoil.answers") / "reply_texts"
    found = {name.removesuffix(".toml") for entry in folder.iterdir() if (name := entry.name).endswith(".toml")}
    return (DEFAULT_LANGUAGE, *sorted(found - {DEFAULT_LANGUAGE}))


def shipped_texts(language: str) -> str:
    """Return the file with the texts of a language, as a pattern for one's own.

    Args:
        language: one of :func:`languages`.
    """
    return (resources.files("counterfoil.answers") / "reply_texts" / f"{language}.toml").read_text(encoding="utf-8")


def load_texts(language: str | None, own: Path) -> tuple[str, Texts]:
    """Return the texts of a language, English where there are none.

    Args:
        language: ISO 639-1 code, None where it is not known.
        own: the archive's folder of texts; need not exist.

    Returns:
        The language taken and its texts: plain names, and ``questions.CODE`` and ``kinds.KIND``.

    Raises:
        SettingsFaulty: a file of the archive is no TOML or names what there is not.
    """
    shipped = resources.files("counterfoil.answers") / "reply_texts"
    name = (language or DEFAULT_LANGUAGE).lower()
    if not (shipped / f"{name}.toml").is_file() and not (own / f"{name}.toml").is_file():
        name = DEFAULT_LANGUAGE
    known = _flat((shipped / f"{DEFAULT_LANGUAGE}.toml").read_text(encoding="utf-8"), "en.toml")
    texts = dict(known)
    if (shipped / f"{name}.toml").is_file():
        texts |= _flat((shipped / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")
    path = own / f"{name}.toml"
    if path.is_file():
        try:
            changed = _flat(path.read_text(encoding="utf-8"), str(path))
        except (OSError, UnicodeDecodeError) as error:
            raise SettingsFaulty(f"{path} cannot be read: {error}.") from error
        strange = sorted(set(changed) - set(known))
        if strange:
            raise SettingsFaulty(f"{path} names texts that there are not: {', '.join(strange)}.")
        texts |= changed
    return name, texts


def _flat(toml: str, path: str) -> dict[str, str]:
    try:
        raw = tomllib.loads(toml)
    except tomllib.TOMLDecodeError as error:
        raise SettingsFaulty(f"{path} cannot be read: {error}.") from error
    found: dict[str, object] = {}
    for name, value in raw.items():
        found |= {f"{name}.{k}": v for k, v in value.items()} if isinstance(value, dict) else {name: value}
    wrong = [name for name, value in found.items() if not isinstance(value, str)]
    if wrong:
        raise SettingsFaulty(f"{path}: {', '.join(wrong)} must be text.")
    return {name: str(value) for name, value in found.items()}


def _text(message: MessageRecord, questions: list[Question], texts: Texts, settings: Settings, subject: str) -> str:
    name = _spoken(message.sender.name if message.sender else "")
    values = {"shop": _one_line(settings.shop_name), "name": name, "subject": subject}
    values["day"] = (message.received or message.kept)[:10]
    blocks = [_filled(texts, "greeting" if name else "greeting_unnamed", values), _filled(texts, "opening", values)]
    for question in questions:
        more = {"what": _what(question, message, texts), "document": _document(question, message)}
        blocks.append(_filled(texts, f"questions.{question.code}", values | more))
    blocks += [_filled(texts, "closing", values), _filled(texts, "signature", values)]
    lines = [
        textwrap.fill(line, _WIDTH_CHARS, break_long_words=False, break_on_hyphens=False)
        for block in dict.fromkeys(blocks)
        for line in [*block.splitlines(), ""]
    ]
    return "\n".join(lines).rstrip() + "\n"


def _document(question: Question, message: MessageRecord) -> str:
    """Return the file name of the document that a question is about, empty where it is about none."""
    names = [d.name.partition(":")[2] or d.name for d in message.documents if d.problem or d.name.startswith(_SEEN)]
    return _one_line(max((name for name in names if name in question.sentence), key=len, default=""))


def _what(question: Question, message: MessageRecord, texts: Texts) -> str:
    """Return the kinds of values that a question is about in the language of the texts; of dates also the readings."""
    kinds = list(kinds_in(question)) or [*_UNNAMED.get(question.code, (Kind.MACHINE_ID,))]
    words = [_kind(kind, message, texts) for kind in kinds]
    if kinds[:2] == [Kind.MACHINE_ID, Kind.SERIAL_NUMBER] and "machine ID or serial number" in question.sentence:
        words[:2] = [f"{words[0]} {texts['or']} {words[1]}"]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {texts['and']} {words[-1]}"


def _kind(kind: Kind, message: MessageRecord, texts: Texts) -> str:
    word = texts[f"kinds.{kind.value}"]
    if kind not in DATE_KINDS:
        return word
    facts = [n.fact for n in message.facts if n.fact.kind is kind]
    days = dict.fromkeys(day for f in facts for day in (f.readings or (f.normal,)))
    between = f" {texts['or']} "
    return f"{word} ({between.join(days)})" if len(days) > 1 else word


def _filled(texts: Texts, name: str, values: Mapping[str, str]) -> str:
    try:
        return texts[name].format_map(values)
    except (KeyError, ValueError, IndexError, AttributeError) as error:
        raise SettingsFaulty(
            f"The text `{name}` of the replies has a placeholder that there is not: {error}."
        ) from error


def _spoken(name: str) -> str:
    """Return a display name as one is greeted: without address, given name before the family name."""
    name = _one_line(name)
    if "@" in name:
        return ""
    family, comma, given = name.partition(",")
    return f"{given.strip()} {family.strip()}".strip() if comma and given.strip() else name.strip(" ,")


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
