"""Makes confirmations of makers nobody described: many code shapes, five languages, text, HTML and PDF.

Deterministic for a seed. The labels here are written independently of the package's vocabulary, as a maker would.
"""

from __future__ import annotations

import io
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from email.message import EmailMessage

from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

LANGUAGES = ("en", "de", "fr", "nl", "es")
MEDIA = ("text", "html", "pdf")

_LABELS: dict[str, dict[str, tuple[str, ...]]] = {
    "machine_id": {
        "en": ("Machine ID", "Machine identifier", "ID of your machine"),
        "de": ("Maschinen-ID", "Maschinenkennung", "Geräte-ID"),
        "fr": ("Identifiant machine", "ID machine", "Identifiant de la machine"),
        "nl": ("Machine-ID", "Machinenummer-ID", "ID van de machine"),
        "es": ("ID de máquina", "Identificador de la máquina", "ID de la máquina"),
    },
    "product_key": {
        "en": ("Product key", "Upgrade key", "Product Key"),
        "de": ("Produktschlüssel", "Produkt-Schlüssel", "Upgrade-Schlüssel"),
        "fr": ("Clé produit", "Clé de produit", "Clé du produit"),
        "nl": ("Productsleutel", "Productcode", "Upgrade-sleutel"),
        "es": ("Clave de producto", "Clave del producto", "Código de producto"),
    },
    "activation_code": {
        "en": ("Activation code", "Your activation code", "Activation Code"),
        "de": ("Aktivierungscode", "Freischaltcode", "Ihr Aktivierungscode"),
        "fr": ("Code d'activation", "Code d’activation", "Votre code d'activation"),
        "nl": ("Activeringscode", "Activatiecode", "Uw activeringscode"),
        "es": ("Código de activación", "Su código de activación", "Clave de activación"),
    },
    "serial_number": {
        "en": ("Serial number", "Serial no."),
        "de": ("Seriennummer", "Serien-Nr."),
        "fr": ("Numéro de série", "N° de série"),
        "nl": ("Serienummer", "Serienr."),
        "es": ("Número de serie", "N.º de serie"),
    },
    "model": {"en": ("Model",), "de": ("Modell",), "fr": ("Modèle",), "nl": ("Model",), "es": ("Modelo",)},
    "registration_date": {
        "en": ("Registered on", "Registration date"),
        "de": ("Registriert am", "Registrierungsdatum"),
        "fr": ("Enregistré le", "Date d'enregistrement"),
        "nl": ("Geregistreerd op", "Registratiedatum"),
        "es": ("Registrado el", "Fecha de registro"),
    },
    "firmware_version": {
        "en": ("Firmware version", "Firmware"),
        "de": ("Firmware-Version", "Firmware"),
        "fr": ("Version du micrologiciel", "Micrologiciel"),
        "nl": ("Firmwareversie", "Firmware"),
        "es": ("Versión de firmware", "Firmware"),
    },
}

_WORDS = {
    "en": (
        "Confirmation of your activation",
        "Dear customer,",
        "your upgrade has been activated. Please keep this for the warranty.",
        "Forwarded message",
        "From",
        "Date",
        "Subject",
        "To",
        "Hello, this is what I received.",
    ),
    "de": (
        "Bestätigung Ihrer Aktivierung",
        "Guten Tag,",
        "Ihr Upgrade wurde aktiviert. Bitte bewahren Sie dies für die Garantie auf.",
        "Weitergeleitete Nachricht",
        "Von",
        "Datum",
        "Betreff",
        "An",
        "Guten Tag, das habe ich bekommen.",
    ),
    "fr": (
        "Confirmation de votre activation",
        "Bonjour,",
        "votre mise à niveau est activée. À conserver pour la garantie.",
        "Message transféré",
        "De",
        "Date",
        "Objet",
        "À",
        "Bonjour, voici ce que j'ai reçu.",
    ),
    "nl": (
        "Bevestiging van uw activering",
        "Geachte klant,",
        "uw upgrade is geactiveerd. Bewaar dit voor de garantie.",
        "Doorgestuurd bericht",
        "Van",
        "Datum",
        "Onderwerp",
        "Aan",
        "Hallo, dit heb ik gekregen.",
    ),
    "es": (
        "Confirmación de su activación",
        "Estimado cliente:",
        "su mejora ha sido activada. Consérvelo para la garantía.",
        "Mensaje reenviado",
        "De",
        "Fecha",
        "Asunto",
        "Para",
        "Hola, esto es lo que recibí.",
    ),
}

