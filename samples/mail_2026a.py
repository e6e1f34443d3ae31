"""Confirmations from December 2025 to May 2026."""

from __future__ import annotations

from datetime import date

import mime
from machines import MACHINES
from post import Mail, Sample, Say, at, attached, direct, forwarded, typed
from world import Confirmation, Extra, confirm

NBSP = "\u00a0"


def _of(key: str, offer: int, sent: str, extra: Extra | None = None) -> Confirmation:
    person = key.rsplit("-", 1)[0]
    return confirm(person, MACHINES[key], offer, at(sent), extra)


def winter() -> list[Sample]:
    """Return December 2025 to February 2026."""
    joan = _of(
        "joan-1-brise",
        0,
        "2025-12-03 09:09",
        Extra(labels=1, more="phone_number postal_address serial_number", dates="long"),
    )
    odell = _of("odell-aria", 0, "2025-12-04 20:01", Extra(more="phone_number serial_number", dates="us"))
    clemence = _of("clemence-linea", 1, "2025-12-16 10:00", Extra(name="Clemence Aubrelin", more="firmware_version"))
    dorothea = _of(
        "dorothea-linea",
        0,
        "2026-01-13 12:30",
        Extra(email="dorothea@newhouse.example", more="phone_number serial_number", dates="long"),
    )
    rosalind = _of(
        "rosalind-orkan", 0, "2025-11-05 18:00", Extra(less="registration_date", more="purchase_date serial_number")
    )
    bought = rosalind.having(purchase_date="05/04/2025")
    joan2 = _of(
        "joan-2-aria", 0, "2026-01-20 08:47", Extra(more="phone_number postal_address serial_number", dates="long")
    )
    juergen = _of("juergen-aria", 1, "2026-01-27 21:09", Extra(name="FADENBRECHT Jürgen", more="serial_number"))
    therese = _of("therese-aria", 0, "2026-02-17 14:05", Extra(more="serial_number phone_number", labels=2))
    brunhilde = _of(
        "brunhilde-duo", 0, "2026-02-24 09:50", Extra(more="serial_number purchase_date", bought=date(2026, 2, 20))
    )
    packed = bytes((n * 37 + 11) % 251 for n in range(2400))
    return [
        forwarded(
            "joan-millbeck",
            "2025-12-03 19:20",
            joan,
            "phone",
            "aligned",
            Mail(note="For your files please. Joan M. (Station Road)", language="en"),
        ),
        direct(
            "odell-month-first",
            odell,
            "tabbed",
            # Sent by a machine, but no automatic reply: RFC 3834 tells the two apart.
            Mail(zone="-0600", how="quoted-printable", fields=(("Auto-Submitted", "auto-generated"),)),
        ),
        forwarded(
            "clemence-sans-accents",
            "2025-12-16 18:08",
            clemence,
            "dashes",
            "spaced",
            Mail(note="Bonsoir, et voici le kit Richelieu.", charset="iso-8859-1", how="8bit"),
        ),
        forwarded(
            "rosalind-which-date",
            "2026-01-07 11:11",
            bought,
            "dashes",
            "attached",
            Mail(note="Better late than never! Rosalind", pdf="columns"),
            # Bought on 5 April or on 4 May: the mail came months later, and no other date tells the order.
            Say(("date_ambiguous",), unknown=("purchase_date",)),
        ),
        forwarded(
            "dorothea-new-address",
            "2026-01-13 16:42",
            dorothea,
            "original",
            "dotted",
            Mail(note="I have moved to another mail provider, and I have a second machine now! Dorothea"),
        ),
        forwarded(
            "joan-namesake",
            "2026-01-20 12:01",
            joan2,
            "original",
            mail=Mail(note="Hello, new machine, new customer! Joan Marlowick, Fenwater"),
            say=Say(("customer_unclear",)),
        ),
        forwarded(
            "juergen-name-umgestellt",
            "2026-01-28 06:50",
            juergen,
            "bare",
            "starred",
            Mail(note="Der Großrahmen ist da.", how="base64", charset="utf-8"),
        ),
        forwarded(
            "therese-deuxieme-machine",
            "2026-02-18 08:00",
            therese,
            "rule",
            html="divs",
            mail=Mail(
                note="Une deuxième machine à ajouter à mon dossier, merci !",
                how="quoted-printable",
                charset="windows-1252",
            ),
        ),
        typed(
            "brunhilde-unbekanntes-format",
            "2026-02-24 13:00",
            "brunhilde",
            "Aktivierungsbestätigung Kestrelle",
            {"maker": "Kestrelle"},
            Mail(
                note="Grüß Gott, ich habe alles in ein Dokument kopiert, siehe Anhang.\n\nBrunhilde Garnhöfer",
                files=(mime.file_part(packed, "application/octet-stream", "Aktivierung.pages"),),
            ),
            Say(("document_unreadable",)),
        ),
        forwarded(
            "brunhilde-als-pdf",
            "2026-02-25 07:07",
            brunhilde,
            "aligned",
            "attached",
            Mail(note="Jetzt als PDF.", pdf="labels-first", pdf_name="Aktivierung Kestrelle.pdf"),
        ),
    ]


