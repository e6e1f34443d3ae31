"""Is this message an activation confirmation, or a try at one? Which layer did it come in, in which language?

All figures are natural log-odds of our own choosing: an activation code with its machine ID and product key
suffices without any word, no heap of words does without codes, a known maker or a readable sign.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from counterfoil.model import Kind, Message, Problem
from counterfoil.patterns.found import Found
from counterfoil.patterns.layout import View
from counterfoil.patterns.makers import MakerPattern
from counterfoil.patterns.rests import every_run
from counterfoil.patterns.words import Hit, PhraseTable, Role, fold

_BASE = -3.0
#: By kind: worth of a value behind its label or with a right check digit, and of one merely named in a sentence.
_WORTH = {
    Kind.ACTIVATION_CODE: (2.5, 1.8),
    Kind.PRODUCT_KEY: (1.2, 0.8),
    Kind.MACHINE_ID: (1.2, 0.8),
    Kind.SERIAL_NUMBER: (0.6, 0.3),
}
_CLEAR = 3.5
"""Odds of a value from which it counts as clear."""
_SENDER = 1.5
_WORDS_IN_SUBJECT = 1.0
_WORDS_IN_TEXT = 0.6
_OTHER_IN_SUBJECT = -2.0
_OTHER_IN_TEXT = -0.8
_OTHER_MOST = -3.5
_BULK = -3.0
_AUTOMATIC = -2.5
_LIST = -6.0
_UNKNOWN_CODES = 2
"""Codes under unknown labels, in mail called a confirmation: a machine, a key and a code are three."""
_A_LOOK = 0.5
"""Odds given where a person must look, whatever else speaks against it."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """Log-odds that the message is a confirmation, why, and whether it speaks of an attachment."""

    odds: float
    signs: tuple[str, ...]
    mentions_attachment: bool


def _phrases(table: PhraseTable, text: str) -> list[Hit]:
    labels, phrases = table.scan(fold(text))
    return phrases + labels


def _outside_labels(view: View, hits: Sequence[Hit]) -> list[Hit]:
    """Leave out hits inside a label that stands for itself ("Invoice number: ..." makes no invoice)."""
    spans = [(label.start, label.end) for label in view.labels if label.has(Role.LABEL)]
    return [hit for hit in hits if not any(s <= hit.start and hit.end <= e for s, e in spans)]


def judge(
    message: Message,
    views: Sequence[View],
    found: Sequence[Found],
    senders: dict[int, MakerPattern],
    table: PhraseTable,
    too_many: bool,
) -> Judgement:
    """Weigh all signs.

    Args:
        message: the message.
        views: its readable documents.
        found: the codes found, with their odds.
        senders: which maker sent which layer.
        table: the known phrases, for the subjects.
        too_many: whether more values were found than a confirmation can hold.
    """
    total, signs = _BASE, []
    subjects = [_phrases(table, layer.subject) for layer in message.layers]
    for points, sign in (*_codes(found), *_words(views, subjects), *_against(message, views, subjects, found)):
        total += points
        signs.append(sign)
    if senders:
        total += _SENDER
        signs.append(f"sent by {next(iter(senders.values())).name}")
    if too_many:
        total += _LIST
        signs.append("more values than a confirmation holds: a list")
    mentions = any(hit.has(Role.ATTACHMENT) for view in views for hit in view.phrases) or any(
        hit.has(Role.ATTACHMENT) for hits in subjects for hit in hits
    )
    if total < _A_LOOK and not (message.bulk or message.automatic):
        look = _needs_a_look(message, views, subjects, senders, mentions) or _codes_unread(
            message, views, subjects, senders
        )
        if look:
            total = _A_LOOK
            signs.append(look)
    return Judgement(round(total, 2), tuple(signs), mentions)


def _codes(found: Sequence[Found]) -> list[tuple[float, str]]:
    signs = []
    for kind, (clear, named) in _WORTH.items():
        best = max((f.odds for f in found if f.kind is kind), default=None)
        if best is None:
            continue
        failed = all(f.check == "failed" for f in found if f.kind is kind)
        if best >= _CLEAR:
            signs.append((clear, f"{_said(kind)} found"))
        elif best >= 0 or failed:
            signs.append((named, f"{_said(kind)} named"))
    return signs


def _said(kind: Kind) -> str:
    return kind.replace("_", " ").replace(" id", " ID")


def _words(views: Sequence[View], subjects: Sequence[Sequence[Hit]]) -> list[tuple[float, str]]:
    signs = []
    if any(hit.has(Role.CONFIRMATION) for hits in subjects for hit in hits):
        signs.append((_WORDS_IN_SUBJECT, "words of a confirmation in the subject"))
    if any(hit.has(Role.CONFIRMATION) for view in views for hit in view.phrases):
        signs.append((_WORDS_IN_TEXT, "words of a confirmation in the text"))
    return signs


def _against(
    message: Message, views: Sequence[View], subjects: Sequence[Sequence[Hit]], found: Sequence[Found]
) -> list[tuple[float, str]]:
    signs: list[tuple[float, str]] = []
    if message.bulk:
        signs.append((_BULK, "sent to many"))
    if message.automatic:
        signs.append((_AUTOMATIC, "sent by a machine"))
    points = 0.0
    if any(hit.has(Role.NOT_CONFIRMATION) for hits in subjects for hit in hits):
        points += _OTHER_IN_SUBJECT
    words = {
        view.text[hit.start : hit.end].lower()
        for view in views
        for hit in _outside_labels(view, [h for h in view.phrases if h.has(Role.NOT_CONFIRMATION)])
    }
    points = max(points + _OTHER_IN_TEXT * len(words), _OTHER_MOST)
    if points < 0:
        signs.append((points, "words of other mail" + (f" ({', '.join(sorted(words)[:3])})" if words else "")))
    return signs


def _needs_a_look(
    message: Message,
    views: Sequence[View],
    subjects: Sequence[Sequence[Hit]],
    senders: dict[int, MakerPattern],
    mentions: bool,
) -> str | None:
    """Return why a person must look at a message without readable codes, None where nothing asks for it."""
    for document in message.documents:
        if document.problem not in (None, Problem.EMPTY) and not document.inline:
            return f"{document.name} could not be read"
        if document.turns and not document.inline:
            return f"{document.name} was read by eye, without codes"
    attached = any(d.name.startswith(("pdf:", "picture:", "file:")) and not d.inline for d in message.documents)
    if not mentions or attached:
        return None
    for number in range(1, len(message.layers)):
        words = any(hit.has(Role.CONFIRMATION) for hit in subjects[number]) or any(
            hit.has(Role.CONFIRMATION) for view in views if view.document.layer == number for hit in view.phrases
        )
        if words or number in senders:
            return "a forwarded confirmation speaks of an attachment that is not there"
    return None


def _codes_unread(
    message: Message, views: Sequence[View], subjects: Sequence[Sequence[Hit]], senders: dict[int, MakerPattern]
) -> str | None:
    """Return why codes may stand in a message that were not read, None where nothing speaks for it."""
    words = any(hit.has(Role.CONFIRMATION) for hits in subjects for hit in hits)
    if words and senders:
        return "a maker's mail with words of a confirmation in the subject"
    for view in views:
        kinds = {
            sense.kind
            for label in view.labels
            if label.clean and (label.marked or label.alone)
            for sense in label.meaning.senses
            if sense.role is Role.LABEL
        }
        if Kind.ACTIVATION_CODE in kinds and kinds & {Kind.SERIAL_NUMBER, Kind.MACHINE_ID}:
            return "labels of codes, but their values could not be told"
        if words and _names_codes(view):
            return "what is called a confirmation holds codes, but it could not be told which is which"
    attached = any(d.name.startswith(("pdf:", "file:")) and not d.inline for d in message.documents)
    if words and attached and len(message.layers) > 1:
        return "a document came with what is called a confirmation, and no codes were read in it"
    return None


def _names_codes(view: View) -> bool:
    """Tell whether a forwarded document names an activation code, or a machine among codes under unknown labels."""
    if view.document.layer == 0:
        return False
    kinds = {kind for label in view.labels for kind in label.meaning.kinds}
    if Kind.ACTIVATION_CODE in kinds:
        return len(every_run(view)) > 1
    return bool(kinds & {Kind.MODEL, Kind.MAKER}) and len(every_run(view)) > _UNKNOWN_CODES


def confirmation_layer(
    message: Message, views: Sequence[View], found: Sequence[Found], senders: Collection[int]
) -> int:
    """Return the layer the confirmation came in: the one with the clearest codes, words and sender, innermost first."""
    points = dict.fromkeys(range(len(message.layers)), 0.0)
    best: dict[tuple[int, Kind], float] = {}
    for value in found:
        if value.kind in _WORTH and value.odds >= 0:
            key = (value.document.layer, value.kind)
            clear, named = _WORTH[value.kind]
            best[key] = max(best.get(key, 0.0), clear if value.odds >= _CLEAR else named)
    for (layer, _), worth in best.items():
        points[layer] += worth
    for view in views:
        if any(hit.has(Role.CONFIRMATION) for hit in view.phrases):
            points[view.document.layer] += _WORDS_IN_TEXT
    for layer in senders:
        points[layer] += _SENDER
    return max(points, key=lambda layer: (points[layer], layer)) if any(points.values()) else len(points) - 1


def language_of(views: Sequence[View]) -> str | None:
    """Return the language most labels and phrases are in, None where there are none."""
    votes: Counter[str] = Counter()
    for view in views:
        for meaning in [label.meaning for label in view.labels] + [hit.meaning for hit in view.phrases]:
            languages = {sense.language for sense in meaning.senses if sense.language and sense.maker is None}
            for language in languages:
                votes[language] += 1 if len(languages) > 1 else 3
    return max(sorted(votes), key=lambda language: votes[language]) if votes else None
