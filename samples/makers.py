"""The invented makers: how their codes are made, what their upgrades are called, their pattern files.

Codes are drawn from SHA-256 of a seed, so that every run draws the same ones. Check digits come from
python-stdnum. ``Tindavar`` is described by nobody: its confirmations must be read by their labels alone.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from stdnum import damm, luhn
from stdnum.iso7064 import mod_37_36, mod_97_10

DIGITS = "0123456789"
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
KESTRELLE_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
ORVANDO_ALPHABET = "ACDEFGHJKLMNPQRTUVWXY34679"


@dataclass(frozen=True)
class Shape:
    """One code of one maker: its printed form, its check digit and from which character on that counts."""

    form: str
    check: str = "none"
    check_from: int = 0
    alphabet: str = DIGITS + LETTERS


@dataclass(frozen=True)
class Offer:
    """A paid upgrade: prefix of its product keys, firmware it needs, what it is called in each language."""

    prefix: str
    needs: str
    names: dict[str, str]


@dataclass(frozen=True)
class Maker:
    """An invented maker."""

    name: str
    sender: tuple[str, str]
    models: tuple[str, ...]
    shapes: dict[str, Shape]
    offers: tuple[Offer, ...]


def _draw(seed: str, alphabet: str, number: int) -> str:
    digest = hashlib.sha256(f"{seed}/{number}".encode()).digest()
    return alphabet[int.from_bytes(digest[:8], "big") % len(alphabet)]


def _check_digits(check: str, payload: str) -> str:
    if check == "luhn":
        return str(luhn.calc_check_digit(payload))
    if check == "damm":
        return str(damm.calc_check_digit(payload))
    if check == "mod_37_36":
        return str(mod_37_36.calc_check_digit(payload))
    if check == "mod_97_10":
        return str(mod_97_10.calc_check_digits(payload))
    return ""


def draw_code(shape: Shape, seed: str, prefix: str = "") -> str:
    """Return the printed form of a code that satisfies the shape, the same for the same seed."""
    for attempt in range(1000):
        drawn = []
        for number, sign in enumerate(shape.form):
            at = f"{seed}/{attempt}"
            fill = {"#": DIGITS, "@": LETTERS, "*": shape.alphabet}.get(sign)
            drawn.append(_draw(at, fill, number) if fill else sign)
        plain = [n for n, sign in enumerate(drawn) if sign not in "-./ "]
        for number, letter in zip(plain, prefix, strict=False):
            drawn[number] = letter
        payload = "".join(drawn[n] for n in plain)
        width = {"none": 0, "mod_97_10": 2}.get(shape.check, 1)
        if width:
            digits = _check_digits(shape.check, payload[shape.check_from : len(payload) - width])
            allowed = DIGITS if shape.form[-1] == "#" else shape.alphabet
            if any(d not in allowed for d in digits):
                continue
            for number, digit in zip(plain[-width:], digits, strict=True):
                drawn[number] = digit
        if "*" not in shape.form or any(c in DIGITS for c in payload):
            return "".join(drawn)
    raise ValueError(f"no code of the form {shape.form} could be drawn")


def spoil(code: str) -> str:
    """Return the code with one digit changed, so that its check digit fails: what a slip of the finger does."""
    for at in range(len(code) - 4, 0, -1):
        if code[at].isdigit():
            return code[:at] + str((int(code[at]) + 3) % 10) + code[at + 1 :]
    raise ValueError(f"{code} has no digit to change")


VESTERLYNG = Maker(
    "Vesterlyng",
    ("Vesterlyng Service", "service@mail.vesterlyng.example"),
    ("Brise 300", "Brise 340", "Orkan 720"),
    {
        "machine_id": Shape("VL-####-####-#", "luhn", 2),
        "serial_number": Shape("VB##-#######"),
        "product_key": Shape("@@##-####-####-##", "luhn", 2),
        "activation_code": Shape("#####-#####-#####-#####", "luhn"),
    },
    (
        Offer(
            "EM",
            "2.40",
            {
                "en": "Embroidery Module Plus",
                "de": "Stickmodul Plus",
                "fr": "Module Broderie Plus",
                "nl": "Borduurmodule Plus",
                "es": "Módulo de Bordado Plus",
                "it": "Modulo Ricamo Plus",
                "sv": "Broderimodul Plus",
            },
        ),
        Offer(
            "QP",
            "2.60",
            {
                "en": "Quilt Pack",
                "de": "Quiltpaket",
                "fr": "Pack Quilt",
                "nl": "Quiltpakket",
                "es": "Paquete Quilt",
                "it": "Pacchetto Quilt",
                "sv": "Quiltpaket",
            },
        ),
        Offer(
            "MT",
            "3.10",
            {
                "en": "Motif Library",
                "de": "Motivsammlung",
                "fr": "Collection de motifs",
                "nl": "Motievenbibliotheek",
                "es": "Colección de motivos",
                "it": "Raccolta motivi",
                "sv": "Motivbibliotek",
            },
        ),
    ),
)

KESTRELLE = Maker(
    "Kestrelle",
    ("Kestrelle Registration", "no-reply@register.kestrelle.example"),
    ("Aria 5", "Duo 8"),
    {
        "machine_id": Shape("K*****-*****", "mod_37_36", 0, KESTRELLE_ALPHABET),
        "serial_number": Shape("KS########", "luhn", 2),
        "product_key": Shape("@@**-****-****", "mod_37_36", 0, KESTRELLE_ALPHABET),
        "activation_code": Shape("****-****-****-****-****", "mod_37_36", 0, KESTRELLE_ALPHABET),
    },
    (
        Offer(
            "PS",
            "1.8",
            {
                "en": "Precision Stitch Suite",
                "de": "Präzisionsstich-Paket",
                "fr": "Suite Point Précis",
                "nl": "Precisiesteekpakket",
                "es": "Conjunto Puntada Precisa",
                "it": "Suite Punto Preciso",
                "sv": "Precisionssömpaket",
            },
        ),
        Offer(
            "HB",
            "1.9",
            {
                "en": "Grand Hoop",
                "de": "Großrahmen",
                "fr": "Grand Cadre",
                "nl": "Groot Borduurraam",
                "es": "Bastidor Grande",
                "it": "Telaio Grande",
                "sv": "Stor Båge",
            },
        ),
        Offer(
            "CM",
            "2.0.1",
            {
                "en": "Placement Camera",
                "de": "Positionierkamera",
                "fr": "Caméra de placement",
                "nl": "Plaatsingscamera",
                "es": "Cámara de posición",
                "it": "Fotocamera di posizione",
                "sv": "Placeringskamera",
            },
        ),
    ),
)

ORVANDO = Maker(
    "Orvando",
    ("Orvando Care", "care@orvando.example"),
    ("Linea 40", "Linea 60 S"),
    {
        "machine_id": Shape("OR-###-###-###", "damm", 2),
        "serial_number": Shape("####-@@-####"),
        "product_key": Shape("@@-****-****-##", "mod_97_10", 0, ORVANDO_ALPHABET),
        "activation_code": Shape("*****-*****-*****", "none", 0, ORVANDO_ALPHABET),
    },
    (
        Offer(
            "LS",
            "5.2",
            {
                "en": "Lettering Studio",
                "de": "Schriftstudio",
                "fr": "Atelier de lettrage",
                "nl": "Letterstudio",
                "es": "Estudio de Letras",
                "it": "Studio Lettere",
                "sv": "Textstudio",
            },
        ),
        Offer(
            "CW",
            "5.4",
            {
                "en": "Cutwork Set",
                "de": "Richelieu-Set",
                "fr": "Kit Richelieu",
                "nl": "Richelieuset",
                "es": "Juego de Calado",
                "it": "Set Intaglio",
                "sv": "Richelieuset",
            },
        ),
    ),
)

TINDAVAR = Maker(
    "Tindavar",
    ("Tindavar Sewing", "post@tindavar.example"),
    ("Heron 2", "Heron 2 XL"),
    {
        "machine_id": Shape("TQ#-##*#-##*"),
        "serial_number": Shape("T######/##"),
        "product_key": Shape("****-##**-*#*#"),
        "activation_code": Shape("#*#**-****#-#****"),
    },
    (
        Offer(
            "",
            "11.3",
            {
                "en": "Ribbon Stitches",
                "de": "Bändchenstiche",
                "fr": "Points ruban",
                "nl": "Lintsteken",
                "es": "Puntos de cinta",
                "it": "Punti nastro",
                "sv": "Bandstygn",
            },
        ),
    ),
)

MAKERS = {m.name: m for m in (VESTERLYNG, KESTRELLE, ORVANDO, TINDAVAR)}

_HEADS = {
    "Vesterlyng": """\
