# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""Words of the invented mail in seven languages: labels, what makers write, header words, dates."""

from __future__ import annotations

from datetime import date, datetime

#: The order in which a confirmation lists its facts.
ORDER = (
    "customer_name",
    "email_address",
    "phone_number",
    "postal_address",
    "maker",
    "model",
    "serial_number",
    "machine_id",
    "upgrade_name",
    "product_key",
    "activation_code",
    "firmware_version",
    "purchase_date",
    "registration_date",
    "invoice_number",
)

#: Two spellings a label where makers differ: the first is used unless a confirmation asks for the second.
LABELS: dict[str, dict[str, tuple[str, ...]]] = {
    "en": {
        "customer_name": ("Customer", "Registered to"),
        "email_address": ("E-mail", "Email address"),
        "phone_number": ("Phone", "Telephone"),
        "postal_address": ("Address",),
        "maker": ("Manufacturer", "Brand"),
        "model": ("Model",),
        "serial_number": ("Serial number", "Serial no."),
        "machine_id": ("Machine ID",),
        "upgrade_name": ("Upgrade",),
        "product_key": ("Product key",),
        "activation_code": ("Activation code",),
        "firmware_version": ("Firmware version", "Firmware"),
        "purchase_date": ("Date of purchase", "Purchase date"),
        "registration_date": ("Registration date", "Registered on"),
        "invoice_number": ("Invoice number", "Invoice no."),
    },
    "de": {
        "customer_name": ("Kunde", "Name"),
        "email_address": ("E-Mail", "E-Mail-Adresse"),
        "phone_number": ("Telefon",),
        "postal_address": ("Anschrift", "Adresse"),
        "maker": ("Hersteller",),
        "model": ("Modell",),
        "serial_number": ("Seriennummer", "Serien-Nr."),
        "machine_id": ("Maschinen-ID",),
        "upgrade_name": ("Upgrade", "Erweiterung"),
        "product_key": ("Produktschlüssel",),
        "activation_code": ("Aktivierungscode",),
        "firmware_version": ("Firmware-Version", "Firmware"),
        "purchase_date": ("Kaufdatum",),
        "registration_date": ("Registrierungsdatum", "Registriert am"),
        "invoice_number": ("Rechnungsnummer", "Rechnungs-Nr."),
    },
    "fr": {
        "customer_name": ("Client", "Nom"),
        "email_address": ("Adresse e-mail", "Courriel"),
        "phone_number": ("Téléphone",),
        "postal_address": ("Adresse",),
        "maker": ("Fabricant", "Marque"),
        "model": ("Modèle",),
        "serial_number": ("Numéro de série", "N° de série"),
        "machine_id": ("Identifiant machine", "Identifiant de la machine"),
        "upgrade_name": ("Mise à niveau",),
        "product_key": ("Clé produit", "Clé de produit"),
        "activation_code": ("Code d'activation",),
        "firmware_version": ("Version du micrologiciel", "Micrologiciel"),
        "purchase_date": ("Date d'achat",),
        "registration_date": ("Date d'enregistrement",),
        "invoice_number": ("Numéro de facture", "N° de facture"),
    },
    "nl": {
        "customer_name": ("Klant", "Naam"),
        "email_address": ("E-mailadres", "E-mail"),
        "phone_number": ("Telefoon",),
        "postal_address": ("Adres",),
        "maker": ("Fabrikant", "Merk"),
        "model": ("Model",),
        "serial_number": ("Serienummer",),
        "machine_id": ("Machine-ID",),
        "upgrade_name": ("Upgrade",),
        "product_key": ("Productsleutel",),
        "activation_code": ("Activeringscode", "Activatiecode"),
        "firmware_version": ("Firmwareversie", "Firmware"),
        "purchase_date": ("Aankoopdatum",),
        "registration_date": ("Registratiedatum",),
        "invoice_number": ("Factuurnummer",),
    },
    "es": {
        "customer_name": ("Cliente", "Nombre"),
        "email_address": ("Correo electrónico",),
        "phone_number": ("Teléfono",),
        "postal_address": ("Dirección",),
        "maker": ("Fabricante", "Marca"),
        "model": ("Modelo",),
        "serial_number": ("Número de serie", "N.º de serie"),
        "machine_id": ("ID de la máquina", "Identificador de la máquina"),
        "upgrade_name": ("Ampliación", "Mejora"),
        "product_key": ("Clave de producto", "Clave del producto"),
        "activation_code": ("Código de activación",),
        "firmware_version": ("Versión de firmware", "Firmware"),
        "purchase_date": ("Fecha de compra",),
        "registration_date": ("Fecha de registro",),
        "invoice_number": ("Número de factura",),
    },
    "it": {
        "customer_name": ("Cliente", "Nome"),
        "email_address": ("E-mail",),
        "phone_number": ("Telefono",),
        "postal_address": ("Indirizzo",),
        "maker": ("Produttore", "Marca"),
        "model": ("Modello",),
        "serial_number": ("Numero di serie", "Matricola"),
        "machine_id": ("ID macchina",),
        "upgrade_name": ("Aggiornamento",),
        "product_key": ("Chiave prodotto", "Chiave del prodotto"),
        "activation_code": ("Codice di attivazione",),
        "firmware_version": ("Versione firmware",),
        "purchase_date": ("Data di acquisto",),
        "registration_date": ("Data di registrazione",),
        "invoice_number": ("Numero fattura", "Numero di fattura"),
    },
    "sv": {
        "customer_name": ("Kund", "Namn"),
        "email_address": ("E-post",),
        "phone_number": ("Telefon",),
        "postal_address": ("Adress",),
        "maker": ("Tillverkare", "Märke"),
        "model": ("Modell",),
        "serial_number": ("Serienummer",),
        "machine_id": ("Maskin-ID",),
        "upgrade_name": ("Uppgradering",),
        "product_key": ("Produktnyckel",),
        "activation_code": ("Aktiveringskod",),
        "firmware_version": ("Firmwareversion", "Programversion"),
        "purchase_date": ("Inköpsdatum",),
        "registration_date": ("Registreringsdatum",),
        "invoice_number": ("Fakturanummer",),
    },
}

