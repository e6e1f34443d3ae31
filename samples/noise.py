# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Other mail that is no confirmation: questions, newsletters, automatic replies, spam."""

from __future__ import annotations

import mime
from machines import MACHINES
from post import SHOP_BOX, Sample, aside

Field = tuple[str, str]


def _plain(
    slug: str, when: str, sender: str, subject: str, text: str, *more: Field, how: str = "8bit", charset: str = "utf-8"
) -> Sample:
    fields = [("From", sender), ("Subject", mime.encoded(subject, charset)), *more]
    return aside(slug, when, fields, mime.text_part(text, "plain", charset, how))


def _questions() -> list[Sample]:
    orkan, aria = MACHINES["imogen-orkan"], MACHINES["therese-aria"]
    return [
        _plain(
            "question-needles",
            "2024-12-05 14:20",
            "Hetty Oakenshaw <hetty.oakenshaw@postbox.example>",
            "Needles keep breaking",
            "Hello,\n\nmy needles keep breaking when I sew denim on the Brise 300. Is size 100 right, or should I use 110?\n\nHetty\n",
        ),
        _plain(
            "frage-oeffnungszeiten",
            "2025-01-17 09:58",
            "Annegret Wollenschein <annegret.wollenschein@briefkasten.example>",
            "Samstag geöffnet?",
            "Hallo,\n\nhaben Sie am Samstag, 25.01.2025, geöffnet? Ich würde gern ein neues Füßchen für meine Maschine abholen.\n\nViele Grüße\nAnnegret\n",
            charset="iso-8859-1",
        ),
        _plain(
            "vraag-productsleutel",
            "2025-03-21 10:44",
            "Joost Garenstra <joost.garenstra@brievenbus.example>",
            "Wat is een productsleutel?",
            "Goedendag,\n\nvoor het tweede pakket vraagt de site om een productsleutel en daarna krijg ik een activeringscode, staat er. "
            "Waar vind ik die sleutel? Op de doos staat alleen artikelnummer 7734-120-02.\n\nGroet,\nJoost\n",
        ),
        _plain(
            "question-no-code-yet",
            "2025-06-03 19:05",
            "Imogen Thackerby <thackerbys@postbox.example>",
            "Still waiting for my code",
            f"Hello,\n\nI entered my machine ID {orkan.machine_id} on the maker's site on Sunday, but no activation code has come yet. "
            "Does it usually take this long? Should I type in the number again?\n\nThanks\nImogen\n",
        ),
        _plain(
            "question-micrologiciel",
            "2026-02-20 18:18",
            "=?utf-8?Q?Th=C3=A9r=C3=A8se_Valcourbe?= <t.valcourbe@courrier.example>",
            "Mise à jour du micrologiciel",
            f"Bonjour,\n\nma Aria 5 (numéro de série {aria.serial_number}) affiche la version 1.7. Faut-il passer à la 1.9 avant d'installer "
            "le grand cadre ? Puis-je passer au magasin jeudi ?\n\nMerci\nThérèse Valcourbe\n",
            how="quoted-printable",
        ),
        _plain(
            "consulta-reparacion",
            "2026-05-12 11:30",
            "=?utf-8?B?w43DsWlnbyBDb3N0dXJpbGxhcw==?= <inigo@costurillas.example>",
            "¿Está lista mi máquina?",
            "Buenos días:\n\n¿saben si mi máquina ya está reparada? El resguardo es el 2026-0518-33.\n\nGracias, Íñigo\n",
            how="base64",
        ),
        _plain(
            "tack-for-hjalpen",
            "2025-07-03 07:30",
            "=?iso-8859-1?Q?=C5ke_S=F6mlund?= <ake@somlund.example>",
            "Tack för hjälpen",
            "Hej!\n\nTack för hjälpen med aktiveringen i lördags, nu fungerar allt. Jag sparar bekräftelsen i pärmen.\n\nÅke\n",
            charset="iso-8859-1",
            how="quoted-printable",
        ),
        _plain(
            "course-booking",
            "2025-09-02 20:15",
            "Gwen Tollivar <gwen@tollivar.example>",
            "Re: Quilting for beginners, booking Q25-0917-06",
            "Yes please, one place for me on 17 September. I have paid by card, the reference is 88213-QB.\n\nGwen\n\n"
            "> Dear Gwen,\n> your booking Q25-0917-06 is reserved until Friday.\n> Thimblewick Sewing Rooms\n",
        ),
        _plain(
            "question-codes-lost",
            "2026-09-08 09:12",
            "Fenna van der Kluwen <fenna@vanderkluwen.example>",
            "Codes kwijt na reset",
            "Hallo,\n\nmijn Orkan 720 is teruggezet en nu is alles weg. Hebben jullie mijn activeringscode nog? De machine vraagt erom.\n\nFenna\n",
        ),
    ]