def spring() -> list[Sample]:
    """Return March to May 2026."""
    hannelore = _of("hannelore-duo", 0, "2026-03-03 15:40", Extra(more="phone_number postal_address serial_number"))
    gisela = _of("gisela-heron", 0, "2026-03-17 10:20", Extra(more="phone_number postal_address serial_number"))
    sanne = _of("sanne-linea", 0, "2026-03-24 20:30", Extra(labels=2, more="postal_address serial_number"))
    ingrid = _of("ingrid-orkan", 0, "2026-04-07 13:13", Extra(labels=2, more="serial_number postal_address"))
    nieves = _of("nieves-linea", 0, "2025-09-16 12:00", Extra(labels=2, more="serial_number", dates="long"))
    gaspare = _of(
        "gaspare-aria",
        0,
        "2026-04-21 09:30",
        Extra(labels=1, more="serial_number purchase_date", bought=date(2026, 4, 18)),
    )
    odell = _of(
        "odell-aria",
        1,
        "2026-04-17 19:00",
        Extra(more="purchase_date firmware_version", bought=date(2026, 4, 3), dates="us"),
    )
    ottokar = _of("ottokar-linea", 0, "2025-04-22 19:19", Extra(more="serial_number"))
    wietske = _of("wietske-brise", 1, "2026-05-19 17:17", Extra(more="firmware_version invoice_number"))
    return [
        forwarded(
            "hannelore-lindenhof",
            "2026-03-03 18:25",
            hannelore,
            "office",
            "lines",
            Mail(
                note="Liebes Team, bitte zu meinen Unterlagen. Hannelore Zwirnstein",
                charset="iso-8859-1",
                how="quoted-printable",
            ),
        ),
        forwarded(
            "gisela-gleiche-anschrift",
            "2026-03-17 12:12",
            gisela,
            "original",
            mail=Mail(note="Guten Tag, meine Schwester hat Sie mir empfohlen. Gisela Zwirnstein"),
            say=Say(("customer_unclear",)),
        ),
        forwarded(
            "sanne-zelfde-achternaam",
            "2026-03-25 09:54",
            sanne,
            "dashes",
            html="divs",
            mail=Mail(note="Hallo, hierbij mijn bevestiging. Sanne", how="base64"),
        ),
        forwarded(
            "ingrid-under-etiketten",
            "2026-04-07 18:40",
            ingrid,
            "original",
            "under",
            Mail(
                note="Hej! Här kommer bekräftelsen. Hälsningar Ingrid",
                charset="iso-8859-1",
                how="quoted-printable",
                words="B",
            ),
        ),
        forwarded(
            "nieves-correo-original",
            "2026-04-14 22:22",
            nieves,
            "stacked",
            mail=Mail(note="Por fin he encontrado el correo de Orvando."),
        ),
        attached(
            "gaspare-allegato-base64",
            "2026-04-21 12:45",
            gaspare,
            html="nested",
            mail=Mail(note="In allegato il messaggio originale. Cordiali saluti, Gaspare Filodoro"),
            how="base64",
            name="conferma.eml",
        ),
        # Forwarded two months later; the date of registration shows that the month comes first.
        forwarded(
            "odell-order-of-dates",
            "2026-06-15 03:30",
            odell,
            "dashes",
            mail=Mail(note="Came across this while tidying up. Odell", zone="-0500"),
        ),
        forwarded(
            "ottokar-lesbar",
            "2026-05-06 16:00",
            ottokar,
            "original",
            "attached",
            Mail(
                note="Mein Enkel hat die Datei gefunden.",
                pdf="labels-first",
                pdf_name="Bestaetigung.pdf",
                charset="iso-8859-1",
            ),
        ),
        forwarded(
            "wietske-raster",
            "2026-05-20 10:31",
            wietske,
            "dashes",
            "attached",
            Mail(note="Zie de bijlage.", pdf="grid", pdf_name="bevestiging.pdf"),
        ),
    ]


def confirmations() -> list[Sample]:
    """Return all of them."""
    return [*winter(), *spring()]