#: Labels that only one maker uses (they stand in its pattern file).
OWN_LABELS: dict[str, dict[str, dict[str, str]]] = {
    "Vesterlyng": {
        "en": {"machine_id": "Device identifier"},
        "de": {"machine_id": "Gerätekennung", "activation_code": "Freischaltcode"},
        "sv": {"machine_id": "Apparatkod"},
    },
    "Kestrelle": {
        "en": {"product_key": "Card key"},
        "fr": {"machine_id": "Empreinte machine", "product_key": "Clé de la carte"},
    },
    "Orvando": {
        "es": {"activation_code": "Código de desbloqueo"},
        "nl": {"activation_code": "Ontgrendelcode"},
    },
}

#: What a maker writes: subject, greeting, opening, opening where a PDF holds the codes, closing, title of the PDF.
MAKER_WORDS: dict[str, dict[str, str]] = {
    "en": {
        "subject": "Your {maker} activation confirmation",
        "greeting": "Dear {name},",
        "opening": "thank you for activating {upgrade} on your {model}. Your machine is now registered with us.",
        "attached": "Your activation is complete. You will find the confirmation attached as a PDF.",
        "closing": "Please keep this confirmation: you need it for the warranty and after a reset of the machine.",
        "title": "Activation confirmation",
    },
    "de": {
        "subject": "Ihre Aktivierungsbestätigung von {maker}",
        "greeting": "Guten Tag {name},",
        "opening": "vielen Dank für die Aktivierung von {upgrade} auf Ihrer {model}. Ihre Maschine ist jetzt registriert.",
        "attached": "Ihre Aktivierung ist abgeschlossen. Die Bestätigung finden Sie im Anhang als PDF.",
        "closing": "Bitte bewahren Sie diese Bestätigung auf, Sie brauchen sie für die Garantie und nach einem Reset.",
        "title": "Aktivierungsbestätigung",
    },
    "fr": {
        "subject": "Confirmation d'activation {maker}",
        "greeting": "Bonjour {name},",
        "opening": "merci d'avoir activé {upgrade} sur votre {model}. Votre machine est maintenant enregistrée.",
        "attached": "Votre activation est terminée. Vous trouverez la confirmation en pièce jointe au format PDF.",
        "closing": "Conservez cette confirmation : elle vous servira pour la garantie et après une réinitialisation.",
        "title": "Confirmation d'activation",
    },
    "nl": {
        "subject": "Uw activeringsbevestiging van {maker}",
        "greeting": "Beste {name},",
        "opening": "bedankt voor het activeren van {upgrade} op uw {model}. Uw machine is nu geregistreerd.",
        "attached": "Uw activering is voltooid. De bevestiging vindt u in de bijlage als PDF.",
        "closing": "Bewaar deze bevestiging goed: u hebt haar nodig voor de garantie en na een reset van de machine.",
        "title": "Activeringsbevestiging",
    },
    "es": {
        "subject": "Confirmación de activación de {maker}",
        "greeting": "Estimado/a {name}:",
        "opening": "gracias por activar {upgrade} en su {model}. Su máquina ya está registrada.",
        "attached": "La activación ha finalizado. Encontrará la confirmación adjunta en formato PDF.",
        "closing": "Guarde esta confirmación: la necesitará para la garantía y tras un restablecimiento de la máquina.",
        "title": "Confirmación de activación",
    },
    "it": {
        "subject": "Conferma di attivazione {maker}",
        "greeting": "Gentile {name},",
        "opening": "grazie per aver attivato {upgrade} sulla Sua {model}. La macchina è ora registrata.",
        "attached": "L'attivazione è completata. Trova la conferma in allegato in formato PDF.",
        "closing": "Conservi questa conferma: servirà per la garanzia e dopo un ripristino della macchina.",
        "title": "Conferma di attivazione",
    },
    "sv": {
        "subject": "Din aktiveringsbekräftelse från {maker}",
        "greeting": "Hej {name},",
        "opening": "tack för att du har aktiverat {upgrade} på din {model}. Maskinen är nu registrerad.",
        "attached": "Aktiveringen är klar. Bekräftelsen finns bifogad som PDF.",
        "closing": "Spara den här bekräftelsen: du behöver den för garantin och efter en återställning av maskinen.",
        "title": "Aktiveringsbekräftelse",
    },
}

