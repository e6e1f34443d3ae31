"""Forwards inside the text, in the shapes that mail programs give them, in seven languages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from html import escape

from words import HEADS, long_date, sent_line, short_date


@dataclass(frozen=True)
class Head:
    """The header block of the forwarded message, as the forwarding program knew it."""

    sender: tuple[str, str]
    to: tuple[str, str]
    when: datetime
    subject: str
    cc: str = ""


def _box(who: tuple[str, str]) -> str:
    return f"{who[0]} <{who[1]}>" if who[0] else who[1]


_FORWARDED = {
    "en": "Forwarded message",
    "de": "Weitergeleitete Nachricht",
    "fr": "Message transféré",
    "nl": "Doorgestuurd bericht",
    "es": "Mensaje reenviado",
    "it": "Messaggio inoltrato",
    "sv": "Vidarebefordrat meddelande",
}
_ORIGINAL = {
    "en": "Original Message",
    "de": "Ursprüngliche Nachricht",
    "fr": "Message d'origine",
    "nl": "Oorspronkelijk bericht",
    "es": "Mensaje original",
    "it": "Messaggio originale",
    "sv": "Ursprungligt meddelande",
}
_BEGIN = {
    "en": "Begin forwarded message:",
    "de": "Anfang der weitergeleiteten Nachricht:",
    "fr": "Début du message réexpédié :",
    "nl": "Begin doorgestuurd bericht:",
    "es": "Inicio del mensaje reenviado:",
    "it": "Inizio messaggio inoltrato:",
    "sv": "Vidarebefordrat brev:",
}
_WROTE = {
    "en": "On {d} at {t}, {who} wrote:",
    "de": "Am {d} um {t} schrieb {who}:",
    "fr": "Le {d} à {t}, {who} a écrit :",
    "nl": "Op {d} om {t} schreef {who}:",
    "es": "El {d} a las {t}, {who} escribió:",
    "it": "Il giorno {d} alle ore {t} {who} ha scritto:",
    "sv": "Den {d} kl. {t} skrev {who}:",
}


def _colon(language: str) -> str:
    return " :" if language == "fr" else ":"


def quote(text: str) -> str:
    """Return the text with quote signs before its lines."""
    return "".join(f"> {line}\n" if line else ">\n" for line in text.splitlines())


def _rows(head: Head, language: str, *kinds: str, date: str = "") -> list[tuple[str, str]]:
    w = HEADS[language]
    values = {
        "from": _box(head.sender),
        "sent": date or sent_line(language, head.when),
        "date": date or sent_line(language, head.when),
        "to": _box(head.to),
        "cc": head.cc,
        "subject": head.subject,
    }
    return [(w[k], values[k]) for k in kinds if values[k]]


def _block(rows: list[tuple[str, str]], colon: str = ":") -> str:
    return "".join(f"{name}{colon} {value}\n" for name, value in rows)


def dashes(head: Head, language: str, text: str) -> str:
    """Ten and nine dashes around the words, four header lines."""
    rows = _rows(head, language, "from", "date", "subject", "to", "cc")
    return f"---------- {_FORWARDED[language]} ---------\n{_block(rows, _colon(language))}\n\n{text}"


def original(head: Head, language: str, text: str) -> str:
    """Five dashes around "original message", header lines in the office order."""
    rows = _rows(head, language, "from", "sent", "to", "cc", "subject")
    return f"-----{_ORIGINAL[language]}-----\n{_block(rows, _colon(language))}\n{text}"


def begin(head: Head, language: str, text: str) -> str:
    """A sentence, then everything quoted."""
    rows = _rows(
        head,
        language,
        "from",
        "subject",
        "date",
        "to",
        date=f"{long_date(language, head.when)} {head.when:%H:%M:%S} CET",
    )
    return f"{_BEGIN[language]}\n\n{quote(_block(rows, _colon(language)) + chr(10) + text)}"


def rule(head: Head, language: str, text: str) -> str:
    """A line of underscores and no word that says it is a forward."""
    return (
        f"{'_' * 32}\n{_block(_rows(head, language, 'from', 'sent', 'to', 'cc', 'subject'), _colon(language))}\n{text}"
    )


def aligned(head: Head, language: str, text: str) -> str:
    """Eight dashes, header values in a column."""
    rows = _rows(head, language, "subject", "date", "from", "to", "cc")
    block = "".join(f"{name + ':':<10}\t{value}\n" for name, value in rows)
    return f"-------- {_FORWARDED[language]} --------\n{block}\n\n{text}"


def wrote(head: Head, language: str, text: str) -> str:
    """A line of attribution, then everything quoted: the recipient is not named."""
    line = _WROTE[language].format(d=long_date(language, head.when), t=f"{head.when:%H:%M}", who=_box(head.sender))
    return f"{line}\n\n{quote(text)}"


def stars(head: Head, language: str, text: str) -> str:
    """Bold header words that became stars in plain text."""
    rows = _rows(head, language, "from", "sent", "to", "cc", "subject")
    return "".join(f"*{name}:* {value}\n" for name, value in rows) + f"\n{text}"


def bare(head: Head, language: str, text: str) -> str:
    """Header lines only, the date first, as some web mail does it."""
    return (
        f"{_block(_rows(head, language, 'sent', 'from', 'to', 'subject'), ': ' if language == 'fr' else ':')}\n{text}"
    )


def phone(head: Head, language: str, text: str) -> str:
    """Eight dashes and a short date with a time zone, as telephones write it."""
    date = f"{short_date(language, head.when)}  {head.when:%H:%M}  (GMT+01:00)"
    rows = _rows(head, language, "from", "date", "to", "subject", date=date)
    return f"-------- {_ORIGINAL[language]} --------\n{_block(rows, _colon(language))}\n{text}"


def enclosed(head: Head, language: str, text: str) -> str:
    """A line before and a line after, as RFC 934 has it."""
    words = _FORWARDED[language]
    block = _block(_rows(head, language, "from", "to", "date", "subject"), _colon(language))
    return f"------- Start of {words} -------\n{block}\n{text}\n------- End of {words} -------\n"


def office(head: Head, language: str, text: str) -> str:
    """Header lines with tabs under a line of dashes, the subject last but one."""
    rows = _rows(head, language, "from", "to", "cc", "date", "subject")
    block = "".join(f"{name}:\t{value}\n" for name, value in rows)
    return f"{'-' * 5} {_FORWARDED[language]} {'-' * 5}\n\n{block}\n{text}"


def quoted_dashes(head: Head, language: str, text: str) -> str:
    """Everything quoted, the separator line too."""
    rows = _rows(head, language, "from", "date", "to", "subject")
    return quote(f"--- {_FORWARDED[language]} ---\n{_block(rows, _colon(language))}\n{text}")


def stacked(head: Head, language: str, text: str) -> str:
    """The mailbox of the recipient broken over two lines, as narrow windows do it."""
    rows = _rows(head, language, "from", "date", "to", "subject")
    block = _block(rows, _colon(language)).replace(f" <{head.to[1]}>", f"\n <{head.to[1]}>")
    return f"---------- {_FORWARDED[language]} ----------\n{block}\n{text}"


STYLES: dict[str, Callable[[Head, str, str], str]] = {
    "dashes": dashes,
    "original": original,
    "begin": begin,
    "rule": rule,
    "aligned": aligned,
    "wrote": wrote,
    "stars": stars,
    "bare": bare,
    "phone": phone,
    "enclosed": enclosed,
    "office": office,
    "quoted-dashes": quoted_dashes,
    "stacked": stacked,
}


def html_dashes(head: Head, language: str, inside: str) -> str:
    """A block quote with a separator line in it."""
    rows = "".join(f"{n}: {escape(v)}<br>\n" for n, v in _rows(head, language, "from", "date", "subject", "to"))
    return (
        f"<div>---------- {_FORWARDED[language]} ---------<br>\n{rows}</div><br><br>\n<blockquote>{inside}</blockquote>"
    )


def html_rule(head: Head, language: str, inside: str) -> str:
    """Bold header words under a rule."""
    rows = "<br>\n".join(
        f"<b>{n}:</b> {escape(v)}" for n, v in _rows(head, language, "from", "sent", "to", "cc", "subject")
    )
    return f'<hr style="width:98%"><div style="border-top:solid #e1e1e1 1pt"><p>{rows}</p></div>\n<div>{inside}</div>'


def html_begin(head: Head, language: str, inside: str) -> str:
    """A sentence and a cited block."""
    rows = "".join(
        f"<div><span><b>{n}: </b></span><span>{escape(v)}</span></div>\n"
        for n, v in _rows(head, language, "from", "subject", "date", "to")
    )
    return f'<div>{_BEGIN[language]}</div><br>\n<blockquote type="cite">{rows}<br><div>{inside}</div></blockquote>'


def html_table(head: Head, language: str, inside: str) -> str:
    """The header block as a table."""
    rows = "".join(
        f'<tr><th align="right" nowrap>{n}: </th><td>{escape(v)}</td></tr>\n'
        for n, v in _rows(head, language, "subject", "date", "from", "to")
    )
    return f"<p>-------- {_FORWARDED[language]} --------</p>\n<table>{rows}</table><br>\n{inside}"


HTML_STYLES: dict[str, Callable[[Head, str, str], str]] = {
    "dashes": html_dashes,
    "rule": html_rule,
    "begin": html_begin,
    "table": html_table,
}