def _automatic() -> list[Sample]:
    report = [
        mime.text_part(
            "Your message could not be delivered to colm@odravigan.example: mailbox full.\n",
            charset="us-ascii",
            how="7bit",
        ),
        b"Content-Type: message/delivery-status\n\nReporting-MTA: dns; mx.odravigan.example\n\n"
        b"Final-Recipient: rfc822; colm@odravigan.example\nAction: failed\nStatus: 5.2.2\n",
        b"Content-Type: text/rfc822-headers\n\nFrom: support@thimblewick.example\nTo: colm@odravigan.example\n"
        b"Subject: Your Linea is ready to be collected\n",
    ]
    meeting = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//EN\r\nMETHOD:REQUEST\r\nBEGIN:VEVENT\r\nUID:20260415-77@quaybridge.example\r\n"
        "DTSTAMP:20260408T090000Z\r\nDTSTART:20260415T140000Z\r\nSUMMARY:Dealer meeting\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    invite = [
        mime.text_part("You are invited to the dealer meeting on 15 April.\n"),
        mime.text_part(meeting, "calendar", how="base64", more="; method=REQUEST"),
    ]
    return [
        _plain(
            "abwesenheitsnotiz",
            "2025-04-17 00:03",
            "=?utf-8?Q?K=C3=A4the_N=C3=A4hringer?= <kaethe.naehringer@postamt.example>",
            "Automatische Antwort: Ihre Maschine",
            "Ich bin bis zum 28.04.2025 nicht erreichbar. Ihre Nachricht wird nicht weitergeleitet.\n\nKäthe Nähringer\n",
            ("Auto-Submitted", "auto-replied"),
            ("X-Auto-Response-Suppress", "All"),
        ),
        _plain(
            "out-of-office",
            "2025-08-05 08:00",
            "Maud Fennimarsh <maud.fennimarsh@postbox.example>",
            "Automatic reply: Re: Your Kestrelle activation confirmation",
            "Thank you for your message. I am away until 19 August and will read it when I am back.\n\n"
            "> Dear Maud, thank you for sending your activation confirmation, we have noted it.\n",
            ("Return-Path", "<>"),
            ("Precedence", "auto_reply"),
        ),
        aside(
            "bounce",
            "2025-05-22 11:01",
            [
                ("Return-Path", "<>"),
                ("From", "Mail Delivery System <postmaster@mx.odravigan.example>"),
                ("Subject", "Undeliverable: Your Linea is ready to be collected"),
                ("Auto-Submitted", "auto-replied"),
            ],
            mime.multipart("report; report-type=delivery-status", report, "=_bounce"),
        ),
        _plain(
            "appointment-reminder",
            "2025-11-20 07:00",
            "Quaybridge Boilers <visits@quaybridge-boilers.example>",
            "Reminder: your appointment on 24 November",
            "This is a reminder of your appointment.\n\nDate: 24/11/2025\nTime: 08:30\nReference: QB-7781-2204\nEngineer: D. Marrable\n"
            "Call 020 7946 0999 to change it.\n",
        ),
        _plain(
            "login-code",
            "2026-06-23 10:31",
            "Garnkontor Webermann <login@garnkontor.example>",
            "Your security code is 482 913",
            "Somebody signs in to the dealers' portal.\n\nYour code: 482 913\nIt is valid for ten minutes. Never pass it on.\n",
            ("Auto-Submitted", "auto-generated"),
        ),
        aside(
            "dealer-meeting",
            "2026-04-08 11:00",
            [("From", "Dealers' circle <circle@quaybridge.example>"), ("Subject", "Invitation: dealer meeting")],
            mime.multipart("alternative", invite, "=_invite"),
        ),
    ]


