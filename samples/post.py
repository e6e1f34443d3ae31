"""A sample: the bytes of a message and what a careful clerk would say of it.

Four ways in which a confirmation reaches the shop: forwarded inside the text, forwarded as an attached message,
straight from the maker with the shop in Cc, typed off by the customer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from urllib.parse import quote as percent

import mime
from bodies import letter, letter_html, page
from forwards import HTML_STYLES, STYLES, Head
from papers import paper
from words import HEADS
from world import PEOPLE, SHOP, SHOP_NAME, Confirmation, Person

Box = tuple[str, str]
SHOP_BOX = mime.mailbox(SHOP_NAME, SHOP)


@dataclass(frozen=True)
class Sample:
    """One message; ``arrives`` orders the mailbox, ``expected`` is what filing should make of it."""

    slug: str
    arrives: datetime
    data: bytes
    expected: dict[str, object]


@dataclass(frozen=True)
class Mail:
    """How a mail is written: who sends it, note above, character set, encoding, attachments."""

    by: Box | None = None
    note: str = ""
    charset: str = "utf-8"
    how: str = "8bit"
    words: str = "Q"
    crlf: bool = False
    zone: str = "+0100"
    subject: str = ""
    language: str = ""
    pdf: str = ""
    pdf_name: str = "confirmation.pdf"
    pdf_type: str = "application/pdf"
    pdf_of: Confirmation | None = None
    files: tuple[bytes, ...] = ()
    fields: tuple[tuple[str, str], ...] = ()
    alternative: bool = False
    logo: bytes = b""


@dataclass(frozen=True)
class Say:
    """What is expected: questions that keep it open (none: filed), or facts that cannot be told."""

    questions: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    more: dict[str, str] = field(default_factory=dict)


FILED = Say()
PLAIN = Mail()


def at(text: str) -> datetime:
    """Return the moment written as 2025-01-31 09:45."""
    return datetime.fromisoformat(text)


def expected(say: Say, person: Person | None, machine: str | None, facts: dict[str, str]) -> dict[str, object]:
    """Return what is expected of a confirmation."""
    facts = {k: v for k, v in (facts | say.more).items() if k not in say.unknown}
    filed = not say.questions
    return {
        "standing": "filed" if filed else "open",
        "questions": sorted(say.questions),
        "customer": person.key if filed and person else None,
        "machine": machine if filed else None,
        "facts": dict(sorted(facts.items())),
    }


def aside(slug: str, when: str, fields: Sequence[tuple[str, str]], entity: bytes, crlf: bool = False) -> Sample:
    """Return a message that is no confirmation; Date and To are added where ``fields`` has none."""
    have = {name.lower() for name, _ in fields}
    moment = at(when)
    more = [("Date", mime.mail_date(moment))] if "date" not in have else []
    more += [("To", SHOP)] if "to" not in have else []
    more += [("Message-ID", f"<{slug}@mail.example>")] if "message-id" not in have else []
    nothing: dict[str, object] = {"standing": "aside", "questions": [], "customer": None, "machine": None, "facts": {}}
    return Sample(slug, moment, mime.message([*fields, *more], entity, crlf), nothing)


def maker_box(c: Confirmation) -> Box:
    """Return the maker's name and address as sender."""
    return c.machine.maker.sender


def customer_box(c: Confirmation) -> Box:
    """Return name and address of the customer as the maker knows them."""
    return c.values.get("customer_name", c.person.name), c.values.get("email_address", c.person.email)


def _attached(c: Confirmation, mail: Mail, slug: str) -> list[bytes]:
    parts = []
    if mail.pdf:
        data = paper(mail.pdf_of or c, mail.pdf)
        ascii_name = mail.pdf_name if mail.pdf_name.isascii() else ""
        more = ""
        if mail.pdf_name and not ascii_name:
            more = f"Content-Disposition: attachment; filename*=UTF-8''{percent(mail.pdf_name)}\n"
        parts.append(mime.file_part(data, mail.pdf_type, ascii_name, "" if more else "attachment", more))
    return parts + list(mail.files)


def _entity(text: str, html: str, c: Confirmation, mail: Mail, slug: str) -> bytes:
    boundary = f"=_{slug.replace('-', '_')}"
    parts = []
    if text:
        parts.append(mime.text_part(text, "plain", mail.charset, mail.how))
    if html:
        shown = mime.text_part(page(html), "html", mail.charset, mail.how)
        if mail.logo:
            more = "Content-ID: <logo@maker.example>\n"
            picture = mime.file_part(mail.logo, "image/png", "logo.png", "inline", more)
            shown = mime.multipart("related", [shown, picture], boundary + "_rel")
        parts.append(shown)
    body = parts[0] if len(parts) == 1 else mime.multipart("alternative", parts, boundary + "_alt")
    files = _attached(c, mail, slug)
    return mime.multipart("mixed", [body, *files], boundary) if files else body


def _fields(
    slug: str, sender: Box, to: str, when: datetime, subject: str, mail: Mail, cc: str = ""
) -> list[tuple[str, str]]:
    out = [*mail.fields, ("From", mime.mailbox(*sender, mail.charset, mail.words)), ("To", to)]
    out += [("Cc", cc)] if cc else []
    out += [("Subject", mime.encoded(subject, mail.charset, mail.words))]
    out += [("Date", mime.mail_date(when, mail.zone)), ("Message-ID", f"<{slug}@{sender[1].split('@')[1]}>")]
    return out


