"""All facts that are no codes, behind their labels: names, dates, versions, addresses; and names makers gave things."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, DATE_KINDS, Kind
from counterfoil.patterns import odds
from counterfoil.patterns.contacts import is_role_mailbox
from counterfoil.patterns.dates import AFTER_DAYS, decide, find_dates, order_in
from counterfoil.patterns.found import Found, Span
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, UNDERNEATH, Label, Spot, View, label_kind
from counterfoil.patterns.makers import MakerPattern
from counterfoil.patterns.names import is_several
from counterfoil.patterns.normal import is_title, normal_code, normal_email, normal_name, normal_phone, normal_text
from counterfoil.patterns.words import Role, fold, split_words

_EMAIL = re.compile(r"[^\s@<>(),;:\"\[\]]{1,64}@[^\s@<>(),;:\"\[\]]{1,255}")
_PHONE = re.compile(r"[+(]?[\d(][\d\s()./\-\u2010-\u2015\u00a0]{5,30}\d")
_VERSION = re.compile(r"(?<![\w.])[vV]?(?:er)?\.?\s?(\d{1,4}(?:\.\d{1,5}){1,4})(?:-?[a-z]\d{0,2})?(?![\w]|\.\d)")
_INVOICE = re.compile(r"(?<![\w/-])[A-Za-z0-9]+(?:[-./ ][A-Za-z0-9]+){0,6}")
_NAME_WORD = re.compile(r"[^\W\d_](?:['’.-]?[^\W\d_])*['’.-]?")
# fmt: off
_PARTICLES = frozenset(
    [
        "von", "van", "de", "der", "den", "del", "della", "di", "da", "do", "dos", "das", "du", "la", "le",
        "les", "lo", "af", "av", "y", "e", "ter", "ten", "te", "zu", "zum", "und", "and", "et", "en", "op",
        "het",
    ]
)
# fmt: on
_TEXT_MAX = 60
_FIRST_YEAR = 1980
"""No machine that takes an activation code is older."""

Reader = Callable[[str], "tuple[str, int, int, str] | None"]
"""Text of a place -> value, its span in the text, normal form."""


@dataclass(frozen=True, slots=True)
class Context:
    """What reading needs to know: makers recognised and all, the region of telephone numbers, the message's day."""

    makers: tuple[MakerPattern, ...]
    names: frozenset[str]
    region: str
    near: date | None


def labelled_values(view: View, context: Context, *, customer: bool, until: int) -> list[Found]:
    """Read the value behind every label of a document that names no code.

    Args:
        view: the document.
        context: makers, region and day.
        customer: whether facts about the customer are read here.
        until: offset of the signature; facts about the customer behind it are not read.
    """
    found: list[Found] = []
    order: list[str | None] = []
    for label in view.labels[:1_000]:
        kind = label_kind(label, context.names)
        if kind is None or kind in CODE_KINDS or label.has(Role.VAGUE_LABEL):
            continue
        if kind in CUSTOMER_KINDS and (not customer or label.start >= until or not label.clean):
            continue
        near = kind not in _CONTACTS or _near_customer(view, label)
        if not near and kind is not Kind.EMAIL_ADDRESS:
            continue
        if kind in DATE_KINDS and not order:
            order.append(order_in(view.text))
        for start, end, spot, base, how in _places(view, label, kind):
            value = _read(view, kind, start, end, spot, base, context, order[0] if order else None)
            if value is not None and not near:
                value.odds = min(value.odds, odds.DOUBTFUL)
                value.evidence.append("no customer named nearby")
            if value is not None and (near or not is_role_mailbox(value.normal)):
                value.evidence.insert(0, f"{how} “{view.text[label.start : label.end].strip()}”")
                language = next((s.language for s in label.meaning.senses if s.language), "")
                value.pattern = f"label {language}"
                found.append(value)
                break
    return found


_CONTACTS = frozenset({Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, Kind.POSTAL_ADDRESS})
"""Kinds that letterheads and footers name, too: the maker's own."""
_NEAR_LINES = 10


def _near_customer(view: View, label: Label) -> bool:
    """Tell whether a contact is the customer's: it says so (your telephone), or a customer is named nearby."""
    words = split_words(view.text[label.start : label.end])
    if words and words[0] in view.words.before:
        return True
    return any(
        Kind.CUSTOMER_NAME in other.meaning.kinds
        and other.clean
        and (other.marked or other.alone)
        and abs(other.spot[0] - label.spot[0]) <= _NEAR_LINES
        for other in view.labels[:1_000]
    )


_BY_FORM = frozenset({Kind.FIRMWARE_VERSION, Kind.INVOICE_NUMBER, Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, *DATE_KINDS})
"""Kinds whose value is recognised by its own form."""


