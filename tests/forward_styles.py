"""Forwards as people's mail looks like, one message a style, with what must be read from each.

The words of mail programs are common practice, no source, from memory; dates are written by Babel after CLDR. Names and
addresses are invented. What is expected is what was put in: nothing here asks the reader.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage

from babel.dates import format_datetime
from forward_texts import LANGUAGES

MOMENT = datetime(2025, 3, 4, 10, 12, tzinfo=UTC)
ABOVE = "Please keep this with my papers."


@dataclass(frozen=True, slots=True)
class Inner:
    """A forwarded message: what its header block says, and its text.

    ``parent`` counts the layers of the whole message from 0, the message as received.
    """

    sender: tuple[str, str] = ("Kestrelle Upgrades", "noreply@kestrelle.example")
    to: tuple[tuple[str, str], ...] = (("Marit Solvang", "marit@solvang.example"),)
    date: datetime | None = MOMENT
    subject: str = "Your activation code"
    text: str = "Machine ID: HG-482913-K\nActivation code: 7K2M-QQ4X-19ZB\n\nKeep this mail for the warranty."
    cc: tuple[tuple[str, str], ...] = ()
    parent: int = 0


@dataclass(frozen=True, slots=True)
class Style:
    """One message: its bytes, the text above the first forward, and the forwards from the outermost on."""

    name: str
    data: bytes
    inner: tuple[Inner, ...]
    above: str = ABOVE


def when(moment: datetime | None, language: str, form: str = "long") -> str:
    """Write a date with its time as the language does (CLDR)."""
    if moment is None:
        return ""
    day = {"long": "d MMMM y", "full": "EEEE d MMMM y"}[form]
    if language == "en":
        day = {"long": "MMMM d, y", "full": "EEEE, MMMM d, y"}[form]
    if language in ("de", "da", "nb", "fi", "cs"):
        day = day.replace("d M", "d. M")
    if language in ("es", "pt"):
        day = day.replace("d MMMM y", "d 'de' MMMM 'de' y")
    if language == "ja":
        return format_datetime(moment, "y年M月d日(EEE) HH:mm", locale="ja")
    clock = "H.mm" if language in ("da", "fi") else "HH:mm"
    if language == "en":
        return format_datetime(moment, f"{day} 'at' h:mm a", locale="en").replace("\u202f", " ")
    return (
        format_datetime(moment, day, locale=language)
        + LANGUAGES[language].clock
        + moment.strftime("%H.%M" if clock == "H.mm" else "%H:%M")
    )


def box(mailbox: tuple[str, str]) -> str:
    """Write a mailbox: Name <address>."""
    name, address = mailbox
    return f"{name} <{address}>" if name and address else name or address


def boxes(mailboxes: tuple[tuple[str, str], ...], sign: str = ", ") -> str:
    """Write several."""
    return sign.join(map(box, mailboxes))


Block = list[tuple[str, str]]


def block(inner: Inner, language: str, *, sent: bool = False, form: str = "long") -> Block:
    """Return the header block: subject last with "Sent", date second without."""
    w = LANGUAGES[language]
    date = (w.sent if sent else w.date, when(inner.date, language, form))
    cc = [(w.cc, boxes(inner.cc, "; " if sent else ", "))] if inner.cc else []
    subject = (w.subject, inner.subject)
    to = (w.to, boxes(inner.to, "; " if sent else ", "))
    sender = (w.sender, box(inner.sender))
    return [sender, date, to, *cc, subject] if sent else [sender, date, subject, to, *cc]


def lines(rows: Block, *, colon: str = ": ", mark: str = "") -> str:
    """Write a header block, a field a line."""
    return "\n".join(f"{mark}{word}{mark}{colon}{value}".rstrip() for word, value in rows)


def quoted(text: str, mark: str = "> ") -> str:
    """Quote a text."""
    return "\n".join(f"{mark}{line}".rstrip() for line in text.split("\n"))


def mail(text: str, rich: str | None = None) -> EmailMessage:
    """Return the message as received, from the customer to the desk."""
    message = EmailMessage()
    message["From"] = "Marit Solvang <marit@solvang.example>"
    message["To"] = "support@threadneedle.example"
    message["Date"] = "Wed, 05 Mar 2025 08:00:00 +0000"
    message["Subject"] = "Fwd: Your activation code"
    message.set_content(text, cte="8bit") if text else None
    if rich is not None:
        message.add_alternative(rich, subtype="html") if text else message.set_content(rich, subtype="html")
    return message


# --- forms -----------------------------------------------------------------------------------------------------------


def dashed(language: str, inner: Inner) -> str:
    """A line between dashes, then From, Date, Subject, To."""
    return f"---------- {LANGUAGES[language].forwarded} ---------\n{lines(block(inner, language))}\n\n\n{inner.text}\n"


def earlier(language: str, inner: Inner) -> str:
    """A line for an earlier message, then From, Sent, To, Subject, the date with its weekday."""
    rows = block(inner, language, sent=True, form="full")
    return f"-----{LANGUAGES[language].original}-----\n{lines(rows)}\n\n{inner.text}\n"


def announced(language: str, inner: Inner) -> str:
    """A line that announces it; header block and text quoted."""
    return (
        f"{LANGUAGES[language].begin}\n\n{quoted(lines(block(inner, language)) + f'{chr(10)}{chr(10)}{inner.text}')}\n"
    )


def ruled(language: str, inner: Inner) -> str:
    """A rule of underscores, then a block whose words stand between stars."""
    return f"________________________________\n{lines(block(inner, language, sent=True), mark='*')}\n\n{inner.text}\n"


def bare(language: str, inner: Inner) -> str:
    """A header block and nothing above it."""
    return f"{lines(block(inner, language, sent=True, form='full'))}\n\n{inner.text}\n"


def _rich_text(text: str) -> str:
    return "".join(f"<div>{html.escape(line) or '<br>'}</div>" for line in text.split("\n"))


def rich_rule(language: str, inner: Inner) -> str:
    """HTML: a box with a line above, bold words, a break after each field."""
    rows = "<br>".join(
        f"<b>{html.escape(word)}:</b> {html.escape(value)}" for word, value in block(inner, language, sent=True)
    )
    return (
        f'<div><p>{ABOVE}</p></div><div style="border:none;border-top:solid 1pt #ccc;padding:3pt 0 0 0"><p>{rows}</p>'
        f"</div><div>{_rich_text(inner.text)}</div>"
    )


def rich_table(language: str, inner: Inner) -> str:
    """HTML: a line between dashes and a table, a field a row."""
    rows = "".join(
        f"<tr><th align=right>{html.escape(word)}: </th><td>{html.escape(value)}</td></tr>"
        for word, value in block(inner, language)
    )
    line = f"-------- {LANGUAGES[language].forwarded} --------"
    return f"<p>{ABOVE}</p><div>{line}<table>{rows}</table><br>{_rich_text(inner.text)}</div>"


def rich_quote(language: str, inner: Inner) -> str:
    """HTML: announced, then all of it in a block quote, a field a div, addresses as links."""
    rows = "".join(
        f"<div><b>{html.escape(word)}: </b><span>{html.escape(value)}</span></div>"
        for word, value in block(inner, language)
    )
    begin = html.escape(LANGUAGES[language].begin)
    return (
        f"<div>{ABOVE}</div><br><div><blockquote type=cite><div>{begin}</div><br>{rows}<br>{_rich_text(inner.text)}"
        "</blockquote></div>"
    )


PLAIN_FORMS = (dashed, earlier, announced, ruled, bare)
RICH_FORMS = (rich_rule, rich_table, rich_quote)


def _by_language() -> Iterator[Style]:
    """Every language in every form: 14 times 8."""
    inner = Inner()
    for language in LANGUAGES:
        for form in PLAIN_FORMS:
            data = mail(f"{ABOVE}\n\n{form(language, inner)}").as_bytes()
            yield Style(f"{language} {form.__name__}", data, (inner,))
        for form in RICH_FORMS:
            yield Style(f"{language} {form.__name__}", mail("", form(language, inner)).as_bytes(), (inner,))


# --- by hand ---------------------------------------------------------------------------------------------------------


def _typed(name: str, head: str, inner: Inner, *, begin: str = "-----Original Message-----\n") -> Style:
    return Style(name, mail(f"{ABOVE}\n\n{begin}{head}\n\n{inner.text}\n").as_bytes(), (inner,))


def _heads() -> Iterator[Style]:
    """Header blocks that are hard to read."""
    inner = Inner()
    whole = {"From": box(inner.sender), "Sent": "4 March 2025 10:12", "To": boxes(inner.to), "Subject": inner.subject}

    def head(colon: str = ": ", **changed: str) -> str:
        return "\n".join(f"{word}{colon}{value}" for word, value in (whole | changed).items())

    yield _typed("address wrapped", head(From="Kestrelle Upgrades\n<noreply@kestrelle.example>"), inner)
    yield _typed(
        "address twice",
        head(From="Kestrelle Upgrades <noreply@kestrelle.example<mailto:noreply@kestrelle.example>>"),
        inner,
    )
    yield _typed("address in brackets", head(From="Kestrelle Upgrades [mailto:noreply@kestrelle.example]"), inner)
    yield _typed(
        "address alone",
        head(From="noreply@kestrelle.example"),
        replace(inner, sender=("", "noreply@kestrelle.example")),
    )
    yield _typed(
        "address between bars",
        head(From="<noreply@kestrelle.example>"),
        replace(inner, sender=("", "noreply@kestrelle.example")),
    )
    yield _typed(
        "name with a comma",
        head(To='"Solvang, Marit" <marit@solvang.example>'),
        replace(inner, to=(("Solvang, Marit", "marit@solvang.example"),)),
    )
    yield _typed("name between quotes", head(To="'Marit Solvang' <marit@solvang.example>"), inner)
    yield _typed("wide colons", head("："), inner)
    yield _typed("spaces that do not break", head("\u00a0: "), inner)
    yield _typed("spaces before the colon", head(" :\t"), inner)
    yield _typed("fields indented", head().replace("\n", "\n  ").replace("From", "  From", 1), inner)
    yield _typed("marks of direction", "\u200e" + head(": \u200e").replace("\n", "\n\u200e"), inner)
    yield _typed(
        "small letters",
        "\n".join(line.partition(":")[0].lower() + ":" + line.partition(":")[2] for line in head().split("\n")),
        inner,
    )
    long = "Your activation code for the embroidery upgrade with two hundred and forty new stitch patterns inside"
    yield _typed(
        "subject wrapped",
        head(Subject=long.replace(" with two ", "\nwith two ")) + "\nImportance: High",
        replace(inner, subject=long),
    )
    yield _typed("subject missing", head().rpartition("\n")[0], replace(inner, subject=""))
    yield _typed("subject empty", head(Subject=""), replace(inner, subject=""))
    yield _typed("date of a machine", head(Sent="2025-03-04T10:12:00+00:00"), inner)
    yield _typed("date with a zone", head(Sent="Tue, 4 Mar 2025 11:12:00 +0100 (CET)"), inner)
    yield _typed("date with half a day", head(Sent="Tuesday, March 4, 2025 10:12:00 AM"), inner)
    yield _typed("an empty row after each field", head().replace("\n", "\n\n"), inner)
    two = (("Marit Solvang", "marit@solvang.example"), ("", "ola@solvang.example"))
    yield _typed(
        "two recipients", head(To="Marit Solvang <marit@solvang.example>; ola@solvang.example"), replace(inner, to=two)
    )
    yield _typed(
        "two recipients wrapped",
        head(To="Marit Solvang <marit@solvang.example>,\n\tola@solvang.example"),
        replace(inner, to=two),
    )
    copied = replace(inner, cc=(("Till Anker", "till@anker.example"), ("", "b@two.example")))
    yield _typed(
        "copies", head().replace("\nSubject", "\nCc: Till Anker <till@anker.example>; b@two.example\nSubject"), copied
    )
    yield _typed(
        "fields of no use between",
        head().replace("\nTo", "\nReply-To: help@kestrelle.example\nImportance: High\nTo"),
        inner,
    )
    yield _typed("an attachment is named", head() + "\nAttachments: confirmation.pdf", inner)
    yield _typed(
        "by whom, old", head(), inner, begin="----- Forwarded by Marit Solvang/Home on 05/03/2025 08:00 -----\n\n"
    )
    yield _typed("a line of equal signs", head(), inner, begin="======== Forwarded message ========\n")
    yield _typed("stars", head(), inner, begin="*---------- Forwarded message ---------*\n")
    yield _typed("begin in one line", head(), inner, begin="Begin forwarded message:\n")


def _quotes() -> Iterator[Style]:
    """Quotes, text around them, and lines as programs wrap them."""
    inner = Inner()
    whole = f"{lines(block(inner, 'en'))}\n\n{inner.text}"
    for mark in (">> ", "> > > ", ">", "| "):
        if mark != "| ":
            yield Style(
                f"quoted by {mark!r}",
                mail(f"{ABOVE}\n\nBegin forwarded message:\n\n{quoted(whole, mark)}\n").as_bytes(),
                (inner,),
            )
    yield Style(
        "separator quoted too", mail(f"{ABOVE}\n\n{quoted(dashed('en', inner).rstrip())}\n").as_bytes(), (inner,)
    )
    after = mail(f"{ABOVE}\n\nBegin forwarded message:\n\n{quoted(whole)}\n\nThank you, Marit\n").as_bytes()
    yield Style("text under the quote", after, (inner,), f"{ABOVE}\n\nThank you, Marit")
    yield Style("nothing above", mail(dashed("en", inner)).as_bytes(), (inner,), "")
    remark = "See below: the code is in it.\nFrom my phone"
    yield Style("a remark right above", mail(f"{remark}\n{earlier('en', inner)}").as_bytes(), (inner,), remark)
    both = mail(f"{ABOVE}\n\n{dashed('en', inner)}", rich_table("en", inner)).as_bytes()
    yield Style("plain and HTML", both, (inner,))
    crlf = mail(f"{ABOVE}\n\n{dashed('en', inner)}").as_bytes().replace(b"\n", b"\r\n")
    yield Style("line ends of the net", crlf, (inner,))
    message = mail("x")
    message.set_content(f"{ABOVE}\n\n{dashed('de', inner)}", charset="utf-8", cte="base64")
    yield Style("base64", message.as_bytes(), (inner,))
    message = mail("x")
    message.set_content(f"{ABOVE}\n\n{earlier('fr', inner)}", charset="iso-8859-1", cte="quoted-printable")
    yield Style("quoted printable, Latin", message.as_bytes(), (inner,))


def _message_of(inner: Inner, text: str) -> EmailMessage:
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = box(inner.sender), boxes(inner.to), inner.subject
    if inner.date is not None:
        message["Date"] = inner.date
    message.set_content(text)
    return message


def chain(depth: int) -> list[Inner]:
    """Return forwards in forwards: each was sent to whoever sent the one around it, a day earlier."""
    people = [(f"Person {n}", f"p{n}@solvang.example") for n in range(depth + 1)]
    people[0] = ("Marit Solvang", "marit@solvang.example")
    made = []
    for n in range(depth):
        date = MOMENT - timedelta(days=n)
        made.append(Inner(people[n + 1], (people[n],), date, f"Layer {n + 1}", f"This is layer {n + 1}.", parent=n))
    return made


def _nested() -> Iterator[Style]:
    """Forwards in forwards, attached, and side by side."""
    inner = Inner()
    for depth in (2, 3, 10):
        made = chain(depth)
        for name, form in (("plain", dashed), ("quoted", announced)):
            text = ""
            for one in reversed(made):
                text = form("en", replace(one, text=f"{one.text}\n\n{text}".strip()))
            yield Style(f"{depth} in each other, {name}", mail(f"{ABOVE}\n\n{text}").as_bytes(), tuple(made))
    message = mail(ABOVE)
    message.add_attachment(_message_of(inner, inner.text))
    yield Style("attached", message.as_bytes(), (inner,))
    outer = chain(1)[0]
    message = mail(ABOVE)
    message.add_attachment(_message_of(outer, f"{outer.text}\n\n{dashed('sv', replace(inner, parent=1))}"))
    yield Style("in a text that is attached", message.as_bytes(), (outer, replace(inner, parent=1)))
    inside = _message_of(outer, outer.text)
    inside.add_attachment(_message_of(inner, inner.text))
    message = mail(ABOVE)
    message.add_attachment(inside)
    yield Style("attached in what is attached", message.as_bytes(), (outer, replace(inner, parent=1)))
    second = replace(
        inner, subject="Your second code", text="Activation code: 9F3K-77AB-M2X5", date=MOMENT + timedelta(days=9)
    )
    plain = mail(f"{ABOVE}\n\n{dashed('en', inner)}\n{dashed('en', second)}").as_bytes()
    yield Style("two side by side", plain, (inner, second))
    marked = mail(f"{ABOVE}\n\n{announced('en', inner)}\n{announced('en', second)}").as_bytes()
    yield Style("two side by side, quoted", marked, (inner, second))
    third = replace(
        second, subject="Your third code", text="Activation code: 4K7F-2B2C-XX35", date=MOMENT - timedelta(days=40)
    )
    plain = mail(f"{ABOVE}\n\n{earlier('de', inner)}\n{earlier('de', second)}\n{earlier('de', third)}").as_bytes()
    yield Style("three side by side", plain, (inner, second, third))
    message = mail(ABOVE)
    message.add_attachment(_message_of(inner, inner.text))
    message.add_attachment(_message_of(second, second.text))
    yield Style("two attached", message.as_bytes(), (inner, second))


def styles() -> list[Style]:
    """Return all styles."""
    makers: tuple[Callable[[], Iterator[Style]], ...] = (_by_language, _heads, _quotes, _nested)
    return [style for make in makers for style in make()]