def _bulk() -> list[Sample]:
    letter = (
        "<html><body><h1>Kestrelle</h1><p>New: the Placement Camera for your Aria 5 and Duo 8.</p><p>Already have a card with a product key? "
        "Activate it before 30 June and receive your activation code within minutes.</p><p>Voucher: <b>SPRING-HOOP-26</b></p>"
        '<img src="https://pixel.kestrelle.example/o.gif" width="1" height="1"></body></html>\n'
    )
    return [
        _plain(
            "lettre-du-fil",
            "2025-01-30 06:00",
            "Le Fil du Jeudi <lettre@filanges.example>",
            "Le fil du jeudi : 20 % sur les canettes",
            "Bonjour,\n\ncette semaine : 20 % sur toutes les canettes avec le code FILDEJEUDI-2025-20.\nRéférence du patron : P-4471-B.\n\n"
            "Pour ne plus recevoir cette lettre, répondez STOP.\n",
            ("List-Unsubscribe", "<mailto:stop@filanges.example>"),
            ("Precedence", "bulk"),
            how="quoted-printable",
        ),
        aside(
            "newsletter-of-a-maker",
            "2026-05-05 06:05",
            [
                ("From", "Kestrelle News <news@register.kestrelle.example>"),
                ("Subject", "Your machine can do more"),
                ("List-Id", "Kestrelle News <news.kestrelle.example>"),
                ("List-Unsubscribe", "<https://register.kestrelle.example/unsubscribe>"),
            ],
            mime.text_part(letter, "html", how="quoted-printable"),
        ),
        _plain(
            "guild-list",
            "2025-06-26 21:21",
            "Edwina Patchwell <edwina@patchwell.example>",
            "[guild] Orkan 720 for sale",
            "Dear all,\n\nI am selling my Orkan 720, serial number VB10-2203344, with the quilt pack activated. Bought in March 2023, "
            "invoice to hand. Offers to me, not to the list please.\n\nEdwina\n",
            ("List-Id", "Quaybridge quilters <guild.quaybridge.example>"),
            ("List-Post", "<mailto:guild@quaybridge.example>"),
            ("Precedence", "list"),
            ("To", "guild@quaybridge.example"),
            ("Cc", SHOP_BOX),
        ),
        _plain(
            "spam-prize",
            "2025-12-29 03:33",
            "Prize Desk <winner@lucky-bobbin.example>",
            "You have WON - claim code 7712-LUCKY-0091",
            "Dear winner,\n\nyour address was drawn! Claim code: 7712-LUCKY-0091\nTicket: 4471 0098 2213\nSend us your bank details today.\n",
        ),
        _plain(
            "spam-finance",
            "2026-08-06 02:02",
            "Crédit Express <offre@credit-vite.example>",
            "Votre dossier N° 88-2213-FR est accepté",
            "Bonjour,\n\nvotre prêt de 20 000 euros est accepté. Numéro de dossier : 88-2213-FR\nCode client : X7-QQ-2210\nRépondez vite !\n",
            charset="iso-8859-1",
        ),
        _plain(
            "inoltro-di-pubblicita",
            "2026-06-25 19:00",
            "Ornella Cucivento <ornella.cucivento@posta.example>",
            "I: Saldi di fine stagione",
            "Avete visto questa offerta? È affidabile?\nOrnella\n\n---------- Messaggio inoltrato ---------\nDa: Filopoli <saldi@filopoli.example>\n"
            "Data: giovedì 25 giugno 2026 08:00\nOggetto: Saldi di fine stagione\nA: Ornella Cucivento <ornella.cucivento@posta.example>\n\n"
            "Solo questa settimana: tutti i filati al 30 % con il codice ESTATE-2026-30.\nOrdini: 4471-2210.\n",
            how="quoted-printable",
        ),
        _plain(
            "loyalty-card",
            "2026-10-08 09:00",
            "Quaybridge Traders <card@quaybridge-traders.example>",
            "Activate your traders' card",
            "Dear member,\n\nyour new traders' card is ready.\n\nCard number: 6034 2210 8871 0045\nActivation code: 8831\n"
            "Please enter both at the till within 30 days.\n",
        ),
        _plain(
            "garantie-frage",
            "2026-11-12 17:45",
            "Falk =?windows-1252?Q?=DCberwasser?= <falk.ueberwasser@postamt.example>",
            "Noch Garantie?",
            "Moin,\n\nhat meine Linea 60 S noch Garantie? Gekauft habe ich sie im Juli 2025 bei Ihnen, die Rechnung finde ich gerade nicht.\n\nFalk\n",
            charset="windows-1252",
        ),
    ]


def messages() -> list[Sample]:
    """Return all of them."""
    return [*_questions(), *_automatic(), *_bulk()]