def _places(view: View, label: Label, kind: Kind) -> Iterator[tuple[int, int, Spot, float, str]]:
    by_form = kind in _BY_FORM
    end = min(label.text_end, label.rest_start + 300)
    if any(c.isalnum() for c in view.text[label.rest_start : end]):
        if label.clean and (label.marked or (by_form and not label.tie)):
            yield label.rest_start, end, label.spot, odds.LABELLED, "behind"
        elif by_form and kind not in CUSTOMER_KINDS:
            base = odds.LABELLED_LOOSELY if label.marked else odds.IN_PROSE
            yield label.rest_start, min(end, label.rest_start + 40), label.spot, base, "behind"
        return
    if not label.clean and not (label.marked and by_form):
        return
    header = view.in_header(label)
    base = odds.LABELLED if label.clean else odds.LABELLED_LOOSELY
    under = base if header or label.marked or by_form or kind in CUSTOMER_KINDS else odds.LABELLED_LOOSELY
    for spot, how in view.nearby(label):
        if spot is not None and not view.is_label(spot):
            cell = view.cell(spot)
            worth = under if how == UNDERNEATH else base
            others = {k for other in view.at.get(spot, ()) for k in other.meaning.kinds}
            if how == UNDERNEATH and others - {kind} and by_form:
                worth = min(worth, odds.DOUBTFUL)  # the value of the label behind it
            yield cell.start, min(cell.end, cell.start + 300), spot, worth, how


def _read(
    view: View, kind: Kind, start: int, end: int, spot: Spot, base: float, context: Context, order: str | None
) -> Found | None:
    text = view.text[start:end]
    if kind in DATE_KINDS:
        return _date(view, kind, start, text, base, context.near, order)
    if kind is Kind.POSTAL_ADDRESS:
        return _address(view, start, end, spot, base)
    if kind is Kind.CUSTOMER_NAME:
        return _name(view, start, text, base)
    if kind in _BY_FORM:
        return _by_form(view, kind, start, text, base, context.region)
    inside = [label for label in view.labels[:1_000] if start < label.start < end]
    if inside:
        # The name may end where the label of another value begins, or hold its word.
        base = min(base, odds.DOUBTFUL)
        text = text[: min((label.start for label in inside if label.marked), default=end) - start]
    return _thing(view, kind, start, text, base, context.makers)


def _date(
    view: View, kind: Kind, start: int, text: str, base: float, near: date | None, order: str | None
) -> Found | None:
    dates = sorted(find_dates(text), key=lambda d: d.start)
    if not dates:
        return None
    first = dates[0]
    reading = decide(first, near, order)
    if reading.best is None:
        return None
    found = Found(
        kind,
        text[first.start : first.end].strip(),
        reading.best.isoformat(),
        view.document,
        [(start + first.start, start + first.end)],
        base,
        "",
    )
    if len(reading.readings) > 1:
        found.readings = tuple(day.isoformat() for day in reading.readings)
        found.odds = min(base, odds.CONFLICT_FROM)
        found.evidence.append("day and month may be the other way round")
    elif len(first.readings) > 1:
        found.evidence.append("order of day and month by the message's date or another date")
    if (near is not None and reading.best > near + timedelta(days=AFTER_DAYS)) or reading.best.year < _FIRST_YEAR:
        found.odds = min(found.odds, odds.DOUBTFUL)
        found.evidence.append("not a day on which this can have happened")
    ahead = {word for word in split_words(text[: first.start]) if word in view.words.stop}
    if ahead - view.words.tie - view.words.before:
        found.odds = min(found.odds, odds.DOUBTFUL)
        found.evidence.append("words between label and date")
    if len(dates) > 1:
        found.odds = min(found.odds, odds.DOUBTFUL)
        found.evidence.append("two dates in one place")
    return found


def _by_form(view: View, kind: Kind, start: int, text: str, base: float, region: str) -> Found | None:
    pattern = {Kind.EMAIL_ADDRESS: _EMAIL, Kind.PHONE_NUMBER: _PHONE, Kind.FIRMWARE_VERSION: _VERSION}.get(
        kind, _INVOICE
    )
    match = pattern.search(text)
    if match is None:
        return None
    value = match.group().strip(" .'")
    normal: str | None
    if kind is Kind.EMAIL_ADDRESS:
        normal = normal_email(value)
    elif kind is Kind.PHONE_NUMBER:
        normal = normal_phone(value, region)
    elif kind is Kind.FIRMWARE_VERSION:
        normal = match.group(1)
    else:
        normal = _invoice(value)
    if not normal:
        return None
    beside = text[: match.start()] + " " + text[match.end() :]
    if any(c.isalnum() for c in re.sub(r"\([^()]{0,60}\)|<mailto:[^<>]{0,200}>", " ", beside)):
        base = min(base, odds.DOUBTFUL)
        if kind in (Kind.PHONE_NUMBER, Kind.EMAIL_ADDRESS):
            return None  # several things in one line: a letterhead or a footer, not the customer's own
    at = start + text.index(value)
    return Found(kind, value, normal, view.document, [(at, at + len(value))], base, "")


def _invoice(value: str) -> str | None:
    normal = normal_code(value)
    groups = value.split(" ")
    plain = 3 <= len(normal) <= 24 and any(c.isdigit() for c in normal)
    return normal if plain and all(g.isupper() or any(c.isdigit() for c in g) for g in groups) else None


