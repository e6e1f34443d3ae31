"""Messages to weigh the reader's signs by: described makers and others, and noise of many kinds that leads astray.

Deterministic for a seed. A set for measuring is made from other makers, label texts and page layouts than the one the
weights were taken from, so what is measured is what a message nobody has seen would show.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from email.message import EmailMessage
from functools import cache

from wide_confirmations import by_hand, damaged, html_body, random_code, suffix
from wide_papers import LAYOUTS, paper
from wide_words import LABELS, LANGUAGES, NOISE, SENTENCES

from counterfoil.model import CODE_KINDS, Check, Kind
from counterfoil.patterns import Patterns
from counterfoil.patterns.makers import MakerPattern, parse_maker
from counterfoil.patterns.normal import normal, normal_code
from counterfoil.patterns.vocabulary import load_vocabularies
from counterfoil.patterns.words import fold

#: What is done to a message; three of eighteen are as the maker sent them.
NOISES = (
    "none", "none", "none", "other numbers", "decoys", "beside", "old code", "damaged", "by hand", "mistyped label",
    "reply", "prose", "two machines", "empty place", "mistyped code", "example", "unlabelled", "unlabelled",
)  # fmt: skip
_GIVEN = ("Runa", "Ilse", "Odile", "Teun", "Belen", "Marek", "Sunniva", "Amandine", "Joris", "Fenja", "Tilda", "Oskar")
_FAMILY = ("Aldermoor", "Bruckwald", "Chantrelle", "Duinhoven", "Estrellado", "Fjordal", "Gansewinkel", "Hollerbusch")
_HOUSES = ("Brindlewick", "Corvessa", "Dunmarle", "Eldrova", "Farnholt", "Gavrelle", "Hestering", "Ilvarra")
_ALPHABETS = ("23456789ABCDEFGHJKLMNPQRSTUVWXYZ", "0123456789ABCDEF", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
#: Shapes of described makers: kind -> shape, check, first character the check covers.
_SHAPES: tuple[dict[str, tuple[str, str, int]], ...] = (
    {"machine_id": ("B*****-*****", "mod_37_36", 0), "serial_number": ("BW########", "luhn", 2),
     "product_key": ("@@**-****-****", "mod_37_36", 0), "activation_code": ("****-****-****-****", "mod_37_36", 0)},
    {"machine_id": ("####-####-##", "luhn", 0), "serial_number": ("#########", "none", 0),
     "product_key": ("####-####-####", "luhn", 0), "activation_code": ("#####-#####-#####", "luhn", 0)},
    {"machine_id": ("DM-######-@", "none", 0), "serial_number": ("DM######", "none", 0),
     "product_key": ("****-****-****", "none", 0), "activation_code": ("*****-*****-*****-*****", "none", 0)},
    {"machine_id": ("***-***-***", "mod_37_36", 0), "serial_number": ("##-######", "luhn", 0),
     "product_key": ("******-******", "none", 0), "activation_code": ("********-********", "mod_37_36", 0)},
)  # fmt: skip
_DECOYS = {
    "en": ("Invoice number", "Tracking number", "Telephone", "Ticket"),
    "de": ("Rechnungsnummer", "Sendungsnummer", "Telefon", "Ticket"),
    "fr": ("Numéro de facture", "Numéro de suivi", "Téléphone", "Ticket"),
    "nl": ("Factuurnummer", "Trackingnummer", "Telefoon", "Ticket"),
    "es": ("Número de factura", "Número de seguimiento", "Teléfono", "Ticket"),
    "it": ("Numero fattura", "Numero di spedizione", "Telefono", "Ticket"),
}
_PROSE = {
    "en": "The machine is a {model}, serial number {serial_number} and machine ID {machine_id}. They sent me the "
    "product key {product_key}, and the activation code is {activation_code}. Registered on {registration_date}.",
    "de": "Die Maschine ist eine {model}, Seriennummer {serial_number} und Maschinen-ID {machine_id}. Der "
    "Produktschlüssel ist {product_key}, und der Aktivierungscode lautet {activation_code}. Registriert am "
    "{registration_date}.",
    "fr": "La machine est une {model}, numéro de série {serial_number} et ID machine {machine_id}. La clé produit est "
    "{product_key}, et le code d'activation est {activation_code}. Enregistrée le {registration_date}.",
}


@dataclass(frozen=True, slots=True)
class House:
    """A maker: its name, and its maker file's content where somebody wrote one."""

    name: str
    pattern: MakerPattern | None = None


