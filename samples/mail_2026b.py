# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Confirmations from June to November 2026."""

from __future__ import annotations

import io
import zipfile
from datetime import date

import mime
from bodies import letter
from machines import MACHINES
from papers import paper, sheet
from pictures import LOGO, PHOTO
from post import Mail, Sample, Say, at, attached, direct, forwarded, typed
from world import Confirmation, Extra, confirm

NBSP = "\u00a0"


def _of(key: str, offer: int, sent: str, extra: Extra | None = None) -> Confirmation:
    person = key.rsplit("-", 1)[0]
    return confirm(person, MACHINES[key], offer, at(sent), extra)


def _maud() -> Sample:
    c = _of("maud-aria", 1, "2026-06-02 10:00")
    note = (
        "Hello again,\n\nI treated myself to the Grand Hoop! Same machine as before. "
        f"Card: {c.values['product_key']}. The code they gave me is {c.values['activation_code']} and the machine shows the ID "
        f"{c.values['machine_id']} as ever. It all works with my Aria 5.\n\nMaud"
    )
    facts = c.only("machine_id", "product_key", "activation_code", "model", "upgrade_name").facts
    return typed(
        "maud-typed-off", "2026-06-02 21:10", "maud", "Another upgrade", facts, Mail(note=note), machine=c.machine.key
    )


def _kenelm() -> Sample:
    """A list typed off, label by label: a maker that nobody described, but every value stands behind its label."""
    c = _of(
        "kenelm-heron",
        0,
        "2026-08-13 12:00",
        Extra(more="serial_number purchase_date", bought=date(2026, 8, 1), dates="long"),
    )
    c = c.only(
        "maker",
        "model",
        "serial_number",
        "machine_id",
        "upgrade_name",
        "product_key",
        "activation_code",
        "purchase_date",
    )
    rows = "\n".join(f"{label}: {value}" for label, value in c.rows)
    note = f"Dear all,\n\nhere are the details of my activation, copied from the confirmation:\n\n{rows}\n\nRegards\nKenelm Pilbrough"
    return typed(
        "kenelm-typed-list",
        "2026-08-13 17:17",
        "kenelm",
        "Activation of my Heron",
        c.facts,
        Mail(note=note),
        machine=c.machine.key,
    )


def _files() -> list[Sample]:
    """What comes in place of a plain PDF: an archive, a wrapper, nothing but the PDF, two PDFs at once."""
    noemie = _of("noemie-linea", 1, "2026-09-28 10:00", Extra(more="serial_number"))
    hannelore = _of("hannelore-duo", 1, "2026-10-01 16:30", Extra(more="serial_number"))
    brunhilde = _of("brunhilde-duo", 1, "2026-10-22 09:00", Extra(more="serial_number"))
    hoop = _of("elodie-aria", 1, "2026-09-15 10:10", Extra(less="registration_date"))
    camera = _of("elodie-aria", 2, "2026-10-27 10:10", Extra(less="registration_date"))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as bundle:
        info = zipfile.ZipInfo("confirmation.pdf", (2026, 9, 28, 10, 0, 0))
        info.create_system = 3  # else the bytes depend on the system that builds them
        bundle.writestr(info, paper(noemie, "columns"))
    wrapper = bytes.fromhex("789f3e22") + bytes((n * 53 + 7) % 256 for n in range(900))
    both = (
        mime.file_part(paper(hoop, "columns"), "application/pdf", "cadre.pdf"),
        mime.file_part(paper(camera, "columns"), "application/pdf", "camera.pdf"),
    )
    return [
        forwarded(
            "noemie-archive",
            "2026-09-28 20:10",
            noemie,
            "original",
            "attached",
            Mail(
                note="La confirmation est dans l'archive jointe. N. Castelbrac",
                files=(mime.file_part(packed.getvalue(), "application/zip", "confirmation.zip"),),
            ),
            Say(more=noemie.facts),
        ),
        forwarded(
            "hannelore-huelle",
            "2026-10-02 08:20",
            hannelore,
            "rule",
            "attached",
            Mail(
                note="Siehe Anhang. H. Zwirnstein",
                files=(mime.file_part(wrapper, "application/ms-tnef", "winmail.dat"),),
            ),
            Say(("document_unreadable",)),
        ),
        typed(
            "brunhilde-nur-pdf",
            "2026-10-23 11:59",
            "brunhilde",
            "",
            brunhilde.facts,
            Mail(note="", files=(mime.file_part(paper(brunhilde, "ruled"), "application/pdf", "Dokument1.pdf"),)),
            machine=brunhilde.machine.key,
        ),
        typed(
            "elodie-deux-pdf",
            "2026-10-28 18:31",
            "elodie",
            "Mes deux confirmations d'activation",
            hoop.only("customer_name", "email_address", "maker", "model", "machine_id").facts,
            Mail(note="Bonjour, voici les confirmations de mes deux mises à niveau.\nÉlodie Fontrevel", files=both),
            # One message, two upgrades: a person has to take them apart.
            Say(("code_conflict",)),
        ),
    ]


