"""The words around forwards in 14 languages, and texts that hold none. Common practice, no source; from memory."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """What programs of one language write: the line over a forward, over an earlier message, and on a line alone."""

    forwarded: str
    original: str
    begin: str
    sender: str
    date: str
    sent: str
    to: str
    subject: str
    cc: str = "Cc"
    clock: str = " "


LANGUAGES = {
    "en": Words(
        "Forwarded message",
        "Original Message",
        "Begin forwarded message:",
        "From",
        "Date",
        "Sent",
        "To",
        "Subject",
        "Cc",
        " ",
    ),
    "de": Words(
        "Weitergeleitete Nachricht",
        "Ursprüngliche Nachricht",
        "Anfang der weitergeleiteten Nachricht:",
        "Von",
        "Datum",
        "Gesendet",
        "An",
        "Betreff",
        "Kopie",
        " um ",
    ),
    "fr": Words(
        "Message transféré",
        "Message d'origine",
        "Début du message transféré :",
        "De",
        "Date",
        "Envoyé",
        "À",
        "Objet",
        "Cc",
        " à ",
    ),
    "nl": Words(
        "Doorgestuurd bericht",
        "Oorspronkelijk bericht",
        "Begin doorgestuurd bericht:",
        "Van",
        "Datum",
        "Verzonden",
        "Aan",
        "Onderwerp",
        "Cc",
        " om ",
    ),
    "es": Words(
        "Mensaje reenviado",
        "Mensaje original",
        "Inicio del mensaje reenviado:",
        "De",
        "Fecha",
        "Enviado el",
        "Para",
        "Asunto",
        "Cc",
        ", ",
    ),
    "it": Words(
        "Messaggio inoltrato",
        "Messaggio originale",
        "Inizio messaggio inoltrato:",
        "Da",
        "Data",
        "Inviato",
        "A",
        "Oggetto",
        "Cc",
        " alle ore ",
    ),
    "pt": Words(
        "Mensagem encaminhada",
        "Mensagem original",
        "Início da mensagem encaminhada:",
        "De",
        "Data",
        "Enviada em",
        "Para",
        "Assunto",
        "Cc",
        " às ",
    ),
    "sv": Words(
        "Vidarebefordrat meddelande",
        "Ursprungligt meddelande",
        "Vidarebefordrat brev:",
        "Från",
        "Datum",
        "Skickat",
        "Till",
        "Ämne",
        "Kopia",
        " kl. ",
    ),
    "da": Words(
        "Videresendt meddelelse",
        "Oprindelig meddelelse",
        "Start på videresendt besked:",
        "Fra",
        "Dato",
        "Sendt",
        "Til",
        "Emne",
        "Cc",
        " kl. ",
    ),
    "nb": Words(
        "Videresendt melding",
        "Opprinnelig melding",
        "Start på videresendt melding:",
        "Fra",
        "Dato",
        "Sendt",
        "Til",
        "Emne",
        "Kopi",
        " kl. ",
    ),
    "fi": Words(
        "Välitetty viesti",
        "Alkuperäinen viesti",
        "Välitetty viesti alkaa:",
        "Lähettäjä",
        "Päivämäärä",
        "Lähetetty",
        "Vastaanottaja",
        "Aihe",
        "Kopio",
        " klo ",
    ),
    "pl": Words(
        "Wiadomość przekazana",
        "Wiadomość oryginalna",
        "Początek przekazywanej wiadomości:",
        "Od",
        "Data",
        "Wysłano",
        "Do",
        "Temat",
        "DW",
        ", ",
    ),
    "cs": Words(
        "Přeposlaná zpráva",
        "Původní zpráva",
        "Začátek přeposílané zprávy:",
        "Od",
        "Datum",
        "Odesláno",
        "Komu",
        "Předmět",
        "Kopie",
        " v ",
    ),
    "ja": Words(
        "転送されたメッセージ",
        "元のメッセージ",
        "転送されたメッセージ：",
        "差出人",
        "日付",
        "送信日時",
        "宛先",
        "件名",
        "Cc",
        " ",
    ),
}

#: Texts that hold no forward, by what they are.
NEGATIVES: dict[str, str] = {
    "a reply": (
        "Thank you!\n"
        "\n"
        "On Tue, 4 Mar 2025 at 10:12, Desk <support@threadneedle.example> wrote:\n"
        "> Dear Marit,\n"
        "> the code is on its way.\n"
        "> Desk\n"
    ),
    "a reply, German": (
        "Danke!\n"
        "\n"
        "Am Di., 4. März 2025 um 10:12 Uhr schrieb Desk <support@threadneedle.example>:\n"
        "\n"
        "> Guten Tag,\n"
        "> der Code kommt.\n"
    ),
    "a reply, French": (
        "Merci !\n"
        "\n"
        "Le mar. 4 mars 2025 à 10:12, Desk <support@threadneedle.example> a écrit :\n"
        "\n"
        "> Bonjour,\n"
        "> le code arrive.\n"
    ),
    "a reply, Dutch": (
        "Bedankt!\n\nOp di 4 mrt 2025 om 10:12 schreef Desk <support@threadneedle.example>:\n\n> Hallo\n"
    ),
    "a reply, Spanish": (
        "¡Gracias!\n\nEl mar, 4 mar 2025 a las 10:12, Desk (<support@threadneedle.example>) escribió:\n\n> Hola\n"
    ),
    "a reply, Japanese": (
        "ありがとうございます。\n\n2025年3月4日(火) 10:12 Desk <support@threadneedle.example>:\n\n> こんにちは\n"
    ),
    "a reply in a reply": (
        "Yes.\n"
        "\n"
        "On 5 Mar 2025, at 08:00, A <a@one.example> wrote:\n"
        "\n"
        "> Did it work?\n"
        ">\n"
        ">> On 4 Mar 2025, at 10:12, B <b@two.example> wrote:\n"
        ">>\n"
        ">> I sent the code.\n"
    ),
    "a newsletter": (
        "Threads and needles in March\n"
        "\n"
        "From our workshop: embroidery for beginners\n"
        "To the shop: threadneedle.example\n"
        "Subject to change: course times\n"
        "Date: 12 March 2025, 18:00\n"
        "\n"
        "Unsubscribe: threadneedle.example/u\n"
    ),
    "a parcel": (
        "Your parcel is on its way.\n"
        "\n"
        "From: Harbour Street 1, 10115\n"
        "To: Mill Lane 2, 20095\n"
        "Date: 4 March 2025\n"
        "Parcel number: 00340434161094042557\n"
    ),
    "an invoice": (
        "INVOICE 2025-0417\n"
        "\n"
        "Date: 4 March 2025\n"
        "To: Marit Solvang, Mill Lane 2\n"
        "Subject: needles, 3 packets\n"
        "------------------------------\n"
        "Total: 12.00\n"
    ),
    "a journey": ("Your booking\n\nFrom: Aldermoor\nTo: Dunholme\nDate: 4 March 2025\nDeparture: 10:12\n"),
    "a signature": ("My machine stopped again.\n\n--\nMarit Solvang\nFrom: the sewing room\nTo: be continued\n"),
    "talk of a forward": (
        "I will send you the forwarded message: it comes tomorrow.\n"
        "The original message is lost, I am afraid.\n"
        "From: what I remember the code began with 7K.\n"
    ),
    "a rule": ("Product key: AB12-CD34\n--------------------\nTotal: 5\n____________________\nSee you soon\n"),
    "away": ("I am away until 17 March. In urgent cases write to: desk@two.example\nSent: automatically\n"),
    "a form": (
        "Name: Marit Solvang\n"
        "E-mail: marit@solvang.example\n"
        "Subject: warranty\n"
        "Message: is my machine still covered?\n"
        "Date: 4 March 2025\n"
    ),
    "a list of mail": (
        "These I have kept:\n\nSubject: Your code\nSubject: Your second code\nSubject: Course in March\n"
    ),
    "questions": ("> What was my code?\n\nIt is on the card.\n\n> To: whom do I write?\n\nTo us.\n"),
    "an appointment": ("Appointment\n\nWhen: 4 March 2025 10:12\nWhere: the shop\nFrom: 10:00\nTo: 11:00\n"),
    "a phrase without a block": ("-----Original Message-----\n"),
    "sent from": ("The code does not work.\n\nSent from my phone\nTo: err is human\n"),
}