also = ["VESTERLYNG Nähmaschinen", "Vesterlyng Sewing"]
senders = ["mail.vesterlyng.example"]
models = ["Brise 300", "Brise 340", "Orkan 720"]
enter = ["product_key", "activation_code"]
where = "Settings, Upgrades"
where_save = "Settings, Memory, Copy to stick"
where_update = "Settings, Information, Update"
manual = "chapter 11, Upgrades"
""",
    "Kestrelle": """\
also = ["Ateliers Kestrelle"]
senders = ["register.kestrelle.example"]
models = ["Aria 5", "Duo 8"]
enter = ["activation_code"]
where = "Home, gear wheel, Extras"
where_save = "Home, gear wheel, My designs, Export"
before = ["Take the hoop off the embroidery arm: it moves when the machine starts."]
""",
    "Orvando": """\
also = ["Máquinas Orvando"]
senders = ["orvando.example"]
models = ["Linea 40", "Linea 60 S"]
enter = ["product_key", "activation_code"]
where = "Menu 7, Options"
where_update = "Menu 9, Version"
after = ["Open Menu 7, Options once more and compare the list with this sheet."]
""",
}

#: What is done once the codes of an upgrade are entered, by the prefix of its product keys.
_STEPS = {
    "MT": "Load the content pack from a memory stick: Library, Import.",
    "CM": "Calibrate the camera: Home, gear wheel, Camera.",
}

_LABELS = {
    "Vesterlyng": """\
