"""A draft mail with a machine's codes, in the holder's language, to an address on file of the present holder only.

The texts stand in `reply_texts/*.toml` under `restore`. Nothing is sent; the draft is a file that a mail program opens.
It says what to enter and the cautions, not who asked or why: that stays in the journal.
"""

from __future__ import annotations

import hashlib
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.answers.guides import EntryGuide, guide_for
from counterfoil.answers.replies import Texts, load_texts, plain_address
from counterfoil.answers.restore import RestoreSheet
from counterfoil.answers.restore_giving import NOT_STATED, KnownBy, Way, on_file
from counterfoil.answers.steps import Step
from counterfoil.errors import NeedsALook, SettingsFaulty, UsageProblem
from counterfoil.model import Kind
from counterfoil.patterns.normal import normal_email

if TYPE_CHECKING:
    from counterfoil.records.store import Store
    from counterfoil.settings import Settings

DRAFT_ACTION = "draft codes"
_WIDTH_CHARS = 72


@dataclass(frozen=True, slots=True)
class CodesMail:
    """A draft: whom it goes to, its subject, language and text, and the whole as RFC 5322 bytes (``data``)."""

    to: str
    subject: str
    language: str
    text: str
    data: bytes


def sender_of(settings: Settings) -> str:
    """Return the shop's own address, which a draft comes from.

    Raises:
        SettingsFaulty: the settings name none.
        UsageProblem: it is none that every server takes.
    """
    if not settings.shop_addresses:
        raise SettingsFaulty("The settings name no address of the shop.", "Add shop_addresses to counterfoil.toml.")
    return plain_address(settings.shop_addresses[0])


def address_for(store: Store, customer: str | None, to: str, known_by: KnownBy | None) -> str:
    """Return the address that the codes are written to: one on file of the present holder, and no other.

    Args:
        store: the records.
        customer: who has the machine now.
        to: the address asked for; empty takes the one the caller wrote from, else the only one on file.
        known_by: how the caller was known.

    Raises:
        UsageProblem: nobody said how the caller was known, several addresses are on file, or it cannot be written to.
        NeedsALook: nobody has the machine, no address is on file, or the one asked for is not.
    """
    if known_by is None:
        raise UsageProblem("A draft with codes needs to know how the caller was known.", "Add --known-by WAY.")
    if customer is None:
        raise NeedsALook("Nobody has the machine now: there is nobody to write to.", "Note who has it: `handover`.")
    found = on_file(store.customer(customer), Kind.EMAIL_ADDRESS)
    if not found:
        raise NeedsALook(f"No e-mail address of {customer} is on file.", "Give the codes out in another way.")
    wanted = normal_email(to) or to.strip() if to else ""
    if not wanted and known_by.way is Way.EMAIL and known_by.contact in found:
        wanted = known_by.contact
    if not wanted and len(found) > 1:
        raise UsageProblem(
            f"{customer} has several addresses on file: {', '.join(found.values())}.", "Add --to ADDRESS."
        )
    wanted = wanted or next(iter(found))
    if wanted not in found:
        raise NeedsALook(
            f"{to} is not on file of {customer}, who has the machine now: no codes are written to it.",
            f"On file: {', '.join(found.values())}.",
        )
    # Before anything is shown: an address that cannot be written to must not cost a reveal.
    plain_address(found[wanted])
    return found[wanted]


def draft_codes(
    store: Store,
    settings: Settings,
    sheet: RestoreSheet,
    to: str,
    guides: Iterable[EntryGuide] = (),
    *,
    own_texts: Path,
    when: datetime,
) -> CodesMail:
    """Draft the mail.

    Args:
        store: the records.
        settings: the shop's name, and its first address as the sender.
        sheet: with its codes revealed.
        to: from :func:`address_for`.
        guides: what the makers say about entering codes.
        own_texts: the archive's folder of texts; need not exist.
        when: the date of the mail.

    Raises:
        UsageProblem: the codes are masked, nobody said how the caller was known, or there is no code to enter.
        SettingsFaulty: the settings name no address of the shop, or a text is wrong.
    """
    given = sheet.revealed
    if given is None or given.known_by == NOT_STATED or sheet.customer is None:
        raise UsageProblem("A draft with codes needs them revealed and the caller known.", "Add --reveal, --known-by.")
    if not any(upgrade.usable for upgrade in sheet.upgrades):
        raise UsageProblem(
            f"{sheet.machine} has no code that may be entered.", "Print the sheet: it says what to ask for."
        )
    sender_of(settings)
    language, texts = load_texts(_language(store, sheet), own_texts)
    values = _values(sheet, settings, guide_for(sheet.maker, guides))
    text, subject = _text(sheet, texts, values), _filled(texts, "restore.subject", values)
    mail = _mail(settings, sheet.holder or "", to, when)
    mail["Subject"] = subject
    mail.set_content(text, cte="quoted-printable")
    mail["Content-Language"] = language
    return CodesMail(to, subject, language, text, mail.as_bytes(policy=SMTP))