_GIVEN = ("Runa", "Ilse", "Odile", "Teun", "Belen", "Marek", "Sunniva", "Amandine", "Joris", "Inés", "Fenja", "Tilda")
_FAMILY = ("Aldermoor", "Brückwald", "Chantrelle", "Duinhoven", "Estrellado", "Fjordal", "Gansewinkel", "Hollerbusch")
_ALPHABETS = (
    "0123456789",
    "23456789ABCDEFGHJKLMNPQRSTUVWXYZ",
    "0123456789ABCDEF",
    "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ",
)


@dataclass(frozen=True, slots=True)
class Confirmation:
    """One message with what stands in it: kind -> value as printed."""

    data: bytes
    language: str
    medium: str
    truth: dict[str, str]


def confirmations(
    number: int, seed: int = 7, pdf_share: float | None = None, full_pages: float = 0.5
) -> Iterator[Confirmation]:
    """Yield confirmations, languages and media in turn.

    Args:
        number: how many.
        seed: of the random choices.
        pdf_share: share of messages with a PDF; None takes text, HTML and PDF in equal parts.
        full_pages: share of the PDFs whose page is filled with small print (about 2,400 characters in place of 500).
    """
    rng = random.Random(seed)
    for n in range(number):
        language = LANGUAGES[n % len(LANGUAGES)]
        if pdf_share is None:
            medium = MEDIA[(n // len(LANGUAGES)) % len(MEDIA)]
        else:
            medium = "pdf" if (n * pdf_share) % 1 < pdf_share else ("text", "html")[n % 2]
        yield make(rng, n, language, medium, full_pages)


def make(rng: random.Random, number: int, language: str, medium: str, full_pages: float = 0.5) -> Confirmation:
    """Make one confirmation, forwarded inline to the shop by the customer."""
    day = date(2025, 1, 1) + timedelta(days=number % 600)
    name = f"{rng.choice(_GIVEN)} {rng.choice(_FAMILY)}{_suffix(number)}"
    truth = {
        "machine_id": _code(rng, rng.choice(_ALPHABETS), rng.choice(((4, 4, 4), (3, 5, 2), (12,), (4, 6)))),
        "product_key": _code(rng, rng.choice(_ALPHABETS[1:]), rng.choice(((5, 5, 5), (4, 4, 4, 4), (6, 6)))),
        "activation_code": _code(rng, rng.choice(_ALPHABETS[1:]), rng.choice(((4, 4, 4, 4), (8, 8), (5, 5, 5, 5)))),
        "serial_number": _code(rng, "0123456789", rng.choice(((9,), (3, 7)))),
        "model": f"{rng.choice(('Lindra', 'Corvina', 'Tessel'))} {rng.randrange(2, 9) * 100}",
        "registration_date": day.isoformat(),
        "firmware_version": f"{rng.randrange(1, 5)}.{rng.randrange(0, 60):02d}",
    }
    rows = [(rng.choice(_LABELS[kind][language]), value) for kind, value in truth.items()]
    words = _WORDS[language]
    message = EmailMessage()
    address = f"kunde{number}@post.example"
    message["From"] = f"{name} <{address}>"
    message["To"] = "help@threadworks.example"
    message["Subject"] = f"Fwd: {words[0]}"
    message["Date"] = f"{(day + timedelta(days=2)):%a, %d %b %Y} 10:15:00 +0000"
    message["Message-ID"] = f"<c{number}.{rng.randrange(10**9)}@post.example>"
    head = (
        f"{words[8]}\n\n---------- {words[3]} ---------\n{words[4]}: service@maker{number % 7}.example\n"
        f"{words[5]}: {day.isoformat()} 09:00\n{words[6]}: {words[0]}\n{words[7]}: {name} <{address}>\n\n{words[1]}\n\n{words[2]}\n\n"
    )
    if medium == "text":
        message.set_content(head + "\n".join(f"{label}: {value}" for label, value in rows) + "\n")
    elif medium == "html":
        message.set_content(_html(head, rows), subtype="html")
    else:
        message.set_content(head)
        paper = _pdf(words[0], rows, rng.randrange(4), small_print=rng.random() < full_pages)
        message.add_attachment(paper, maintype="application", subtype="pdf", filename=f"confirmation-{number}.pdf")
    return Confirmation(
        message.as_bytes(), language, medium, {**truth, "customer_name": name, "email_address": address}
    )


def _suffix(number: int) -> str:
    """Return letters that make a family name this number's own."""
    letters = ""
    while True:
        number, rest = divmod(number, 20)
        letters += "bcdfghjklmnpqrstvwxz"[rest] + "aeiou"[rest % 5]
        if not number:
            return letters


def _code(rng: random.Random, alphabet: str, groups: tuple[int, ...]) -> str:
    """Return a code of the given groups with at least two digits."""
    while True:
        code = "-".join("".join(rng.choice(alphabet) for _ in range(size)) for size in groups)
        if sum(c.isdigit() for c in code) >= 2:
            return code


def _html(head: str, rows: list[tuple[str, str]]) -> str:
    paragraphs = "".join(f"<div>{line.replace('<', '&lt;')}</div>" if line else "<br>" for line in head.split("\n"))
    cells = "".join(f"<tr><td><b>{label}</b></td><td>{value}</td></tr>" for label, value in rows)
    return f"<html><body>{paragraphs}<table>{cells}</table></body></html>"


def _pdf(title: str, rows: list[tuple[str, str]], layout: int, *, small_print: bool) -> bytes:
    """Return a one-page PDF: 0 colon lines, 1 two columns, 2 value under label, 3 right-aligned values."""
    out = io.BytesIO()
    page = Canvas(out, pagesize=A4, invariant=1)
    page.setFont("Helvetica-Bold", 15)
    page.drawString(70, 770, title)
    page.setFont("Helvetica", 10)
    y = 720
    if layout == 1:
        # All labels are drawn before all values: drawing order says nothing about what belongs together.
        for n, (label, _) in enumerate(rows):
            page.drawString(70, y - 22 * n, label)
        for n, (_, value) in enumerate(rows):
            page.drawString(260, y - 22 * n, value)
    for n, (label, value) in enumerate(rows):
        if layout == 0:
            page.drawString(70, y - 22 * n, f"{label}: {value}")
        elif layout == 2:
            x = 70 if n % 2 == 0 else 320
            page.drawString(x, y - 20 * (n // 2 * 2), label)
            page.drawString(x, y - 20 * (n // 2 * 2) - 14, value)
        elif layout == 3:
            page.drawString(70, y - 22 * n, label)
            page.drawRightString(500, y - 22 * n, value)
    _body_text(page, small_print=small_print)
    page.showPage()
    page.save()
    return out.getvalue()


_NOTES = (
    "The machine must stay switched on until the update has ended.",
    "Keep this sheet together with the invoice. It serves as a proof for the warranty.",
    "Unplug the machine before you change the needle plate.",
)
#: The small print that fills the page of most confirmations: about 1,900 characters.
_SMALL_PRINT = (
    "Conditions. This confirmation belongs to the machine named above and to no other. The upgrade becomes part of that",
    "machine: when the machine is sold or given away, the upgrade goes with it. A board that is changed by an authorised",
    "workshop shows another identifier; ask for a new code then and have this sheet at hand. The upgrade cannot be moved",
    "to a second machine, and it cannot be exchanged for money. Firmware is provided as it is at the time of delivery.",
    "During an update do not switch the machine off, do not pull the memory stick and do not start to sew. Should the",
    "display stay dark for more than ten minutes, leave the machine as it is and call the workshop that sold it. Designs",
    "and stitches of your own are not kept by the update: save them on a memory stick beforehand. The warranty covers",
    "faults of material and making for the time agreed in the country of purchase. It does not cover needles, lamps,",
    "belts and other parts that wear, nor damage by thread of poor quality, by dust and lint, by oil that is not meant",
    "for the machine, by a fall, by water, or by work of persons who are not trained for it. Before you clean the hook or",
    "change the plate, switch off and pull the mains plug. Keep fingers away from the needle while the machine runs. Oil",
    "the hook as the manual says. Let a workshop look after the machine once a year or after every three million stitches.",
    "Personal data are used to answer questions about this machine and are not passed on. You may ask at any time what is",
    "on file and have it corrected. Questions are answered by the shop that sold the machine. Thank you for sewing with us.",
)


def _body_text(page: Canvas, *, small_print: bool) -> None:
    for n, line in enumerate(_NOTES):
        page.drawString(70, 420 - 14 * n, line)
    if small_print:
        page.setFont("Helvetica", 7.5)
        for n, line in enumerate(_SMALL_PRINT):
            page.drawString(70, 340 - 10 * n, line)