@dataclass(slots=True)
class Sent:
    """One message: its bytes, the normal form of each value in it by kind, and what was done to it."""

    data: bytes
    noise: str
    language: str
    medium: str
    house: House
    truth: dict[Kind, set[str]] = field(default_factory=dict)

    def says(self, kind: Kind, found: str) -> bool:
        """Tell whether a value is right; a customer who types in small letters has the same name and model."""
        return fold(found) in {fold(value) for value in self.truth.get(kind, ())}


@cache
def houses(held_out: bool) -> tuple[House, ...]:
    """Return four makers, two of them described; others for the set that measures."""
    own = _HOUSES[4:] if held_out else _HOUSES[:4]
    shapes = _SHAPES[2:] if held_out else _SHAPES[:2]
    # One shape without a check digit on either side.
    made = []
    for name, codes in zip(own, shapes, strict=False):
        text = f'maker = "{name}"\nsenders = ["{name.lower()}.example"]\nmodels = ["Lindra 200", "Corvina 300"]\n'
        for kind, (shape, check, start) in codes.items():
            text += f'[codes.{kind}]\nshape = "{shape}"\ncheck = "{check}"\ncheck_from = {start}\n'
        made.append(House(name, parse_maker(f"{name}.toml", text.encode())))
    return (*made, *(House(name) for name in own[len(made) :]))


def patterns_for(held_out: bool) -> Patterns:
    """Return a reader that knows the described makers."""
    return Patterns(load_vocabularies(), [h.pattern for h in houses(held_out) if h.pattern is not None])


def mail(number: int, seed: int, *, held_out: bool) -> Iterator[Sent]:
    """Yield messages; languages, media, makers and layouts in turn, noise by chance.

    Args:
        number: how many.
        seed: of the random choices.
        held_out: other makers, label texts and page layouts than without it.
    """
    rng = random.Random(seed)
    for n in range(number):
        yield _Writer(rng, n, held_out).write()


