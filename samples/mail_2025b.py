# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Confirmations from May to November 2025."""

from __future__ import annotations

from datetime import date

import mime
from machines import FENNA_NEW_BOARD, MACHINES
from makers import spoil
from papers import damaged, paper, sheet
from pictures import LOGO, PHOTO
from post import Mail, Sample, Say, at, attached, direct, forwarded, typed
from world import SHOP_NAME, Confirmation, Extra, confirm


def _of(key: str, offer: int, sent: str, extra: Extra | None = None) -> Confirmation:
    person = key.rsplit("-", 1)[0]
    return confirm(person, MACHINES[key], offer, at(sent), extra)


def summer() -> list[Sample]:
    """Return May to August 2025."""
    tamsin = _of("tamsin-orkan", 1, "2025-05-14 14:00", Extra(more="serial_number", dates="long"))
    colm = _of("colm-linea", 1, "2025-05-20 10:25", Extra(more="phone_number postal_address", dates="long"))
    noemie = _of("noemie-linea", 0, "2025-05-27 16:16", Extra(labels=1, more="serial_number"))
    wietske = _of("wietske-brise", 0, "2025-06-16 13:50", Extra(more="serial_number"))
    inigo = _of(
        "inigo-duo",
        1,
        "2025-06-17 09:00",
        Extra(labels=1, more="serial_number firmware_version purchase_date", bought=date(2025, 6, 13)),
    )
    ake = _of("ake-heron", 0, "2025-06-24 11:45", Extra(more="serial_number purchase_date", bought=date(2025, 6, 20)))
    lurleen = _of(
        "lurleen-orkan",
        0,
        "2025-07-15 15:30",
        Extra(more="phone_number purchase_date", bought=date(2025, 7, 13), dates="us"),
    )
    falk = _of("falk-linea", 0, "2025-07-22 12:00", Extra(more="serial_number postal_address"))
    elodie = _of("elodie-aria", 0, "2025-08-19 09:42", Extra(more="serial_number postal_address"))
    hetty2 = _of("hetty-brise", 1, "2025-08-26 10:30", Extra(more="firmware_version", dates="long"))
    card = "Dear shop, I took a picture of the card and of the screen with my telephone. Can you note it for me? Thanks, Tamsin"
    return [
        typed(
            "tamsin-photo",
            "2025-05-15 08:12",
            "tamsin",
            "My upgrade card",
            {},
            Mail(note=card, files=(mime.file_part(PHOTO, "image/jpeg", "IMG_0412.jpg"),)),
            Say(("document_unreadable",)),
        ),
        forwarded(
            "tamsin-mail-found",
            "2025-05-16 19:27",
            tamsin,
            "enclosed",
            "tabbed",
            Mail(note="Found the mail after all!"),
        ),
        direct(
            "colm-direct-nested",
            colm,
            html="nested",
            mail=Mail(
                alternative=True,
                how="quoted-printable",
                logo=LOGO,
                # The maker sends through a service that puts this on everything.
                fields=(("List-Unsubscribe", "<https://mailer.example/u/4471>"),),
            ),
        ),
        attached(
            "noemie-piece-jointe",
            "2025-05-28 07:07",
            noemie,
            mail=Mail(note="Bonjour, le message d'Orvando est en pièce jointe. Noémie Castelbrac"),
            name="confirmation.eml",
        ),
        forwarded(
            "wietske-doorgestuurd-doorgestuurd",
            "2025-06-16 21:36",
            wietske,
            "original",
            mail=Mail(
                by=("Maaike Zoomeling", "maaike@zoomeling.example"),
                note="Beste winkel, mijn moeder stuurde mij dit, ik stuur het voor haar door. Maaike",
                how="quoted-printable",
            ),
            via=("dashes", "2025-06-16 20:15", ("Wietske Zoomeling", "w.zoomeling@postvak.example")),
        ),
        forwarded(
            "inigo-dos-columnas",
            "2025-06-18 13:13",
            inigo,
            "original",
            "attached",
            Mail(note="Adjunto la confirmación. Gracias, Íñigo", pdf="two", pdf_name="confirmacion.pdf", words="B"),
        ),
        direct("ake-direkt-utan-monster", ake, html="table", mail=Mail(how="base64", alternative=True)),
        forwarded(
            "lurleen-husband-forwards",
            "2025-07-16 02:40",
            lurleen,
            "dashes",
            mail=Mail(
                by=("Dwight Hatchabee", "dwight.h@mailroom.example"),
                note="Lurleen asked me to pass this along, her laptop is on the blink. Dwight",
                zone="-0500",
            ),
        ),
        forwarded(
            "falk-rechtsbuendig",
            "2025-07-22 20:20",
            falk,
            "office",
            "right",
            Mail(note="Moin, zur Ablage. Falk Überwasser", charset="windows-1252", pdf="right", pdf_name="orvando.pdf"),
        ),
        forwarded(
            "elodie-code-coupe",
            "2025-08-20 17:01",
            elodie,
            "original",
            "attached",
            Mail(note="Bonjour, ci-joint la confirmation.\nÉlodie F.", pdf="broken", how="quoted-printable"),
        ),
        forwarded("hetty-second-upgrade", "2025-08-27 09:09", hetty2, "dashes", "aligned", Mail(note="Next one! H.")),
    ]


