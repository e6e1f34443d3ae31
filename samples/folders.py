# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""The two other places mail comes from: an old mbox file and a Maildir."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import mime
from machines import MACHINES
from post import Mail, Sample, Say, aside, at, attached, direct, forwarded
from world import Confirmation, Extra, confirm


def _of(key: str, offer: int, sent: str, extra: Extra | None = None) -> Confirmation:
    person = key.rsplit("-", 1)[0]
    return confirm(person, MACHINES[key], offer, at(sent), extra)


def _plain(slug: str, when: str, sender: str, subject: str, text: str, *more: tuple[str, str]) -> Sample:
    return aside(slug, when, [("From", sender), ("Subject", mime.encoded(subject)), *more], mime.text_part(text))


def old_mail() -> list[Sample]:
    """Return the messages of the mbox file: autumn 2024, before the shop had a support mailbox of its own."""
    elspeth = _of("elspeth-brise", 0, "2024-09-03 10:00", Extra(more="serial_number phone_number", dates="long"))
    leopold = _of("leopold-aria", 0, "2024-09-17 12:00", Extra(more="serial_number postal_address"))
    solange = _of("solange-linea", 0, "2024-09-24 09:30", Extra(more="serial_number"))
    bram = _of("bram-orkan", 0, "2024-10-01 18:00", Extra(more="serial_number purchase_date", bought=date(2024, 9, 28)))
    consuelo = _of("consuelo-duo", 0, "2024-10-15 11:11", Extra(labels=1, more="firmware_version"))
    quentin = _of("quentin-brise", 0, "2024-10-22 16:00", Extra(more="serial_number"))
    ursel = _of("ursel-heron", 0, "2024-10-29 08:40", Extra(labels=1, more="serial_number"))
    piet = _of("piet-linea", 0, "2024-11-19 13:30", Extra(labels=2, more="serial_number postal_address"))
    return [
        forwarded("old-elspeth", "2024-09-03 12:12", elspeth, "original", mail=Mail(note="As promised. E. Cordwain")),
        _plain(
            "old-parcel",
            "2024-09-10 05:05",
            "Swiftcrate <tracking@swiftcrate.example>",
            "Parcel SC 4470 1120 8831 0098 delivered",
            "Your parcel SC 4470 1120 8831 0098 was left with a neighbour.\n\nFrom here on no further messages follow.\n",
        ),
        direct("old-leopold", leopold, html="nested", mail=Mail(how="quoted-printable")),
        forwarded(
            "old-solange",
            "2024-09-25 07:30",
            solange,
            "dashes",
            "attached",
            Mail(note="Ci-joint. Solange Mirepiqué", pdf="two", charset="iso-8859-1", how="quoted-printable"),
        ),
        forwarded(
            "old-bram", "2024-10-02 08:00", bram, "table", html="table", mail=Mail(note="Ter info. Bram", how="base64")
        ),
        forwarded(
            "old-consuelo", "2024-10-15 20:20", consuelo, "rule", "aligned", Mail(note="Les adjunto lo de ayer.")
        ),
        forwarded(
            "old-quentin-oubli",
            "2024-10-23 09:09",
            quentin,
            "original",
            "attached",
            Mail(note="Bonjour, voir pièce jointe. Q. Bobbinet"),
            Say(("attachment_missing",)),
        ),
        _plain(
            "old-question",
            "2024-10-26 15:00",
            "Elspeth Cordwain <elspeth.cordwain@letterbox.example>",
            "Which thread for satin?",
            "Hello,\n\nwhich thread do you advise for satin?\n\nFrom what I read, 60 weight is best. Am I right?\n\nElspeth\n",
        ),
        forwarded(
            "old-ursel",
            "2024-10-30 10:10",
            ursel,
            "aligned",
            "dotted",
            Mail(note="Bitte abheften, danke. Ursel Biesenthal-Knopp", how="quoted-printable"),
        ),
        forwarded(
            "old-piet",
            "2024-11-19 21:00",
            piet,
            "wrote",
            mail=Mail(note="From: dat ben ik. Hierbij de bevestiging.\nFrom now on mag het naar dit adres.\n\nPiet"),
        ),
    ]


