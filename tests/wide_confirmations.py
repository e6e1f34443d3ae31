"""Confirmations of makers nobody described, in fourteen languages: text, HTML and PDF in thirteen layouts, with noise.

Deterministic for a seed; labels and sentences stand in ``wide_words``, apart from the package's vocabulary.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from email.message import EmailMessage
from html import escape

from ruled_papers import RULED
from wide_papers import LAYOUTS, Layout, paper
from wide_words import LABELS, LANGUAGES, NOISE, SENTENCES

MEDIA = ("pdf", "html", "text")
#: Ways in which a message is made harder to read.
NOISES = ("none", "other numbers", "old code", "damaged", "by hand")
_GIVEN = ("Runa", "Ilse", "Odile", "Teun", "Belen", "Marek", "Sunniva", "Amandine", "Joris", "Fenja", "Tilda", "Oskar")
_FAMILY = ("Aldermoor", "Bruckwald", "Chantrelle", "Duinhoven", "Estrellado", "Fjordal", "Gansewinkel", "Hollerbusch")
_ALPHABETS = ("23456789ABCDEFGHJKLMNPQRSTUVWXYZ", "0123456789ABCDEF", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")


@dataclass(frozen=True, slots=True)
class Wide:
    """One message: its bytes, what stands in it (kind -> value as printed), and how it was made."""

    data: bytes
    language: str
    medium: str
    layout: str
    noise: str
    truth: dict[str, str]


def wide(number: int, seed: int = 21, *, noisy: bool = False, ruled: bool = False) -> Iterator[Wide]:
    """Yield confirmations: languages, media, layouts and noises in turn.

    Args:
        number: how many.
        seed: of the random choices.
        noisy: True adds noise to four of five; else all are as the maker sent them, a third with other numbers.
        ruled: True draws all as PDFs in the layouts of tests/ruled_papers.py.
    """
    rng = random.Random(seed)
    for n in range(number):
        language = LANGUAGES[n % len(LANGUAGES)]
        medium = MEDIA[(n // len(LANGUAGES)) % len(MEDIA)]
        noise = rng.choice(NOISES) if noisy else rng.choice(("none", "none", "other numbers"))
        medium = "pdf" if ruled else "text" if noise == "by hand" else medium
        yield _make(rng, n, language, medium, noise, RULED if ruled else LAYOUTS)


def _make(rng: random.Random, number: int, language: str, medium: str, noise: str, layouts: Sequence[Layout]) -> Wide:
    day = date(2025, 1, 1) + timedelta(days=number % 600)
    name = f"{rng.choice(_GIVEN)} {rng.choice(_FAMILY)}{suffix(number)}"
    truth = {
        "customer_name": name,
        "model": f"{rng.choice(('Lindra', 'Corvina', 'Tessel'))} {rng.randrange(2, 9) * 100}",
        "serial_number": random_code(rng, "0123456789", rng.choice(((9,), (3, 7)))),
        "machine_id": random_code(rng, rng.choice(_ALPHABETS), rng.choice(((4, 4, 4), (3, 5, 2), (12,), (4, 6)))),
        "product_key": random_code(rng, rng.choice(_ALPHABETS), rng.choice(((5, 5, 5), (4, 4, 4, 4), (6, 6)))),
        "activation_code": random_code(rng, rng.choice(_ALPHABETS), rng.choice(((4, 4, 4, 4), (8, 8), (5, 5, 5, 5)))),
        "registration_date": day.isoformat(),
        "firmware_version": f"{rng.randrange(1, 5)}.{rng.randrange(0, 60):02d}",
    }
    rows = [(rng.choice(LABELS[kind][language]), value) for kind, value in truth.items()]
    truth["email_address"] = f"kunde{number}@post.example"
    if noise == "damaged":
        rows = [(label, damaged(rng, value)) for label, value in rows]
    rows = _with_noise(rng, rows, language, noise)
    layout = layouts[(number // (len(LANGUAGES) * len(MEDIA)) + number) % len(layouts)]
    message = _envelope(rng, number, name, day, language)
    head = SENTENCES[language]
    forward = (
        f"---------- Forwarded message ---------\nFrom: service@maker{number % 7}.example\n"
        f"Date: {day.isoformat()} 09:00\nSubject: {head[0]}\n"
        f"To: {name} <{truth['email_address']}>\n\n{head[1]}\n\n{head[2]}\n\n"
    )
    colon = "：" if language == "ja" else " :" if language == "fr" else ":"
    lines = "\n".join(f"{label}{colon} {value}" for label, value in rows)
    if noise == "by hand":
        message.set_content(f"{head[3]}\n\n{by_hand(rng, lines)}\n\n{name}\n")
    elif medium == "text":
        message.set_content(f"{head[3]}\n\n{forward}{lines}\n")
    elif medium == "html":
        message.set_content(html_body(f"{head[3]}\n\n{forward}", rows, number % 4), subtype="html")
    else:
        message.set_content(f"{head[3]}\n\n{forward}")
        pdf = paper(head[0], rows, layout, language)
        message.add_attachment(pdf, maintype="application", subtype="pdf", filename=f"confirmation-{number}.pdf")
    shown = layout.__name__ if medium == "pdf" else f"{medium}{number % 4}"
    return Wide(message.as_bytes(), language, medium, shown, noise, truth)


def _envelope(rng: random.Random, number: int, name: str, day: date, language: str) -> EmailMessage:
    message = EmailMessage()
    message["From"] = f"{name} <kunde{number}@post.example>"
    message["To"] = "help@threadworks.example"
    message["Subject"] = f"Fwd: {SENTENCES[language][0]}"
    message["Date"] = f"{(day + timedelta(days=2)):%a, %d %b %Y} 10:15:00 +0000"
    message["Message-ID"] = f"<w{number}.{rng.randrange(10**9)}@post.example>"
    return message


def _with_noise(rng: random.Random, rows: list[tuple[str, str]], language: str, noise: str) -> list[tuple[str, str]]:
    order, customer, before = NOISE[language]
    if noise == "other numbers":
        rows = [(order, f"{rng.randrange(10**8, 10**9)}"), *rows, (customer, f"K-{rng.randrange(10**5, 10**6)}")]
    if noise == "old code":
        rows = [*rows, (before, random_code(rng, _ALPHABETS[0], (4, 4, 4)))]
    return rows


def damaged(rng: random.Random, value: str) -> str:
    """Return a value as a bad copy shows it: one in three has its end cut off or a character that cannot be read."""
    if "-" not in value or value.startswith("20") or rng.random() > 0.33:
        return value
    return rng.choice((value[: len(value) * 2 // 3] + "...", value[:-2] + "??", value[: value.index("-") + 1]))


def by_hand(rng: random.Random, lines: str) -> str:
    """Return lines as a customer types them: small letters, other marks, spaces for hyphens."""
    way = rng.randrange(4)
    if way == 0:
        return lines.replace(":", " =")
    if way == 1:
        return "\n".join(f"- {line}" for line in lines.split("\n"))
    if way == 2:
        return lines.replace(": ", ":\n")
    return lines.lower()


def suffix(number: int) -> str:
    """Return letters that only this number has, to tell family names apart."""
    letters = ""
    while True:
        number, rest = divmod(number, 20)
        letters += "bcdfghjklmnpqrstvwxz"[rest] + "aeiou"[rest % 5]
        if not number:
            return letters


def random_code(rng: random.Random, alphabet: str, groups: tuple[int, ...]) -> str:
    """Return a code with two digits at least, one of them early."""
    while True:
        code = "-".join("".join(rng.choice(alphabet) for _ in range(size)) for size in groups)
        if sum(c.isdigit() for c in code) >= 2 and any(c.isdigit() for c in code[:6]):
            return code


def html_body(head: str, rows: list[tuple[str, str]], way: int) -> str:
    """Return an HTML body: a table, a table with values under labels, a list of definitions, lines with bold labels."""
    top = "".join(f"<div>{escape(line)}</div>" if line else "<br>" for line in head.split("\n"))
    cells = [(escape(label), escape(value)) for label, value in rows]
    if way == 0:
        body = "<table>" + "".join(f"<tr><td>{a}</td><td><b>{b}</b></td></tr>" for a, b in cells) + "</table>"
    elif way == 1:
        body = "<table>" + "".join(f"<tr><td>{a}:</td></tr><tr><td>{b}</td></tr>" for a, b in cells) + "</table>"
    elif way == 2:
        body = "<dl>" + "".join(f"<dt>{a}</dt><dd>{b}</dd>" for a, b in cells) + "</dl>"
    else:
        body = "".join(f"<p><b>{a}:</b> {b}</p>" for a, b in cells)
    return f"<html><body>{top}{body}</body></html>"