def _priya() -> Sample:
    c = _of("priya-brise", 0, "2025-09-09 12:00")
    note = (
        "Hello Thimblewick team,\n\nI have just activated the Embroidery Module Plus on my Brise 340 and would like you to keep the "
        f"numbers for me, in case I lose them. The machine ID on the screen is {c.values['machine_id']}, the product key on my card was "
        f"{c.values['product_key']} and the activation code that Vesterlyng sent me is {c.values['activation_code']}.\n\n"
        "Many thanks for your patience on Saturday!\n\nBest wishes\nPriya Ravelstone"
    )
    facts = c.only("machine_id", "product_key", "activation_code", "maker", "model", "upgrade_name").facts
    return typed(
        "priya-typed-off", "2025-09-09 18:34", "priya", "My codes", facts, Mail(note=note), machine=c.machine.key
    )


def _nieves() -> Sample:
    c = _of("nieves-linea", 0, "2025-09-16 12:00")
    note = (
        "Hola:\n\nAyer activé el Estudio de Letras en mi Linea 40 de Orvando. El identificador de la máquina es "
        f"{c.values['machine_id']}, en la tarjeta ponía {c.values['product_key']} y me mandaron el código "
        f"{c.values['activation_code']}. ¿Lo pueden guardar en mi ficha?\n\nGracias\nNieves Puntalarga"
    )
    facts = c.only("machine_id", "product_key", "activation_code", "maker", "model", "upgrade_name").facts
    say = Say(("fact_uncertain",))
    return typed("nieves-codigo-en-prosa", "2025-09-17 08:08", "nieves", "Mis códigos", facts, Mail(note=note), say)