class _Writer:
    """One message in the making."""

    def __init__(self, rng: random.Random, number: int, held_out: bool) -> None:
        self.rng, self.number, self.held_out = rng, number, held_out
        self.language = rng.choice(LANGUAGES)
        self.medium = rng.choice(("pdf", "html", "text"))
        self.house = houses(held_out)[number % 4]
        self.noise = rng.choice(NOISES)
        if self.noise == "mistyped code" and self.house.pattern is None:
            # Nothing in such a message tells a slip: what it says is all there is to be right about.
            self.noise = "by hand"
        if self.noise in ("prose", "reply", "by hand", "mistyped code"):
            self.medium = "text"
        if self.noise == "prose":
            self.language = rng.choice(sorted(_PROSE))
        self.day = date(2025, 1, 1) + timedelta(days=number % 600)
        self.name = f"{rng.choice(_GIVEN)} {rng.choice(_FAMILY)}{suffix(number)}"
        self.values = self._values()
        self.truth: dict[Kind, set[str]] = {}

    def _values(self) -> dict[str, str]:
        rng = self.rng
        made = {"customer_name": self.name, "model": rng.choice(("Lindra 200", "Corvina 300"))}
        groups = {
            "serial_number": (("0123456789",), ((9,), (3, 7))),
            "machine_id": (_ALPHABETS, ((4, 4, 4), (3, 5, 2), (12,), (4, 6))),
            "product_key": (_ALPHABETS, ((5, 5, 5), (4, 4, 4, 4), (6, 6))),
            "activation_code": (_ALPHABETS, ((4, 4, 4, 4), (8, 8), (5, 5, 5, 5))),
        }
        for kind, (alphabets, sizes) in groups.items():
            shaped = self._shaped(Kind(kind))
            made[kind] = shaped or random_code(rng, rng.choice(alphabets), rng.choice(sizes))
        made["registration_date"] = self.day.isoformat()
        made["firmware_version"] = f"{rng.randrange(1, 5)}.{rng.randrange(0, 60):02d}"
        return made

    def _shaped(self, kind: Kind) -> str | None:
        """Return a code in the maker's shape with a right check digit."""
        shape = self.house.pattern.shapes.get(kind) if self.house.pattern else None
        if shape is None:
            return None
        while True:
            kinds = {"*": _ALPHABETS[2], "#": "0123456789", "@": "ABCDEFGHJKLMNPQRSTUVWXYZ"}
            text = "".join(self.rng.choice(kinds[c]) if c in kinds else c for c in shape.text)
            for last in kinds.get(shape.text[-1], shape.text[-1]):
                code = text[:-1] + last
                if shape.check(normal_code(code)) is not Check.FAILED and sum(c.isdigit() for c in code[:8]) >= 2:
                    return code

    def write(self) -> Sent:
        """Return the message."""
        written = dict(self.values)
        self.truth = {Kind(kind): {normal(Kind(kind), value)} for kind, value in self.values.items()}
        self.truth[Kind.EMAIL_ADDRESS] = {f"kunde{self.number}@post.example"}
        self.truth[Kind.MAKER] = {self.house.name}
        if self.noise == "mistyped code":
            written = {
                k: self._slip(v) if self._is_checked(Kind(k)) and self._chance(0.4) else v for k, v in written.items()
            }
        rows = [(LABELS[kind][self.language][-1 if self.held_out else 0], value) for kind, value in written.items()]
        rows = self._noisy(rows)
        message = self._envelope()
        head = SENTENCES[self.language]
        sender = f"service@{self.house.name.lower()}.example"
        forward = (
            f"---------- Forwarded message ---------\nFrom: {sender}\nDate: {self.day.isoformat()} 09:00\n"
            f"Subject: {head[0]}\nTo: {self.name} <kunde{self.number}@post.example>\n\n{head[1]}\n\n{head[2]}\n\n"
        )
        colon = "：" if self.language == "ja" else " :" if self.language == "fr" else ":"
        lines = "\n".join(f"{label}{colon} {value}".rstrip() if label else value for label, value in rows)
        if self.noise == "prose":
            message.set_content(f"{head[3]}\n\n{_PROSE[self.language].format(**written)}\n\n{self.name}\n")
        elif self.noise in ("by hand", "mistyped code"):
            named = f"{self.house.name}\n\n" if self.noise == "mistyped code" else ""
            message.set_content(f"{head[3]}\n\n{named}{by_hand(self.rng, lines)}\n\n{self.name}\n")
        elif self.noise == "reply":
            old = self._other_rows()
            quoted = "\n".join(f"> {label}{colon} {value}" for label, value in old)
            message.set_content(f"{head[3]}\n\n{lines}\n\n{self.name}\n\n> {head[1]}\n>\n{quoted}\n")
        elif self.medium == "text":
            message.set_content(f"{head[3]}\n\n{forward}{lines}\n")
        elif self.medium == "html":
            message.set_content(html_body(f"{head[3]}\n\n{forward}", rows, self.rng.randrange(4)), subtype="html")
        else:
            message.set_content(f"{head[3]}\n\n{forward}")
            layouts = LAYOUTS[1 if self.held_out else 0 :: 2]
            pdf = paper(head[0], rows, self.rng.choice(layouts), self.language)
            name = f"confirmation-{self.number}.pdf"
            message.add_attachment(pdf, maintype="application", subtype="pdf", filename=name)
        return Sent(message.as_bytes(), self.noise, self.language, self.medium, self.house, self.truth)

    def _envelope(self) -> EmailMessage:
        message = EmailMessage()
        message["From"] = f"{self.name} <kunde{self.number}@post.example>"
        message["To"] = "help@threadworks.example"
        message["Subject"] = f"Fwd: {SENTENCES[self.language][0]}"
        message["Date"] = f"{(self.day + timedelta(days=2)):%a, %d %b %Y} 10:15:00 +0000"
        message["Message-ID"] = f"<k{self.number}.{self.rng.randrange(10**9)}@post.example>"
        return message

    # --- noise --------------------------------------------------------------------------------------

    def _chance(self, share: float) -> bool:
        return self.rng.random() < share

    def _noisy(self, rows: list[tuple[str, str]]) -> list[tuple[str, str]]:
        rng = self.rng
        order, customer, before = NOISE[self.language]
        if self.noise == "other numbers":
            return [(order, f"{rng.randrange(10**8, 10**9)}"), *rows, (customer, f"K-{rng.randrange(10**5, 10**6)}")]
        if self.noise == "decoys":
            for decoy in self._decoys():
                rows.insert(rng.randrange(len(rows) + 1), decoy)
        if self.noise == "beside":
            label, number = rng.choice(self._decoys())
            return [(a, f"{b}   {label} {number}" if self._chance(0.3) else b) for a, b in rows]
        if self.noise == "old code":
            return [*rows, (before, random_code(rng, _ALPHABETS[0], (4, 4, 4)))]
        if self.noise == "damaged":
            return [(label, damaged(rng, value)) for label, value in rows]
        if self.noise == "mistyped label":
            return [(self._slip(label) if self._chance(0.5) else label, value) for label, value in rows]
        if self.noise == "two machines":
            return [*rows, *self._other_rows()]
        if self.noise == "empty place":
            return self._emptied(rows)
        if self.noise == "unlabelled":
            return [
                *(
                    ("", v) if k in CODE_KINDS and self._chance(0.5) else (a, v)
                    for k, (a, v) in zip(self.values, rows, strict=True)
                ),
                *self._decoys(),
            ]
        if self.noise == "example":
            at = rng.randrange(3, 7)
            label, value = rows[at]
            rows[at] = (f"{label} ({order})" if self._chance(0.5) else label, value)
            rows.insert(at, (label, f"z. B. {random_code(rng, _ALPHABETS[0], (4, 4, 4))}"))
        return rows

    def _is_checked(self, kind: Kind) -> bool:
        """Tell whether a slip in this maker's codes of a kind can be seen: nothing else tells one from the other."""
        shape = self.house.pattern.shapes.get(kind) if self.house.pattern else None
        return shape is not None and shape.check_name != "none"

    def _decoys(self) -> list[tuple[str, str]]:
        rng = self.rng
        labels = (*_DECOYS.get(self.language, _DECOYS["en"]), *NOISE[self.language][:2])
        values = (
            f"RE-2025-{rng.randrange(10**6):06d}", f"1Z{random_code(rng, _ALPHABETS[2], (3, 3, 4))}",
            f"+44 20 7946 0{rng.randrange(100, 999)}", f"#{rng.randrange(10**6)}",
            f"{rng.randrange(10**8, 10**9)}", random_code(rng, "0123456789", (4, 4, 4)),
        )  # fmt: skip
        numbered = rng.sample(list(enumerate(zip(labels, values, strict=True))), 3)
        for at, (_, value) in numbered:
            # These two kinds are told by the reader as well, and rightly so.
            kind = {0: Kind.INVOICE_NUMBER, 2: Kind.PHONE_NUMBER}.get(at)
            if kind is not None:
                self.truth.setdefault(kind, set()).add(normal(kind, value))
        return [pair for _, pair in numbered]

    def _other_rows(self) -> list[tuple[str, str]]:
        """Return rows of another machine of the same maker."""
        kept, self.values = self.values, self._values()
        other, self.values = self.values, kept
        return [(LABELS[kind][self.language][0], value) for kind, value in other.items() if Kind(kind) in CODE_KINDS]

    def _emptied(self, rows: list[tuple[str, str]]) -> list[tuple[str, str]]:
        """Leave the place of a code empty; another number stands in the next row."""
        kind = self.rng.choice(sorted(CODE_KINDS))
        at = list(self.values).index(kind)
        del self.truth[kind]
        return [*rows[:at], (rows[at][0], ""), self.rng.choice(self._decoys()), *rows[at + 1 :]]

    def _slip(self, text: str) -> str:
        """Return a text with one letter left out, doubled or swapped with the next, or one digit wrong."""
        at = self.rng.randrange(len(text) - 1)
        if text[at].isdigit():
            return text[:at] + str((int(text[at]) + self.rng.randrange(1, 10)) % 10) + text[at + 1 :]
        way = self.rng.randrange(3)
        if way == 0 and len(text) > 4:
            return text[:at] + text[at + 1 :]
        return text[:at] + text[at] + text[at:] if way == 1 else text[:at] + text[at + 1] + text[at] + text[at + 2 :]
