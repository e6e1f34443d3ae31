"""Label-only confirmations of makers nobody described, in five languages and many layouts, with their true codes."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from pattern_layouts import Item, page_document, table_document, text_document

from counterfoil.model import Document, Kind
from counterfoil.patterns.vocabulary import load_vocabularies

LANGUAGES = ("en", "de", "fr", "nl", "es")
CODES = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
_SAFE = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
_WORDS = {
    "en": (
        "Thank you for activating your upgrade.",
        "Please keep this confirmation for your warranty.",
        "Kind regards",
    ),
    "de": (
        "Vielen Dank für die Aktivierung.",
        "Bitte bewahren Sie diese Bestätigung gut auf.",
        "Mit freundlichen Grüßen",
    ),
    "fr": ("Merci d'avoir activé votre extension.", "Conservez cette confirmation pour la garantie.", "Cordialement"),
    "nl": ("Bedankt voor het activeren.", "Bewaar deze bevestiging voor de garantie.", "Met vriendelijke groet"),
    "es": ("Gracias por activar su mejora.", "Guarde esta confirmación para la garantía.", "Atentamente"),
}

Pairs = list[tuple[str, str]]


@dataclass(frozen=True)
class Sample:
    """A document and the codes that stand in it; ``layout`` names how it was laid out."""

    document: Document
    truth: dict[Kind, str]
    layout: str
    language: str


def _group(rng: random.Random, length: int, alphabet: str = _SAFE) -> str:
    return "".join(rng.choice(alphabet) for _ in range(length))


def _digit_in(code: str, rng: random.Random) -> str:
    if any(c.isdigit() for c in code):
        return code
    at = rng.choice([i for i, c in enumerate(code) if c.isalnum()])
    return code[:at] + rng.choice("23456789") + code[at + 1 :]


def _key(rng: random.Random) -> str:
    separator = rng.choice("----  ./")
    size = rng.choice((4, 4, 4, 5, 5, 3))
    groups = rng.choice((3, 4, 4, 5, 6))
    if rng.random() < 0.15:
        return _digit_in(_group(rng, rng.choice((10, 12, 16))), rng)
    if separator == "." and rng.random() < 0.7:
        separator = "-"
    return _digit_in(separator.join(_group(rng, size) for _ in range(groups)), rng)


def _machine_id(rng: random.Random) -> str:
    letters = "ABCDEFGHJKMNPQRSTVWXYZ"
    return rng.choice(
        (
            lambda: f"{_group(rng, 2, letters)}-{_group(rng, 6, '0123456789')}-{_group(rng, 1, letters)}",
            lambda: f"{_group(rng, 3, letters)}{_group(rng, 8, '0123456789')}",
            lambda: _digit_in("-".join(_group(rng, 4, "0123456789ABCDEF") for _ in range(4)), rng),
            lambda: _group(rng, 10, "0123456789"),
            lambda: _digit_in(":".join(_group(rng, 4) for _ in range(3)), rng).replace(":", "-"),
        )
    )()


def _serial(rng: random.Random) -> str:
    return rng.choice(
        (
            lambda: _group(rng, rng.choice((7, 8, 9, 10, 12)), "0123456789"),
            lambda: f"{_group(rng, 2, 'ABCDEFGHKMPRSTW')}{_group(rng, 7, '0123456789')}",
            lambda: f"{_group(rng, 4, '0123456789')}-{_group(rng, 6, '0123456789')}",
            lambda: f"{_group(rng, 3, '0123456789')}/{_group(rng, 5, '0123456789')}",
        )
    )()


def _labels(rng: random.Random, language: str) -> dict[Kind, str]:
    vocabulary = next(v for v in load_vocabularies() if v.language == language)
    labels = {kind: rng.choice(vocabulary.labels[kind]) for kind in CODES}
    style = rng.random()
    if style < 0.1:
        return {kind: label.upper() for kind, label in labels.items()}
    if style < 0.3:
        return labels
    return {kind: label[:1].upper() + label[1:] for kind, label in labels.items()}


def _others(language: str) -> Pairs:
    return {
        "en": [
            ("Customer", "Liv Tarrant"),
            ("Model", "Corda 310"),
            ("Order number", "8821-44710"),
            ("Date", "20 April 2026"),
        ],
        "de": [
            ("Kunde", "Änne Vogtländer"),
            ("Modell", "Corda 310"),
            ("Kundennummer", "88214471"),
            ("Datum", "20. April 2026"),
        ],
        "fr": [
            ("Client", "Océane Varlin"),
            ("Modèle", "Corda 310"),
            ("N° de commande", "8821-44710"),
            ("Date", "20 avril 2026"),
        ],
        "nl": [
            ("Klant", "Lotte van der Vlas"),
            ("Model", "Corda 310"),
            ("Klantnummer", "88214471"),
            ("Datum", "20 april 2026"),
        ],
        "es": [
            ("Cliente", "Inés Valdora"),
            ("Modelo", "Corda 310"),
            ("Número de pedido", "8821-44710"),
            ("Fecha", "20 de abril de 2026"),
        ],
    }[language]


def _break(rng: random.Random, code: str) -> tuple[str, str] | None:
    places = [i for i, c in enumerate(code) if c == "-" and 3 <= i < len(code) - 3]
    if not places:
        return None
    at = rng.choice(places)
    return code[: at + 1], code[at + 1 :]


def _around(language: str, body: str) -> str:
    hello, keep, bye = _WORDS[language]
    return f"{hello}\n\n{body}\n\n{keep}\n\n{bye}\nVelotta\n"


# --- layouts -------------------------------------------------------------------------------------


def text_lines(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Lines of label, mark and code, perhaps in bullets."""
    colon = rng.choice((": ", ":", " : ", ":   ", " = ", " – ", ":\t"))
    bullet = rng.choice(("", "", "- ", "* ", "• "))
    return text_document(_around(language, "\n".join(f"{bullet}{a}{colon}{b}" for a, b in pairs)))