#: What Kestrelle writes instead, and Orvando in part: no two makers write alike.
OTHER_WORDS: dict[str, dict[str, dict[str, str]]] = {
    "Kestrelle": {
        "en": {
            "subject": "Kestrelle: your upgrade has been activated",
            "opening": "Good news! {upgrade} is ready on your {model}. These are the details of your activation:",
            "closing": "Keep this message in a safe place. Our service desk cannot send the code a second time.",
        },
        "de": {
            "subject": "Kestrelle: Ihr Upgrade wurde aktiviert (Bestätigung)",
            "opening": "Gute Nachrichten! {upgrade} steht auf Ihrer {model} bereit. Hier die Angaben zu Ihrer Aktivierung:",
            "closing": "Heben Sie diese Nachricht gut auf. Wir können den Code kein zweites Mal senden.",
        },
        "fr": {
            "opening": "Bonne nouvelle ! {upgrade} est prêt sur votre {model}. Voici le détail de votre activation :",
            "closing": "Gardez ce message en lieu sûr. Nous ne pourrons pas vous renvoyer le code.",
        },
        "nl": {
            "opening": "Goed nieuws! {upgrade} staat klaar op uw {model}. Hieronder de gegevens van uw activering:",
            "closing": "Bewaar dit bericht op een veilige plek. Wij kunnen de code geen tweede keer sturen.",
        },
        "es": {
            "opening": "¡Buenas noticias! {upgrade} ya está disponible en su {model}. Estos son los datos de la activación:",
            "closing": "Guarde este mensaje en un lugar seguro. No podremos enviarle el código otra vez.",
        },
        "it": {
            "opening": "Buone notizie! {upgrade} è pronto sulla Sua {model}. Ecco i dati dell'attivazione:",
            "closing": "Conservi questo messaggio in un luogo sicuro. Non potremo inviare il codice una seconda volta.",
        },
        "sv": {
            "opening": "Goda nyheter! {upgrade} är klar att använda på din {model}. Här är uppgifterna om aktiveringen:",
            "closing": "Förvara det här meddelandet säkert. Vi kan inte skicka koden en gång till.",
        },
    },
    "Orvando": {
        "en": {"opening": "We confirm the activation of {upgrade} for the machine named below ({model})."},
        "de": {"opening": "wir bestätigen die Aktivierung von {upgrade} für die unten genannte Maschine ({model})."},
        "fr": {"opening": "nous confirmons l'activation de {upgrade} pour la machine indiquée ci-dessous ({model})."},
        "nl": {"opening": "wij bevestigen de activering van {upgrade} voor de hieronder genoemde machine ({model})."},
        "es": {"opening": "Confirmamos la activación de {upgrade} en la máquina indicada a continuación ({model})."},
        "it": {"opening": "confermiamo l'attivazione di {upgrade} per la macchina indicata di seguito ({model})."},
        "sv": {"opening": "vi bekräftar aktiveringen av {upgrade} för maskinen nedan ({model})."},
    },
}

