# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Confirmations from December 2024 to April 2025."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import mime
from machines import MACHINES
from papers import paper, scanned
from pictures import LOGO
from post import Mail, Sample, Say, at, direct, forwarded, typed
from world import Confirmation, Extra, confirm


def _of(key: str, offer: int, sent: str, extra: Extra | None = None) -> Confirmation:
    person = key.rsplit("-", 1)[0]
    return confirm(person, MACHINES[key], offer, at(sent), extra)


def winter() -> list[Sample]:
    """Return December 2024 to February 2025."""
    hetty = _of(
        "hetty-brise", 0, "2024-12-03 08:55", Extra(more="serial_number purchase_date", bought=date(2024, 11, 28))
    )
    juergen = _of("juergen-aria", 0, "2024-12-10 17:20", Extra(more="postal_address serial_number"))
    clemence = _of(
        "clemence-linea", 0, "2024-12-17 11:02", Extra(more="purchase_date invoice_number", bought=date(2024, 12, 14))
    )
    fenna = _of(
        "fenna-orkan", 0, "2025-01-07 19:41", Extra(more="serial_number phone_number", bought=date(2024, 12, 28))
    )
    rosario = _of("rosario-linea", 0, "2025-01-14 10:10", Extra(labels=2, more="firmware_version postal_address"))
    gunhild = _of(
        "gunhild-duo", 0, "2025-01-21 14:33", Extra(more="serial_number purchase_date", bought=date(2025, 1, 18))
    )
    ornella = _of("ornella-brise", 0, "2025-01-28 09:15", Extra(more="postal_address"))
    dorothea = _of(
        "dorothea-heron", 0, "2025-02-04 16:05", Extra(more="serial_number phone_number postal_address", dates="long")
    )
    first = forwarded(
        "hetty-first-upgrade",
        "2024-12-03 09:12",
        hetty,
        "dashes",
        mail=Mail(
            note="Hello,\n\nas discussed on the telephone, here is the mail I got. Kind regards\nHetty Oakenshaw"
        ),
    )
    return [
        first,
        forwarded(
            "juergen-iso-8859-1",
            "2024-12-11 07:48",
            juergen,
            "aligned",
            "aligned",
            Mail(
                note="Guten Morgen,\n\nanbei wie gewünscht die Bestätigung für unsere Unterlagen.\n\nMit freundlichen Grüßen\nJ. Fadenbrecht",
                charset="iso-8859-1",
                how="quoted-printable",
                pdf="columns",
                pdf_name="Bestätigung.pdf",
            ),
        ),
        forwarded(
            "clemence-pdf-seul",
            "2024-12-18 21:17",
            clemence,
            "original",
            "attached",
            Mail(
                note="Bonjour,\n\nje vous fais suivre la confirmation reçue hier, pour mon dossier. Merci pour votre aide samedi !\n\nClémence Aubrelin",
                pdf="right",
                words="B",
                subject="TR: Confirmation d'activation Orvando – pour mon dossier de garantie, Mme Aubrelin à Aiguemont",
                crlf=True,
            ),
        ),
        forwarded(
            "fenna-geciteerd",
            "2025-01-08 08:30",
            fenna,
            "begin",
            mail=Mail(note="Goedemorgen, hierbij de bevestiging. Het borduren gaat nu perfect!\n\nGroet, Fenna"),
        ),
        forwarded(
            "rosario-base64",
            "2025-01-14 12:26",
            rosario,
            "rule",
            "spaced",
            Mail(note="Buenos días:\n\nLes reenvío el correo del fabricante.\n\nUn saludo,\nRosario", how="base64"),
        ),
        direct("gunhild-direkt-tabell", gunhild, html="table", mail=Mail(how="quoted-printable", logo=LOGO)),
        forwarded(
            "ornella-solo-html",
            "2025-01-29 18:52",
            ornella,
            "rule",
            html="breaks",
            mail=Mail(note="Buonasera, inoltro la conferma come d'accordo.\nOrnella", how="quoted-printable"),
        ),
        forwarded(
            "dorothea-undescribed-maker",
            "2025-02-05 10:09",
            dorothea,
            "dashes",
            mail=Mail(note="Morning all! You asked me to send this on. D.", charset="us-ascii", how="7bit"),
        ),
        forwarded(
            "juergen-second-forward",
            "2025-02-11 20:14",
            juergen,
            "bare",
            "aligned",
            Mail(
                note="Ich weiß nicht mehr, ob ich das schon geschickt hatte. Sicherheitshalber noch einmal.\nJürgen Fadenbrecht"
            ),
        ),
        replace(first, slug="hetty-same-bytes-again", arrives=at("2025-02-13 09:00")),
    ]