def text_columns(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Two columns parted by spaces or dots."""
    width = max(len(a) for a, _ in pairs) + rng.choice((3, 4, 6))
    dots = rng.random() < 0.3
    rows = [(a + " ").ljust(width + 4, ".") + " " + b if dots else a.ljust(width) + b for a, b in pairs]
    return text_document(_around(language, "\n".join(rows)))


def text_under(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Each code under its label."""
    indent, gap = rng.choice(("", "  ", "    ")), rng.choice(("\n", "\n\n"))
    mark = rng.choice((":", ""))
    return text_document(_around(language, "\n\n".join(f"{a}{mark}{gap}{indent}{b}" for a, b in pairs)))


def text_one_line(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """All in one line."""
    joint = rng.choice((", ", "; ", " | ", " / "))
    return text_document(_around(language, joint.join(f"{a}: {b}" for a, b in pairs)))


def text_broken(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Codes broken at a hyphen, the rest in the next line under them."""
    rows = []
    for a, b in pairs:
        parts = _break(rng, b)
        head = f"{a}: "
        rows.append(f"{head}{parts[0]}\n{' ' * len(head)}{parts[1]}" if parts else f"{head}{b}")
    return text_document(_around(language, "\n".join(rows)))


def table_rows(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Rows of label and code."""
    colon = rng.choice((":", "", " :"))
    return table_document([[_WORDS[language][0]], *[[a + colon, b] for a, b in pairs], [_WORDS[language][1]]])


def table_fours(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Rows of two labels and two codes."""
    colon = rng.choice((":", ""))
    rows = []
    for i in range(0, len(pairs), 2):
        rows.append([part for a, b in pairs[i : i + 2] for part in (a + colon, b)])
    return table_document([[_WORDS[language][0]], *rows])


def table_header(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """A row of labels over a row of codes."""
    return table_document([[_WORDS[language][0]], [a for a, _ in pairs], [b for _, b in pairs], [_WORDS[language][1]]])


def table_stacked(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """One column, labels and codes in turn."""
    return table_document([[cell] for pair in pairs for cell in pair])


def _page(language: str, items: list[Item]) -> Document:
    hello, keep, bye = _WORDS[language]
    items = [item for item in items if item.text.strip(" :")]
    last = max(item.y for item in items)
    return page_document(
        [Item(60, 40, "VELOTTA"), Item(60, 70, hello), *items, Item(60, last + 60, keep), Item(60, last + 80, bye)]
    )


def page_lines(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Lines of label, colon and code."""
    return _page(language, [Item(60, 100 + 16 * i, f"{a}: {b}") for i, (a, b) in enumerate(pairs)])


def page_columns(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Labels left, codes in a column of their own."""
    x, step = rng.choice((260, 320)), rng.choice((14, 18, 24))
    colon = rng.choice((":", ""))
    items = []
    for i, (a, b) in enumerate(pairs):
        items += [Item(60, 100 + step * i, a + colon), Item(x, 100 + step * i, b)]
    return _page(language, items)


def page_right(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Labels left, codes set flush right."""
    items = []
    for i, (a, b) in enumerate(pairs):
        items += [Item(60, 100 + 18 * i, a), Item(530, 100 + 18 * i, b, right=True)]
    return _page(language, items)


def page_under(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Each code under its label."""
    items = []
    for i, (a, b) in enumerate(pairs):
        items += [Item(60, 100 + 40 * i, a), Item(60, 113 + 40 * i, b)]
    return _page(language, items)


def page_label_columns(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Two columns of labels with their codes underneath."""
    items = []
    for i, (a, b) in enumerate(pairs):
        x, y = (60, 330)[i % 2], 100 + 44 * (i // 2)
        items += [Item(x, y, a), Item(x, y + 14, b)]
    return _page(language, items)


def page_two_columns(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Two columns of lines."""
    items = []
    half = (len(pairs) + 1) // 2
    for i, (a, b) in enumerate(pairs):
        x, y = (60, 340)[i // half], 100 + 18 * (i % half)
        items.append(Item(x, y, f"{a}: {b}"))
    return _page(language, items)


def page_broken(rng: random.Random, pairs: Pairs, language: str) -> Document:
    """Codes broken at a hyphen, the rest in the next line of their column."""
    items = []
    y = 100.0
    for a, b in pairs:
        parts = _break(rng, b)
        items += [Item(60, y, a), Item(320, y, parts[0] if parts else b)]
        if parts:
            y += 12
            items.append(Item(320, y, parts[1]))
        y += 20
    return _page(language, items)


LAYOUTS: tuple[Callable[[random.Random, Pairs, str], Document], ...] = (
    text_lines,
    text_columns,
    text_under,
    text_one_line,
    text_broken,
    table_rows,
    table_fours,
    table_header,
    table_stacked,
    page_lines,
    page_columns,
    page_right,
    page_under,
    page_label_columns,
    page_two_columns,
    page_broken,
)


def samples(seed: int, each: int, *, spoilt: bool = False) -> list[Sample]:
    """Make samples: every layout in every language, ``each`` times over.

    Args:
        seed: of the random choices.
        each: samples for each layout and language.
        spoilt: whether one pair of each is damaged: without its value or label, with a strange label, cut off, twice.
    """
    rng = random.Random(seed)
    made = []
    for language in LANGUAGES:
        for layout in LAYOUTS:
            for _ in range(each):
                truth = {
                    Kind.MACHINE_ID: _machine_id(rng),
                    Kind.SERIAL_NUMBER: _serial(rng),
                    Kind.PRODUCT_KEY: _key(rng),
                    Kind.ACTIVATION_CODE: _key(rng),
                }
                labels = _labels(rng, language)
                pairs = [(labels[kind], code) for kind, code in truth.items()]
                pairs += rng.sample(_others(language), rng.randint(0, 3))
                rng.shuffle(pairs)
                if spoilt:
                    _spoil(rng, pairs)
                made.append(Sample(layout(rng, pairs, language), truth, layout.__name__, language))
    return made


def _spoil(rng: random.Random, pairs: Pairs) -> None:
    at = rng.randrange(len(pairs))
    label, value = pairs[at]
    half = value[: max(3, len(value) // 2)]
    spoilt = rng.choice(
        ((label, ""), ("", value), ("Accessory", value), (label, half + "-"), (label, half + "…"), None)
    )
    if spoilt is None:
        pairs.insert(at, (label, _key(rng)))
    else:
        pairs[at] = spoilt