def _name(view: View, start: int, text: str, base: float) -> Found | None:
    part = re.split(r"[<(\[|;]|,(?=[^,]*\d)", text, maxsplit=1)[0]
    tokens = list(re.finditer(r"[^\s,]\S*", part.rstrip(" ,.-–·\t")))
    while len(tokens) > 1 and is_title(tokens[0].group()):
        tokens.pop(0)
    if not tokens or len(tokens) > 6:
        return None
    written = part[tokens[0].start() : tokens[-1].end()].rstrip(",")
    words = written.replace(",", " ").split()
    if len(written) > _TEXT_MAX or written.count(",") > 1 or not all(_NAME_WORD.fullmatch(word) for word in words):
        return None
    lower = [word for word in words if word[0].islower() and word.casefold() not in _PARTICLES]
    if is_title(written) or (lower and len(lower) < len(words)):
        return None
    if any(fold(word) in view.words.stop for word in words if len(word) > 3):
        return None
    if is_several(written) or lower or len([word for word in words if word.casefold() not in _PARTICLES]) < 2:
        base = min(base, odds.DOUBTFUL)
    at = start + tokens[0].start()
    return Found(Kind.CUSTOMER_NAME, written, normal_name(written), view.document, [(at, at + len(written))], base, "")


def _address(view: View, start: int, end: int, spot: Spot, base: float) -> Found | None:
    pieces: list[Span] = []
    for _ in range(4):
        text = view.text[start:end]
        stripped = text.strip()
        if not stripped or len(stripped) > 80 or "@" in stripped or stripped.endswith(":"):
            break
        at = start + text.index(stripped)
        pieces.append((at, at + len(stripped)))
        below = view.below(spot, lines=1, heights=NEXT_LINE_HEIGHTS)
        if below is None or below in view.at:
            break
        spot, cell = below, view.cell(below)
        start, end = cell.start, cell.end
    value = ", ".join(view.text[s:e].rstrip(",") for s, e in pieces)
    if len(value) < 8 or not any(c.isalpha() for c in value):
        return None
    if not any(c.isdigit() for c in value):
        base = min(base, odds.DOUBTFUL)
    return Found(Kind.POSTAL_ADDRESS, value, normal_text(value), view.document, pieces, base, "")


def _thing(
    view: View, kind: Kind, start: int, text: str, base: float, makers: tuple[MakerPattern, ...]
) -> Found | None:
    """Read the name of a maker, model or upgrade: a short text of its own."""
    value = text.strip(" .,;:|\t")
    if not 2 <= len(value) <= _TEXT_MAX or not any(c.isalpha() for c in value) or "@" in value or "://" in value:
        return None
    if value[:1].islower() and value.count(" ") > 2:
        return None
    at = start + text.index(value)
    normal = normal_text(value)
    for maker in makers:
        known = _known(kind, normal, maker)
        if known:
            normal = known
            break
    return Found(kind, value, normal, view.document, [(at, at + len(value))], base, "")


def _known(kind: Kind, text: str, maker: MakerPattern) -> str | None:
    """Return the canonical name where a text is, or with the maker's name ahead is, one the maker file knows."""
    if kind is Kind.MAKER:
        return maker.name if maker.is_called(text) else None
    shorter = fold(text)
    for name in sorted(maker.names, key=len, reverse=True):
        if shorter.startswith(fold(name) + " "):
            shorter = shorter[len(name) + 1 :].strip()
            break
    if kind is Kind.MODEL:
        return next((m for m in maker.models if fold(m) in (fold(text), shorter)), None)
    upgrade = maker.upgrade(text) or maker.upgrade(shorter)
    return upgrade.name if upgrade else None


_NAMED = {Role.MAKER: Kind.MAKER, Role.MODEL: Kind.MODEL, Role.UPGRADE: Kind.UPGRADE_NAME}


def named_values(view: View, names: frozenset[str]) -> list[Found]:
    """Find makers, models and upgrades by the names their maker files give, longest name first.

    Args:
        view: the document.
        names: makers recognised; only their models and upgrades are looked for.
    """
    found: list[Found] = []
    text = view.text
    free_from = 0
    for hit in sorted(view.phrases, key=lambda h: (h.start, -h.end)):
        for sense in hit.meaning.senses:
            kind = _NAMED.get(sense.role)
            if kind is None or hit.start < free_from or (kind is not Kind.MAKER and sense.maker not in names):
                continue
            around = text[max(hit.start - 1, 0) : hit.start] + text[hit.end : hit.end + 1]
            if (
                "@" in around
                or "/" in around
                or (text[hit.end : hit.end + 1] == "." and text[hit.end + 1 : hit.end + 2].isalnum())
            ):
                continue
            value = text[hit.start : hit.end]
            evidence = [f"named as in {sense.maker}'s file"]
            found.append(
                Found(
                    kind,
                    value,
                    sense.name,
                    view.document,
                    [(hit.start, hit.end)],
                    odds.NAMED,
                    f"name {sense.maker}",
                    evidence=evidence,
                    by_name=True,
                )
            )
            free_from = hit.end
            break
        if len(found) >= 200:
            break
    return found