def maildir() -> list[tuple[str, Sample]]:
    """Return file name (with its folder) and message of the Maildir: October and November 2026."""
    tilda = _of("tilda-linea", 0, "2026-10-05 09:00", Extra(more="serial_number postal_address"))
    fiammetta = _of("fiammetta-heron", 0, "2026-10-12 10:10", Extra(more="serial_number"))
    winifred = _of("winifred-duo", 2, "2026-10-19 11:30", Extra(more="serial_number phone_number", dates="long"))
    delphine = _of("delphine-aria", 0, "2026-10-26 17:00", Extra(labels=2, more="serial_number"))
    mercedes = _of("mercedes-brise", 1, "2026-11-02 12:12", Extra(more="serial_number invoice_number", dates="long"))
    theobald = _of("theobald-orkan", 0, "2026-11-16 08:00", Extra(labels=2, more="serial_number"))
    quentin = _of("quentin-brise", 0, "2024-10-22 16:00", Extra(more="serial_number"))
    samples = [
        ("cur", forwarded("dir-tilda", "2026-10-05 19:00", tilda, "phone", mail=Mail(note="Hälsningar Tilda"))),
        (
            "cur",
            direct("dir-fiammetta", fiammetta, html="head-row", mail=Mail(how="quoted-printable", alternative=True)),
        ),
        (
            "cur",
            forwarded(
                "dir-winifred", "2026-10-20 06:45", winifred, "stars", "tabbed", Mail(note="Good morning! W. Hasp")
            ),
        ),
        (
            "cur",
            forwarded(
                "dir-quentin-complet",
                "2026-10-21 21:15",
                quentin,
                "original",
                "attached",
                Mail(note="Avec deux ans de retard, la pièce jointe ! Q. Bobbinet", pdf="grid"),
            ),
        ),
        (
            "cur",
            attached(
                "dir-delphine", "2026-10-27 08:20", delphine, mail=Mail(note="Message en pièce jointe. Delphine G.")
            ),
        ),
        (
            "new",
            forwarded(
                "dir-mercedes",
                "2026-11-03 10:00",
                mercedes,
                "quoted-dashes",
                "attached",
                Mail(note="Adjunto la confirmación.", pdf="spaced", pdf_type="application/octet-stream"),
            ),
        ),
        (
            "new",
            _plain(
                "dir-kontoauszug",
                "2026-11-06 04:04",
                "Sparhaus Garnstetten <konto@sparhaus.example>",
                "Ihr Kontoauszug Nr. 11/2026",
                "Ihr Kontoauszug liegt bereit.\n\nKonto: 0044 7781 2210\nIBAN: GB82 WEST 1234 5698 7654 32\n",
                ("Auto-Submitted", "auto-generated"),
            ),
        ),
        (
            "new",
            forwarded(
                "dir-theobald", "2026-11-16 18:30", theobald, "begin", "aligned", Mail(note="Bitte sehr! Theobald")
            ),
        ),
        (
            "new",
            _plain(
                "dir-vacation",
                "2026-11-17 00:10",
                "Tilda Knapphed <tilda.knapphed@brev.example>",
                "Frånvaro: Re: Din maskin",
                "Jag är bortrest till den 30 november.\n",
                ("Auto-Submitted", "auto-replied"),
            ),
        ),
    ]
    named = []
    for number, (folder, sample) in enumerate(samples, start=1):
        seconds = int((sample.arrives - at("1970-01-01 00:00")).total_seconds())
        # A colon would stand before the flags on Unix; Windows cannot keep such a name.
        flags = "!2,S" if folder == "cur" else ""
        named.append((f"{folder}/{seconds}.M{number:03}P77.thimblewick{flags}", sample))
    return named


@dataclass(frozen=True)
class Mbox:
    """An mbox file: messages one after the other, each after a line that starts with "From "."""

    samples: list[Sample]

    @property
    def data(self) -> bytes:
        """The file, lines that start with "From " marked as mboxrd does."""
        out = b""
        for sample in self.samples:
            when = sample.arrives
            day, month = mime.mail_date(when)[:3], mime.mail_date(when).split()[2]
            out += f"From mailbox@thimblewick.example {day} {month} {when.day:2} {when:%H:%M:%S %Y}\n".encode()
            for line in sample.data.splitlines(keepends=True):
                out += b">" + line if line.lstrip(b">").startswith(b"From ") else line
            out += b"\n"
        return out