def _facts(c: Confirmation, body: str, mail: Mail, head: bool, maker: bool = True) -> dict[str, str]:
    """Return every fact that stands in the message: the maker is named in its address too."""
    facts: dict[str, str] = {}
    if body != "attached":
        facts |= c.facts
    if mail.pdf:
        facts |= (mail.pdf_of or c).facts
    if head:
        name, address = customer_box(c)
        facts |= {"customer_name": name, "email_address": address}
    # The opening line of every letter names model and upgrade; the sender is the maker.
    if body != "attached":
        facts |= {"model": c.normals["model"], "upgrade_name": c.normals["upgrade_name"]}
    return facts | ({"maker": c.machine.maker.name} if maker else {})


def forwarded(
    slug: str,
    when: str,
    c: Confirmation,
    style: str,
    layout: str = "lines",
    mail: Mail = PLAIN,
    say: Say = FILED,
    html: str = "",
    via: tuple[str, str, Box] | None = None,
) -> Sample:
    """Return a forward inside the text.

    Args:
        slug: names the sample.
        when: moment of the forward.
        c: what the maker confirmed.
        style: shape of the forward, a name of STYLES, or of HTML_STYLES where ``html`` is given.
        layout: layout of the maker's text.
        mail: how the mail is written.
        say: what is expected.
        html: layout of the maker's HTML; the forward is then HTML only.
        via: style, moment and forwarder of an earlier forward inside this one.
    """
    by = mail.by or (c.person.name, c.person.email)
    language = mail.language or c.person.language
    moment = at(when)
    subject = c.say("subject")
    head = Head(maker_box(c), customer_box(c), c.sent, subject)
    prefix = HEADS[language]["fwd"]
    text = inside = ""
    if html:
        inside = f"<p>{mail.note.replace(chr(10), '<br>')}</p>\n" + HTML_STYLES[style](
            head, language, letter_html(c, html)
        )
    else:
        text = letter(c, layout)
        if via is not None:
            text = STYLES[via[0]](head, language, text)
            subject = f"{prefix}: {subject}"
            head = Head(via[2], by, at(via[1]), subject)
        text = (mail.note + "\n\n" if mail.note else "") + STYLES[style](head, language, text)
    fields = _fields(slug, by, SHOP_BOX, moment, mail.subject or f"{prefix}: {subject}", mail)
    data = mime.message(fields, _entity(text, inside, c, mail, slug), mail.crlf)
    facts = _facts(c, html or layout, mail, head=style != "wrote" or via is not None)
    return Sample(slug, moment, data, expected(say, c.person, c.machine.key, facts))


def direct(
    slug: str, c: Confirmation, layout: str = "lines", mail: Mail = PLAIN, say: Say = FILED, html: str = ""
) -> Sample:
    """Return the maker's own message with the shop in Cc; with ``html`` HTML only, unless ``alternative`` is set."""
    text = letter(c, layout) if not html or mail.alternative else ""
    inside = letter_html(c, html, "logo@maker.example" if mail.logo else "") if html else ""
    to = mime.mailbox(*customer_box(c), mail.charset, mail.words)
    fields = _fields(slug, maker_box(c), to, c.sent, mail.subject or c.say("subject"), mail, SHOP_BOX)
    data = mime.message(fields, _entity(text, inside, c, mail, slug), mail.crlf)
    return Sample(slug, c.sent, data, expected(say, c.person, c.machine.key, _facts(c, html or layout, mail, True)))


def attached(
    slug: str,
    when: str,
    c: Confirmation,
    layout: str = "lines",
    mail: Mail = PLAIN,
    say: Say = FILED,
    html: str = "",
    how: str = "7bit",
    name: str = "",
) -> Sample:
    """Return a forward that carries the maker's message whole, as a message/rfc822 part."""
    by = mail.by or (c.person.name, c.person.email)
    inner_mail = Mail(pdf=mail.pdf, pdf_name=mail.pdf_name, how="quoted-printable")
    inner_text, inside = ("", letter_html(c, html)) if html else (letter(c, layout), "")
    to = mime.mailbox(*customer_box(c))
    inner = mime.message(
        _fields(slug + ".inner", maker_box(c), to, c.sent, c.say("subject"), inner_mail),
        _entity(inner_text, inside, c, inner_mail, slug + "-inner"),
    )
    subject = mail.subject or f"{HEADS[c.person.language]['fwd']}: {c.say('subject')}"
    parts = [mime.text_part(mail.note + "\n", "plain", mail.charset, mail.how), mime.message_part(inner, how, name)]
    entity = mime.multipart("mixed", [*parts, *mail.files], f"=_{slug}")
    data = mime.message(_fields(slug, by, SHOP_BOX, at(when), subject, mail), entity, mail.crlf)
    facts = _facts(c, html or layout, mail, True)
    return Sample(slug, at(when), data, expected(say, c.person, c.machine.key, facts))


def typed(
    slug: str,
    when: str,
    person: str,
    subject: str,
    facts: dict[str, str],
    mail: Mail,
    say: Say = FILED,
    machine: str | None = None,
) -> Sample:
    """Return a mail that the customer wrote: ``mail.note`` is its text, ``mail.files`` its attachments."""
    who = PEOPLE[person]
    by = mail.by or (who.name, who.email)
    body = mime.text_part(mail.note + "\n", "plain", mail.charset, mail.how)
    entity = mime.multipart("mixed", [body, *mail.files], f"=_{slug}") if mail.files else body
    data = mime.message(_fields(slug, by, SHOP_BOX, at(when), subject, mail), entity, mail.crlf)
    if not {"document_unreadable", "code_read_by_eye"} & set(say.questions):
        # Where the confirmation itself cannot be read, or only by eye, who sent it tells nothing of whom it names.
        facts = {"customer_name": by[0], "email_address": by[1]} | facts
    return Sample(slug, at(when), data, expected(say, who, machine, facts))
