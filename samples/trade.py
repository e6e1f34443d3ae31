# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Mail from other traders, which is no confirmation: invoices, parcels, orders, catalogues."""

from __future__ import annotations

import mime
from papers import sheet
from post import Sample, aside

Field = tuple[str, str]


def _plain(
    slug: str, when: str, sender: str, subject: str, text: str, *more: Field, how: str = "8bit", charset: str = "utf-8"
) -> Sample:
    fields = [("From", sender), ("Subject", mime.encoded(subject, charset)), *more]
    return aside(slug, when, fields, mime.text_part(text, "plain", charset, how))


def _with_pdf(slug: str, when: str, sender: str, subject: str, text: str, name: str, pdf: bytes) -> Sample:
    parts = [mime.text_part(text, how="quoted-printable"), mime.file_part(pdf, "application/pdf", name)]
    return aside(
        slug, when, [("From", sender), ("Subject", mime.encoded(subject))], mime.multipart("mixed", parts, f"=_{slug}")
    )


def messages() -> list[Sample]:
    """Return all of them."""
    invoice = sheet(
        "Garnkontor Webermann",
        "Invoice 2025-11-004417",
        [
            ("Customer no.", "77120-3", "Order", "AB-99120-7741"),
            ("Article", "Description", "Quantity", "Price"),
            ("8812-4401-77", "Thread, 12 colours", "6", "118.20"),
            ("8812-4402-01", "Bobbins, metal", "40", "22.00"),
            ("KX55-0098-1204", "Presser foot 1/4 inch", "5", "95.00"),
            "Payable within 30 days to IBAN GB82 WEST 1234 5698 7654 32.",
            "VAT registration: GB 000 0000 00. Delivery note 5512-7781-20.",
        ],
    )
    note = sheet(
        "Spedizioni Rapidfilo",
        "Bolla di consegna 0044-7781-55",
        [
            ("Collo", "Codice", "Peso"),
            ("1", "RF 4410 8812 0097 31", "4,2 kg"),
            ("2", "RF 4410 8812 0097 49", "11,0 kg"),
        ],
    )
    catalogue = sheet(
        "Vesterlyng",
        "Maschinenkatalog Herbst",
        [
            ("Modell", "Artikel", "Preis"),
            ("Brise 300", "VL-30-1000", "899,00"),
            ("Brise 340", "VL-34-1000", "1.199,00"),
            ("Orkan 720", "VL-72-1000", "3.490,00"),
            "Stickmodul Plus und Quiltpaket: Karte mit Produktschlüssel, der Aktivierungscode kommt per E-Mail.",
        ],
    )
    offer = sheet(
        "Nadelwerk Sticherling",
        "Angebot 26-0331",
        [
            ("Pos.", "Artikel", "Nummer"),
            ("1", "Nadeln 130/705 H, 500 Stück", "705-5540-9912"),
            ("2", "Riemen", "R-2210-0087"),
        ],
    )
    return [
        _with_pdf(
            "invoice-wholesaler",
            "2025-11-06 06:30",
            "Garnkontor Webermann <invoices@garnkontor.example>",
            "Invoice 2025-11-004417",
            "Dear customer,\n\nplease find attached our invoice 2025-11-004417 for your order AB-99120-7741.\n\nGarnkontor Webermann\n",
            "invoice_2025-11-004417.pdf",
            invoice,
        ),
        _plain(
            "parcel-on-its-way",
            "2025-02-06 05:10",
            "Swiftcrate <tracking@swiftcrate.example>",
            "Your parcel SC 4471 9920 1183 7765 is on its way",
            "Your parcel will arrive tomorrow between 10:00 and 12:00.\n\nParcel number: SC 4471 9920 1183 7765\nShipment reference: 7QPL-2201-88XD\n"
            "Access code for the locker: 481 902\n\nDo not reply to this message.\n",
            ("Auto-Submitted", "auto-generated"),
        ),
        _plain(
            "pakket-afhalen",
            "2025-10-02 12:00",
            "Pakkethaven <noreply@pakkethaven.example>",
            "Uw pakket ligt klaar",
            "Uw pakket ligt klaar bij het afhaalpunt.\n\nBarcode: 3SPHV0098812774\nAfhaalcode: 6612\nPostcode: 9999 ZX\n",
        ),
        aside(
            "ueberweisung",
            "2025-04-08 16:02",
            [
                ("From", "Sparhaus Garnstetten <konto@sparhaus.example>"),
                ("Subject", mime.encoded("Zahlungseingang über 149,00 EUR", how="B")),
            ],
            mime.text_part(
                "<html><body><table><tr><td>Auftraggeber</td><td>Annegret Wollenschein</td></tr>"
                "<tr><td>IBAN</td><td>GB82 WEST 1234 5698 7654 32</td></tr><tr><td>Verwendungszweck</td><td>Rechnung 2025-0388, "
                "Kundennr. 4410-2</td></tr><tr><td>Betrag</td><td>149,00 EUR</td></tr><tr><td>Buchungsdatum</td><td>08.04.2025</td></tr>"
                "</table></body></html>\n",
                "html",
                how="quoted-printable",
            ),
        ),
        _plain(
            "confirmacion-de-pedido",
            "2025-05-06 13:40",
            "Mercahilo <pedidos@mercahilo.example>",
            "Confirmación de pedido 2025/7781-A",
            "Hemos recibido su pedido.\n\nNúmero de pedido: 2025/7781-A\nCliente: Thimblewick Sewing Rooms\n"
            "Artículo: 4471-XK-0092 Tijeras de bordar\nCódigo de descuento: HILO-2025-88QX\nTotal: 64,90 EUR\n",
            how="base64",
        ),
        _with_pdf(
            "bolla-di-consegna",
            "2026-03-10 08:00",
            "Rapidfilo <bolle@rapidfilo.example>",
            "Bolla di consegna 0044-7781-55",
            "Buongiorno,\n\nin allegato la bolla di consegna della spedizione di oggi.\n\nRapidfilo\n",
            "bolla_0044778155.pdf",
            note,
        ),
        _with_pdf(
            "maschinenkatalog",
            "2025-08-12 10:00",
            "Vesterlyng Vertrieb <vertrieb@vesterlyng.example>",
            "Unser Herbstkatalog",
            "Guten Tag,\n\nanbei der neue Katalog für Ihre Verkaufsräume.\n\nIhr Vesterlyng Vertrieb\n",
            "Katalog_Herbst.pdf",
            catalogue,
        ),
        _with_pdf(
            "angebot-nadeln",
            "2026-03-31 14:14",
            "Nadelwerk Sticherling <angebot@nadelwerk.example>",
            "Angebot 26-0331",
            "Sehr geehrte Damen und Herren,\n\nunser Angebot finden Sie im Anhang. Es gilt bis 30.04.2026.\n\nNadelwerk Sticherling\n",
            "Angebot_26-0331.pdf",
            offer,
        ),
        _plain(
            "upgrade-boxes-shipped",
            "2026-01-22 15:15",
            "Kestrelle Boutique <boutique@kestrelle.example>",
            "Order 5512-7781: your upgrade boxes have been shipped",
            "Dear dealer,\n\nten boxes of the Grand Hoop upgrade are on their way to you (order 5512-7781, parcel SC 4471 9921 0000 1183).\n"
            "Each box holds a card with a product key. Your customers enter key and machine ID on our site and receive the activation code "
            "by e-mail.\n\nKestrelle Boutique\n",
        ),
        _plain(
            "stromrechnung",
            "2026-07-07 04:00",
            "Stadtwerke Quaybridge <rechnung@stadtwerke-quaybridge.example>",
            "Ihre Rechnung Nr. 1102-883-4471",
            "Guten Tag,\n\nIhre Rechnung liegt bereit.\n\nRechnungsnummer: 1102-883-4471\nKunde: Thimblewick Sewing Rooms\n"
            "Zählernummer: 1ESY1160229981\nRechnungsdatum: 06.07.2026\nBetrag: 212,40\n",
            charset="windows-1252",
            how="quoted-printable",
        ),
    ]