def spring() -> list[Sample]:
    """Return February to May 2025."""
    imogen = _of(
        "imogen-orkan", 0, "2025-02-18 13:37", Extra(more="postal_address phone_number serial_number", dates="long")
    )
    barnaby = _of("barnaby-aria", 1, "2025-02-25 15:20", Extra(more="serial_number", dates="long"))
    annegret = _of(
        "annegret-heron", 0, "2025-03-03 18:00", Extra(more="serial_number purchase_date", bought=date(2025, 2, 27))
    )
    maud = _of("maud-aria", 0, "2025-03-12 09:31", Extra(more="purchase_date", bought=date(2025, 3, 8), dates="long"))
    joost = _of("joost-duo", 0, "2025-03-18 12:12", Extra(more="serial_number"))
    therese = _of("therese-brise", 0, "2025-03-25 17:55", Extra(more="phone_number serial_number"))
    kaethe = _of("kaethe-brise", 0, "2025-04-01 08:08", Extra(labels=2, more="serial_number"))
    bastien = _of("bastien-duo", 0, "2025-04-14 10:40", Extra(more="serial_number postal_address firmware_version"))
    ottokar = _of("ottokar-linea", 0, "2025-04-22 19:19", Extra(more="serial_number"))
    return [
        forwarded(
            "imogen-household",
            "2025-02-18 18:02",
            imogen,
            "original",
            "dotted",
            Mail(note="Please find below the mail for my Orkan. I. Thackerby", how="quoted-printable"),
        ),
        forwarded(
            "barnaby-shared-address",
            "2025-02-25 20:45",
            barnaby,
            "original",
            "lines",
            Mail(
                by=("Imogen Thackerby", "thackerbys@postbox.example"), note="And this one is for my husband's machine."
            ),
            Say(("customer_unclear",)),
        ),
        forwarded(
            "annegret-pdf-ohne-muster",
            "2025-03-04 06:55",
            annegret,
            "original",
            "attached",
            Mail(
                note="Hallo zusammen, Bestätigung im Anhang. LG Annegret", pdf="columns", pdf_name="Tindavar_Heron.pdf"
            ),
        ),
        forwarded(
            "maud-forgotten-attachment",
            "2025-03-12 11:20",
            maud,
            "stars",
            "attached",
            Mail(note="Hi, please see attached.\n\nMaud Fennimarsh"),
            Say(("attachment_missing",)),
        ),
        forwarded(
            "maud-now-with-attachment",
            "2025-03-13 07:58",
            maud,
            "stars",
            "attached",
            Mail(note="So sorry, I forgot the attachment yesterday. Here it is.\n\nMaud", pdf="dotted"),
        ),
        forwarded(
            "joost-octet-stream",
            "2025-03-19 22:03",
            joost,
            "phone",
            "attached",
            Mail(
                note="Zie bijlage.\n\nVerzonden vanaf mijn telefoon", pdf="ruled", pdf_type="application/octet-stream"
            ),
        ),
        forwarded(
            "therese-pdf-sans-nom",
            "2025-03-26 08:21",
            therese,
            "dashes",
            "attached",
            Mail(note="Bonjour, voici la confirmation. Bonne journée, Thérèse V.", pdf="under", pdf_name=""),
        ),
        forwarded(
            "kaethe-verschachtelte-tabellen",
            "2025-04-02 19:30",
            kaethe,
            "begin",
            html="nested",
            mail=Mail(note="Liebe Grüße aus Oberzwirn, Käthe", charset="windows-1252", how="quoted-printable"),
        ),
        forwarded(
            "bastien-pdf-protege",
            "2025-04-15 09:05",
            bastien,
            "original",
            "attached",
            Mail(
                note="Bonjour, le PDF est protégé, le mot de passe vous a été donné par téléphone. B. Dormagny",
                files=(mime.file_part(paper(bastien, "columns", "canette"), "application/pdf", "confirmation.pdf"),),
            ),
            Say(("document_unreadable",)),
        ),
        typed(
            "ottokar-eingescannt",
            "2025-04-23 16:44",
            "ottokar",
            "Meine Aktivierungsbestätigung",
            {},
            Mail(
                note="Sehr geehrte Damen und Herren,\n\nich habe die Bestätigung ausgedruckt und wieder eingescannt, siehe Anhang.\n\nO. Spindelmoos",
                charset="iso-8859-1",
                files=(
                    mime.file_part(
                        scanned([f"{k}: {v}" for k, v in ottokar.rows if v.isascii() and k.isascii()]),
                        "application/pdf",
                        "Scan_20250423.pdf",
                    ),
                ),
            ),
            Say(("code_read_by_eye", "fact_missing", "fact_uncertain")),
        ),
        forwarded(
            "bastien-trois-pages",
            "2025-04-29 11:11",
            bastien,
            "dashes",
            "attached",
            Mail(
                note="Et voici la version sans mot de passe.", pdf="pages", pdf_type="application/x-pdf", how="base64"
            ),
        ),
    ]


def confirmations() -> list[Sample]:
    """Return all of them."""
    return [*winter(), *spring()]