def note_draft(store: Store, sheet: RestoreSheet, mail: CodesMail) -> str:
    """Write into the journal that a draft with codes was written, to whom; return the line's id."""
    if sheet.revealed is None:
        raise UsageProblem("A draft holds no codes where they are masked.", "Add --reveal --reason TEXT.")
    detail = {"to": mail.to, "known_by": sheet.revealed.known_by, "language": mail.language}
    return store.note(sheet.revealed.who, DRAFT_ACTION, sheet.machine, sheet.revealed.reason, detail)


def _mail(settings: Settings, name: str, to: str, when: datetime) -> EmailMessage:
    mail = EmailMessage(policy=SMTP)
    own = sender_of(settings)
    try:
        mail["From"] = Address(display_name=_one_line(settings.shop_name), addr_spec=own)
        mail["To"] = Address(display_name=_one_line(name), addr_spec=plain_address(to))
    except (ValueError, IndexError) as error:
        raise UsageProblem(f"{own} or {to} cannot be written to: {error}.") from error
    mail["Date"] = when
    unique = hashlib.sha256(f"{to} {when.isoformat()}".encode()).hexdigest()[:32]
    mail["Message-ID"] = f"<{unique}@{own.rpartition('@')[2]}>"
    return mail


def _language(store: Store, sheet: RestoreSheet) -> str | None:
    """Return the language of the holder's newest message about the machine, None where none is known."""
    messages = (store.message(ref) for ref in store.machine(sheet.machine).messages)
    known = [(m.received or m.kept, m.language) for m in messages if m.customer == sheet.customer and m.language]
    return max(known)[1] if known else None


def _values(sheet: RestoreSheet, settings: Settings, guide: EntryGuide) -> dict[str, str]:
    machine = " ".join(text for text in (sheet.maker, sheet.model) if text) or sheet.machine
    asked = ", ".join(dict.fromkeys(upgrade.title for upgrade in sheet.upgrades if upgrade.ask))
    return {
        "shop": _one_line(settings.shop_name),
        "name": _one_line(sheet.holder or ""),
        "machine": machine,
        "machine_id": sheet.machine_id or "",
        "version": sheet.needs_firmware or "",
        "where": guide.where,
        "upgrades": asked,
    }


def _text(sheet: RestoreSheet, texts: Texts, values: dict[str, str]) -> str:
    """Return the text: greeting, what to do first, the codes, what is missing, cautions."""
    before = [
        "greeting" if values["name"] else "greeting_unnamed",
        "restore.opening",
        *(["restore.machine_id"] if values["machine_id"] else []),
        "restore.save",
        *(["restore.firmware"] if values["version"] else []),
        "restore.enter_where" if values["where"] else "restore.enter",
    ]
    after = [*(["restore.asked"] if values["upgrades"] else []), "restore.care", "restore.closing", "signature"]
    codes = [_codes(step, texts) for step in sheet.steps if step.title and step.entries and not step.barred]
    blocks = [_wrapped(_filled(texts, name, values)) for name in before]
    blocks += [*codes, *(_wrapped(_filled(texts, name, values)) for name in after)]
    return "\n\n".join(blocks) + "\n"


def _codes(step: Step, texts: Texts) -> str:
    """Return what is entered for one upgrade, in the maker's order."""
    return "\n".join([step.title, *(f"    {texts[f'kinds.{e.kind.value}']}: {e.code}" for e in step.entries)])


def _wrapped(block: str) -> str:
    lines = block.splitlines()
    return "\n".join(
        textwrap.fill(line, _WIDTH_CHARS, break_long_words=False, break_on_hyphens=False) for line in lines
    )


def _filled(texts: Texts, name: str, values: dict[str, str]) -> str:
    try:
        return texts[name].format_map(values)
    except (KeyError, ValueError, IndexError, AttributeError) as error:
        raise SettingsFaulty(f"The text `{name}` has a placeholder that there is not: {error}.") from error


def _one_line(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