[labels.en]
machine_id = ["Device identifier"]

[labels.de]
machine_id = ["Gerätekennung"]
activation_code = ["Freischaltcode"]

[labels.sv]
machine_id = ["Apparatkod"]
""",
    "Kestrelle": """\
[labels.en]
product_key = ["Card key"]

[labels.fr]
machine_id = ["Empreinte machine"]
product_key = ["Clé de la carte"]
""",
    "Orvando": """\
[labels.es]
activation_code = ["Código de desbloqueo"]

[labels.nl]
activation_code = ["Ontgrendelcode"]
""",
}

#: Look-alikes that must not be taken for a code of the maker.
_NOT_FOUND = {
    "Vesterlyng": [
        ("Parcel number: 00340 43416 12345 67890", "activation_code"),
        ("Invoice RE-2025-004417, customer 88412", "product_key"),
        ("Telephone 020 7946 0123", "machine_id"),
    ],
    "Kestrelle": [
        ("Order number: 4471-9920-1183", "product_key"),
        ("IBAN GB82 WEST 1234 5698 7654 32", "activation_code"),
    ],
    "Orvando": [
        ("Article OR-2025 threads, 12 colours", "machine_id"),
        ("Voucher SUMMER-THREAD-15", "activation_code"),
    ],
}


def pattern_file(maker: Maker) -> str:
    """Return the text of the maker's pattern file (TOML)."""
    parts = [f'maker = "{maker.name}"\n', _HEADS[maker.name], "\n"]
    for kind, shape in maker.shapes.items():
        parts.append(f'[codes.{kind}]\nshape = "{shape.form}"\n')
        if "*" in shape.form:
            parts.append(f'alphabet = "{shape.alphabet}"\n')
        parts.append(f'check = "{shape.check}"\n')
        if shape.check_from:
            parts.append(f"check_from = {shape.check_from}\n")
        parts.append("\n")
    parts += [_LABELS[maker.name], "\n"]
    for order, offer in enumerate(maker.offers, start=1):
        also = ", ".join(f'"{n}"' for n in dict.fromkeys(offer.names.values()) if n != offer.names["en"])
        parts.append(f'[[upgrades]]\nname = "{offer.names["en"]}"\nalso = [{also}]\norder = {order}\n')
        parts.append(f'needs_firmware = "{offer.needs}"\nkey_prefix = "{offer.prefix}"\n')
        parts.append(f'steps = ["{_STEPS[offer.prefix]}"]\n\n' if offer.prefix in _STEPS else "\n")
    parts.append("[proofs]\nfound = [\n")
    words = {
        "machine_id": ("Machine ID", "Maschinen-ID"),
        "serial_number": ("Serial number", "Seriennummer"),
        "product_key": ("Product key", "Produktschlüssel"),
        "activation_code": ("Activation code", "Aktivierungscode"),
    }
    for kind, shape in maker.shapes.items():
        for number, label in enumerate(words[kind]):
            code = draw_code(shape, f"proof/{maker.name}/{kind}/{number}")
            plain = "".join(c for c in code if c.isalnum())
            parts.append(f'  {{ text = "{label}: {code}", kind = "{kind}", value = "{plain}" }},\n')
    parts.append("]\nnot_found = [\n")
    for text, kind in _NOT_FOUND[maker.name]:
        parts.append(f'  {{ text = "{text}", kind = "{kind}" }},\n')
    parts.append("]\n")
    return "".join(parts)