def summer() -> list[Sample]:
    """Return June to August 2026."""
    priya = _of("priya-brise", 1, "2026-06-09 11:30", Extra(more="firmware_version serial_number", dates="long"))
    hetty = _of("hetty-brise", 0, "2026-06-16 09:00", Extra(code_of="hetty-issued-again", dates="long"))
    amparo = _of("amparo-brise", 0, "2026-06-30 10:05", Extra(more="phone_number serial_number"))
    rosario = _of("rosario-linea", 1, "2026-07-14 18:18", Extra(more="firmware_version"))
    spaced = rosario.having(
        **{k: rosario.values[k].replace("-", NBSP) for k in ("machine_id", "product_key", "activation_code")}
    )
    lurleen = _of("lurleen-orkan", 1, "2026-07-21 16:45", Extra(more="serial_number", dates="long"))
    colm = _of("colm-linea", 0, "2026-08-04 09:20", Extra(dates="long"))
    small = colm.having(**{k: colm.values[k].lower() for k in ("product_key", "activation_code")})
    ake = confirm("ake", MACHINES["gunhild-duo"], 1, at("2026-08-11 14:00"), Extra(more="serial_number"))
    kaethe = _of("kaethe-brise", 1, "2026-08-18 12:50")
    inigo = _of("inigo-duo", 2, "2026-08-25 11:11", Extra(more="firmware_version"))
    text = mime.text_part(letter(inigo), "plain", "utf-8", "base64", '; name="confirmacion.txt"')
    text = text.replace(b"\n\n", b'\nContent-Disposition: attachment; filename="confirmacion.txt"\n\n', 1)
    return [
        _maud(),
        forwarded(
            "priya-stacked-html",
            "2026-06-09 13:05",
            priya,
            "table",
            html="stacked",
            mail=Mail(note="And the quilting one, this time the real mail.", how="quoted-printable"),
        ),
        forwarded(
            "hetty-code-issued-again",
            "2026-06-16 10:10",
            hetty,
            "dashes",
            mail=Mail(note="They sent me a new code for my embroidery module?! Which one is right? Hetty"),
            say=Say(("code_conflict",)),
        ),
        forwarded(
            "amparo-ahora-correcto",
            "2026-07-01 09:09",
            amparo,
            "begin",
            "starred",
            Mail(
                note="El fabricante lo ha corregido.",
                pdf="columns",
                pdf_name="confirmacion.pdf",
                how="quoted-printable",
            ),
        ),
        forwarded(
            "rosario-espacios", "2026-07-15 08:40", spaced, "aligned", mail=Mail(note="Segunda ampliación. Rosario")
        ),
        forwarded(
            "lurleen-head-row",
            "2026-07-22 04:04",
            lurleen,
            "begin",
            html="head-row",
            mail=Mail(note="Laptop's fixed! L.", zone="-0500", how="quoted-printable"),
        ),
        forwarded(
            "colm-lower-case",
            "2026-08-04 12:12",
            small,
            "enclosed",
            "tabbed",
            Mail(note="Lettering, at last. Colm O'Dravigan"),
        ),
        forwarded(
            "ake-arvd-maskin",
            "2026-08-11 19:30",
            ake,
            "original",
            mail=Mail(note="Hej, jag har tagit över Gunhilds Duo 8. Åke", how="base64"),
            say=Say(("holder_unclear",)),
        ),
        forwarded(
            "kaethe-anhang-vergessen",
            "2026-08-18 20:05",
            kaethe,
            "original",
            "attached",
            Mail(note="Liebes Team, die Bestätigung finden Sie im Anhang. Käthe"),
            Say(("attachment_missing",)),
        ),
        forwarded(
            "inigo-texto-adjunto",
            "2026-08-26 17:29",
            inigo,
            "dashes",
            "attached",
            Mail(note="Va como archivo de texto.", files=(text,)),
            Say(more=inigo.facts),
        ),
    ]