#: Header words: from, sent, date, to, cc, subject, prefix of a forward's subject, "wrote".
HEADS: dict[str, dict[str, str]] = {
    "en": {"from": "From", "sent": "Sent", "date": "Date", "to": "To", "cc": "Cc", "subject": "Subject", "fwd": "Fwd"},
    "de": {
        "from": "Von",
        "sent": "Gesendet",
        "date": "Datum",
        "to": "An",
        "cc": "Cc",
        "subject": "Betreff",
        "fwd": "WG",
    },
    "fr": {"from": "De", "sent": "Envoyé", "date": "Date", "to": "À", "cc": "Cc", "subject": "Objet", "fwd": "TR"},
    "nl": {
        "from": "Van",
        "sent": "Verzonden",
        "date": "Datum",
        "to": "Aan",
        "cc": "Cc",
        "subject": "Onderwerp",
        "fwd": "Fwd",
    },
    "es": {
        "from": "De",
        "sent": "Enviado",
        "date": "Fecha",
        "to": "Para",
        "cc": "Cc",
        "subject": "Asunto",
        "fwd": "RV",
    },
    "it": {"from": "Da", "sent": "Inviato", "date": "Data", "to": "A", "cc": "Cc", "subject": "Oggetto", "fwd": "I"},
    "sv": {
        "from": "Från",
        "sent": "Skickat",
        "date": "Datum",
        "to": "Till",
        "cc": "Kopia",
        "subject": "Ämne",
        "fwd": "VB",
    },
}

_MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "nl": "januari februari maart april mei juni juli augustus september oktober november december",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
}
_DAYS = {
    "en": "Monday Tuesday Wednesday Thursday Friday Saturday Sunday",
    "de": "Montag Dienstag Mittwoch Donnerstag Freitag Samstag Sonntag",
    "fr": "lundi mardi mercredi jeudi vendredi samedi dimanche",
    "nl": "maandag dinsdag woensdag donderdag vrijdag zaterdag zondag",
    "es": "lunes martes miércoles jueves viernes sábado domingo",
    "it": "lunedì martedì mercoledì giovedì venerdì sabato domenica",
    "sv": "måndag tisdag onsdag torsdag fredag lördag söndag",
}


def label(language: str, kind: str, maker: str = "", variant: int = 0) -> str:
    """Return the label of a kind: the maker's own for variant 2, else the first or second common one."""
    own = OWN_LABELS.get(maker, {}).get(language, {})
    if variant == 2 and kind in own:
        return own[kind]
    spellings = LABELS[language][kind]
    return spellings[min(variant, len(spellings) - 1)]


def say(language: str, word: str, maker: str) -> str:
    """Return one of the maker's sentences, with fields to be filled in."""
    return OTHER_WORDS.get(maker, {}).get(language, {}).get(word) or MAKER_WORDS[language][word]


def month(language: str, day: date) -> str:
    """Return the name of the month."""
    return _MONTHS[language].split()[day.month - 1]


def weekday(language: str, day: date) -> str:
    """Return the name of the day of the week."""
    return _DAYS[language].split()[day.weekday()]


def long_date(language: str, day: date) -> str:
    """Return a date with the name of its month, as people of the language write it."""
    name = month(language, day)
    if language == "de":
        return f"{day.day}. {name} {day.year}"
    if language == "es":
        return f"{day.day} de {name} de {day.year}"
    return f"{day.day} {name} {day.year}"


def short_date(language: str, day: date, form: str = "") -> str:
    """Return a date in figures; ``form`` is iso, us, dots, slashes or dashes, else what is usual in the language."""
    form = form or {"de": "dots", "nl": "dashes", "sv": "iso"}.get(language, "slashes")
    return {
        "iso": f"{day:%Y-%m-%d}",
        "us": f"{day:%m/%d/%Y}",
        "dots": f"{day:%d.%m.%Y}",
        "slashes": f"{day:%d/%m/%Y}",
        "dashes": f"{day:%d-%m-%Y}",
        "long": long_date(language, day),
    }[form]


def sent_line(language: str, when: datetime) -> str:
    """Return a header line's date with day, month name and time, as mail programs write it in the language."""
    name, start = weekday(language, when), long_date(language, when)
    if language == "en":
        return f"{name}, {when.day} {month('en', when)} {when.year} {when:%H:%M}"
    between = {"de": ", {d} ", "sv": " den {d} ", "fr": " {d} ", "nl": " {d} ", "es": ", {d} ", "it": " {d} "}
    return f"{name}{between[language].format(d=start)}{when:%H:%M}"