def autumn() -> list[Sample]:
    """Return September to November 2025."""
    gwen = _of("gwen-aria", 0, "2025-09-23 09:00", Extra(dates="long"))
    vera = confirm(
        "vera", MACHINES["hetty-brise"], 2, at("2025-10-07 11:00"), Extra(more="serial_number", dates="long")
    )
    swapped = confirm("fenna", FENNA_NEW_BOARD, 0, at("2025-10-14 16:20"), Extra(more="serial_number phone_number"))
    doubled = _of("juergen-duo", 0, "2025-10-21 18:18", Extra(key_of="juergen-aria/0", more="serial_number"))
    amparo = _of("amparo-brise", 0, "2025-10-28 10:05", Extra(more="phone_number"))
    other = _of("amparo-brise", 0, "2025-10-28 10:05", Extra(code_of="amparo-other", more="serial_number"))
    maarten = _of("maarten-linea", 0, "2025-11-18 13:13", Extra(more="serial_number"))
    slipped = maarten.having(machine_id=spoil(maarten.values["machine_id"]))
    hugues = _of("hugues-heron", 0, "2025-11-25 15:15", Extra(more="serial_number postal_address"))
    xavier = _of("xavier-brise", 0, "2025-11-11 08:20", Extra(more="serial_number"))
    terms = sheet(
        "Kestrelle",
        "Conditions of guarantee",
        [
            "1. The guarantee covers faults of material and workmanship.",
            "2. Needles, bulbs and belts wear out and are not covered.",
        ],
    )
    return [
        _priya(),
        _nieves(),
        forwarded(
            "gwen-no-product-key",
            "2025-09-23 13:45",
            gwen.without("product_key"),
            "dashes",
            mail=Mail(note="Sent from the tablet, hope it works. Gwen"),
            say=Say(("fact_missing",)),
        ),
        forwarded(
            "gwen-complete",
            "2025-09-30 10:10",
            gwen,
            "quoted-dashes",
            mail=Mail(
                note="You are right, a line was missing. Here is the whole thing, with the terms.",
                files=(mime.file_part(terms, "application/pdf", "terms.pdf"),),
            ),
        ),
        forwarded(
            "vera-trade-in",
            "2025-10-07 17:31",
            vera,
            "dashes",
            mail=Mail(note=f"I bought this machine second hand from {SHOP_NAME} last week and love it! Vera Lintock"),
            say=Say(("holder_unclear",)),
        ),
        forwarded(
            "fenna-nieuwe-hoofdprint",
            "2025-10-15 08:15",
            swapped,
            "begin",
            mail=Mail(note="Na de reparatie (nieuwe hoofdprint) kreeg ik een nieuwe code. Groet, Fenna"),
        ),
        forwarded(
            "juergen-schluessel-doppelt",
            "2025-10-21 20:02",
            doubled,
            "aligned",
            "aligned",
            Mail(note="Jetzt auch auf meiner zweiten Maschine!", charset="iso-8859-1", how="quoted-printable"),
            Say(("key_used_elsewhere",)),
        ),
        forwarded(
            "amparo-dos-codigos",
            "2025-10-28 21:50",
            amparo,
            "original",
            mail=Mail(note="Os reenvío todo. Amparo", pdf="columns", pdf_of=other, pdf_name="confirmacion.pdf"),
            say=Say(("code_conflict",), unknown=("activation_code",)),
        ),
        typed(
            "xavier-pdf-estropeado",
            "2025-11-12 09:33",
            "xavier",
            "Confirmación de activación Vesterlyng",
            {"maker": "Vesterlyng"},
            Mail(
                note="Buenos días, adjunto el PDF con la confirmación de activación de Vesterlyng.\n\nXavier Dedalmar",
                files=(mime.file_part(damaged(paper(xavier, "columns")), "application/pdf", "activacion.pdf"),),
            ),
            Say(("document_unreadable",)),
        ),
        forwarded(
            "xavier-etiquetas-espaciadas",
            "2025-11-14 12:21",
            xavier,
            "dashes",
            "attached",
            Mail(note="Lo intento de nuevo.", pdf="spaced", pdf_name="activacion.pdf"),
        ),
        forwarded(
            "maarten-verschreven",
            "2025-11-18 19:48",
            slipped,
            "original",
            mail=Mail(note="Hallo, in de mail was de machine-ID onleesbaar, ik heb hem overgetypt. Maarten"),
            say=Say(("check_failed",)),
        ),
        forwarded("maarten-verbeterd", "2025-11-19 07:40", maarten, "stacked", mail=Mail(note="Nu zonder tikfout!")),
        forwarded(
            "hugues-sans-modele",
            "2025-11-26 10:02",
            hugues,
            "wrote",
            "attached",
            Mail(note="Pour information. H. de Larmontel", pdf="dotted", pdf_name="Tindavar.pdf"),
        ),
    ]


def confirmations() -> list[Sample]:
    """Return all of them."""
    return [*summer(), *autumn()]