def autumn() -> list[Sample]:
    """Return September to November 2026."""
    falk = _of("falk-linea", 1, "2026-09-01 08:08", Extra(labels=1, more="firmware_version"))
    elodie = _of("elodie-aria", 1, "2026-09-15 10:10", Extra(labels=2, more="firmware_version"))
    maud = _of("maud-aria", 2, "2026-09-22 09:00", Extra(labels=2, more="firmware_version", dates="long"))
    bastien = _of("bastien-duo", 1, "2026-10-13 15:00", Extra(more="invoice_number"))
    tamsin = _of("tamsin-orkan", 0, "2026-10-20 11:40", Extra(labels=2, more="firmware_version", dates="long"))
    gunhild = _of("gunhild-duo", 2, "2026-11-03 09:09", Extra(more="firmware_version"))
    joost = _of("joost-duo", 0, "2025-03-18 12:12", Extra(more="serial_number"))
    card = mime.text_part("BEGIN:VCARD\nVERSION:4.0\nFN:Maud Fennimarsh\nTEL:07700 900518\nEND:VCARD\n", "vcard")
    seal = mime.text_part("-----BEGIN PGP SIGNATURE-----\n\niHUEABYKAB0WIQ=\n-----END PGP SIGNATURE-----\n")
    seal = seal.replace(b"text/plain; charset=utf-8", b'application/pgp-signature; name="signature.asc"')
    stitches = "Hello, the machine skips stitches since Monday, see the picture. What can I do? Colm O'Dravigan"
    receipt = sheet(
        "Thimblewick Sewing Rooms",
        "Receipt",
        [
            ("Position", "Article", "Price"),
            ("1", "Grand Hoop, boxed card", "149.00"),
            ("", "Paid by card **** 4417", ""),
        ],
    )
    return [
        forwarded(
            "falk-windows-1252",
            "2026-09-01 12:30",
            falk,
            "office",
            "aligned",
            Mail(note="Moin – das „Richelieu-Set“ läuft … besten Dank!\nFalk", charset="windows-1252", how="8bit"),
        ),
        forwarded(
            "elodie-libelles-maison",
            "2026-09-15 21:00",
            elodie,
            "original",
            "aligned",
            Mail(
                note="Le grand cadre est arrivé.",
                how="quoted-printable",
                pdf="under",
                pdf_name="confirmation Kestrelle.pdf",
            ),
        ),
        forwarded(
            "maud-card-and-seal",
            "2026-09-22 09:45",
            maud,
            "quoted-dashes",
            "tabbed",
            Mail(note="The camera is brilliant. M.", files=(card, seal)),
        ),
        typed(
            "colm-picture-of-stitches",
            "2026-10-06 08:00",
            "colm",
            "Skipped stitches",
            {},
            Mail(note=stitches, files=(mime.file_part(PHOTO, "image/jpeg", "stitches.jpg"),)),
            Say(("document_unreadable",)),
        ),
        forwarded(
            "bastien-avec-ticket",
            "2026-10-14 07:45",
            bastien,
            "table",
            html="table",
            mail=Mail(
                note="Avec le ticket de caisse.",
                files=(mime.file_part(receipt, "application/pdf", "ticket.pdf"),),
                how="quoted-printable",
            ),
        ),
        direct("tamsin-direct", tamsin, "under", Mail(how="base64")),
        forwarded(
            "gunhild-tredje",
            "2026-11-04 18:18",
            gunhild,
            "begin",
            html="table",
            mail=Mail(note="Placeringskameran är igång. Gunhild", logo=LOGO, how="quoted-printable"),
        ),
        attached(
            "joost-nogmaals",
            "2026-11-10 20:20",
            joost,
            "attached",
            Mail(note="Na een reset ben ik de code kwijt. Dit is de bevestiging van vorig jaar.\n\nJoost", pdf="ruled"),
        ),
    ]


def confirmations() -> list[Sample]:
    """Return all of them."""
    return [_kenelm(), *_files(), *summer(), *autumn()]
