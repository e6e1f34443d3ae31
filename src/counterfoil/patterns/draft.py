"""A maker file proposed from messages of a maker nobody described, and the values a person points out in them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from counterfoil.errors import UsageProblem
from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, Kind
from counterfoil.patterns.draft_file import Said, make_file
from counterfoil.patterns.examples import Example, LabelSeen, Spotted, labels_beside, other_codes, spotted
from counterfoil.patterns.guess import ShapeGuess, guess_shape
from counterfoil.patterns.layout import View
from counterfoil.patterns.makers import MakerPattern, parse_maker
from counterfoil.patterns.proofs import check_proof
from counterfoil.patterns.reader import Patterns
from counterfoil.patterns.recognise import readable
from counterfoil.patterns.words import fold
from counterfoil.settings import Settings

#: Fewer messages than this show no pattern.
LEAST_MESSAGES = 2
#: ISO 639-2: the language could not be told.
_UNTOLD = "und"
#: What letters at the front of a code may stand for instead of the maker, so that they are no part of its shape.
_LETTERS_OF = {
    Kind.PRODUCT_KEY: Kind.UPGRADE_NAME,
    Kind.MACHINE_ID: Kind.MODEL,
    Kind.SERIAL_NUMBER: Kind.MODEL,
}
#: Kinds whose labels no maker has to itself, and beside which names of people stand: the vocabulary knows them.
_OF_NO_MAKER = CUSTOMER_KINDS | {Kind.MAKER}
_PLACE = "maker file"


@dataclass(frozen=True, slots=True)
class Draft:
    """A proposed maker file: its text, what it says, and what is missing or uncertain, in sentences.

    ``labels`` counts the messages in which each new label was seen: (language, kind, text) -> messages.
    """

    maker: str
    text: str
    pattern: MakerPattern
    codes: Mapping[Kind, ShapeGuess]
    labels: Mapping[tuple[str, Kind, str], int]
    notes: tuple[str, ...]
    used: Mapping[str, Mapping[Kind, str]] = field(default_factory=dict)
    """Message -> the values used, as written in it."""


@dataclass(slots=True)
class _Gathered:
    """What was found in the messages, before it becomes a file."""

    spots: dict[str, list[Spotted]] = field(default_factory=dict)
    views: dict[str, list[View]] = field(default_factory=dict)
    languages: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def written(self, kind: Kind) -> list[str]:
        """Return the values of a kind as written, one a message."""
        firsts = (next((s.value for s in spots if s.kind is kind), None) for spots in self.spots.values())
        return [value for value in firsts if value is not None]


def make_draft(examples: Sequence[Example], patterns: Patterns, settings: Settings) -> Draft:
    """Propose a maker file.

    Args:
        examples: two or more messages with the values pointed out in each.
        patterns: the vocabulary and the makers described already.
        settings: the shop's own addresses, region of telephone numbers.

    Raises:
        UsageProblem: too few messages, no maker's name or several, a maker described already, or no code.
    """
    if len(examples) < LEAST_MESSAGES:
        raise UsageProblem("One message shows no pattern.", "Name two or more messages of the maker.")
    maker = _maker_name(examples, patterns)
    found = _gather(examples, patterns, settings.region)
    codes = {kind: _shape(kind, found, examples) for kind in sorted(CODE_KINDS) if found.written(kind)}
    if not codes:
        raise UsageProblem(
            "No code was pointed out that stands in the messages.", "Add --value machine_id=... or --take E5."
        )
    for kind in sorted(CODE_KINDS - codes.keys()):
        found.notes.append(f"no {_word(kind)} was pointed out: nothing is said about it")
    labels = _labels(found)
    said = Said(
        maker,
        _senders(examples, found, settings),
        _names(examples, Kind.MODEL),
        _names(examples, Kind.UPGRADE_NAME),
        codes,
        {key: number for key, number in _counted(labels).items() if not key.known},
        _proof_labels(labels),
        tuple(_others(found, {fold(label.text) for label in labels})),
        {kind: found.written(kind)[0] for kind in codes},
    )
    if len(said.upgrades) > 1:
        found.notes.append("upgrades: names of one upgrade in several languages belong into one entry, under `also`")
    text, pattern = _proven(said, patterns, settings, found.notes)
    used = {name: {s.kind: s.value for s in reversed(spots)} for name, spots in found.spots.items()}
    new = {(k.language, k.kind, k.text): n for k, n in said.labels.items()}
    return Draft(maker, text, pattern, codes, new, tuple(dict.fromkeys(found.notes)), used)


def _word(kind: Kind) -> str:
    return "machine ID" if kind is Kind.MACHINE_ID else kind.value.replace("_", " ")


def _maker_name(examples: Sequence[Example], patterns: Patterns) -> str:
    names = {fold(e.values[Kind.MAKER]): e.values[Kind.MAKER] for e in examples if Kind.MAKER in e.values}
    if not names:
        raise UsageProblem("The maker has no name yet.", "Add --value maker=NAME, as the messages print it.")
    if len(names) > 1:
        raise UsageProblem(
            f"The messages name different makers: {', '.join(sorted(names.values()))}.",
            "Name messages of one maker only, or say which it is with --value maker=NAME.",
        )
    (name,) = names.values()
    known = patterns.maker(name)
    if known is not None:
        raise UsageProblem(f"{known.name} is described already, in {known.source}.", "Mend that file by hand.")
    return name


def _gather(examples: Sequence[Example], patterns: Patterns, region: str) -> _Gathered:
    found = _Gathered()
    for example in examples:
        views = [patterns.view(document) for document in readable(example.message)]
        found.views[example.name] = views
        found.languages[example.name] = example.reading.language or _UNTOLD
        spots: list[Spotted] = []
        for kind, value in example.values.items():
            here = [spot for view in views for spot in spotted(view, kind, value, region)]
            spots += here
            if not here and kind not in _OF_NO_MAKER:
                found.notes.append(f"{example.name}: the {_word(kind)} stands nowhere in its text and is not used")
        found.spots[example.name] = spots
    return found


def _shape(kind: Kind, found: _Gathered, examples: Sequence[Example]) -> ShapeGuess:
    """Guess a code's shape; letters it starts with may stand for what all the examples share besides the maker."""
    of = _LETTERS_OF.get(kind)
    shared = of is not None and len({fold(e.values[of]) for e in examples if of in e.values}) < LEAST_MESSAGES
    guess = guess_shape(found.written(kind), fixed_letters=not shared)
    found.notes += [f"{_word(kind)}: {note}" for note in guess.notes]
    fixed = guess_shape(found.written(kind)) if shared else guess
    if fixed.text != guess.text and of is not None:
        what = f"{_word(kind)}: all values start with the same letters, but no two are known to be of another"
        found.notes.append(f"{what} {_word(of).removesuffix(' name')}: left open")
    if guess.text is not None and guess.check is None:
        missing = "no check digit scheme is passed by all of them" if not guess.checks else "a check digit is not sure"
        found.notes.append(f"{_word(kind)}: {missing}")
    return guess


# --- labels ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Key:
    """A label in a language; ``known`` to the vocabulary or not."""

    language: str
    kind: Kind
    text: str
    known: bool
    above: bool


def _labels(found: _Gathered) -> list[LabelSeen]:
    """Choose the label of each value: of several words beside it those that stand beside most others of its kind."""
    seen: list[list[LabelSeen]] = []
    for name, spots in found.spots.items():
        coded = {id(spot.view) for spot in spots if spot.kind in CODE_KINDS}
        for spot in spots:
            if spot.kind in _OF_NO_MAKER or id(spot.view) not in coded:
                continue
            near = labels_beside(spot, spots, found.languages[name], name)
            seen.append([label for label in near if label.marked or spot.kind in CODE_KINDS])
    votes = Counter((label.kind, fold(label.text)) for near in seen for label in near)
    chosen = [max(near, key=lambda label: (label.known, votes[label.kind, fold(label.text)])) for near in seen if near]
    kinds: dict[str, set[Kind]] = defaultdict(set)
    for label in chosen:
        kinds[fold(label.text)].add(label.kind)
    for text, several in sorted(kinds.items()):
        if len(several) > 1:
            names = " and ".join(_word(kind) for kind in sorted(several))
            found.notes.append(f"“{text}” stands beside {names}: it is no label of either")
    good = [label for label in chosen if len(kinds[fold(label.text)]) == 1]
    sure = {
        (label.kind, fold(label.text)) for label in good if label.known or (label.marked and label.kind in CODE_KINDS)
    }
    often = Counter((kind, text) for kind, text, _ in {(label.kind, fold(label.text), label.message) for label in good})
    return [
        label
        for label in good
        if (label.kind, fold(label.text)) in sure or often[label.kind, fold(label.text)] >= LEAST_MESSAGES
    ]


def _counted(labels: Sequence[LabelSeen]) -> dict[Key, int]:
    """Return each label, as first written, with the number of messages it was seen in."""
    messages: dict[tuple[str, Kind, str], set[str]] = defaultdict(set)
    first: dict[tuple[str, Kind, str], LabelSeen] = {}
    for label in labels:
        at = (label.language, label.kind, fold(label.text))
        messages[at].add(label.message)
        first.setdefault(at, label)
    return {
        Key(label.language, label.kind, label.text, label.known, label.above): len(messages[at])
        for at, label in sorted(first.items())
    }


def _proof_labels(labels: Sequence[LabelSeen]) -> dict[Kind, tuple[LabelSeen, ...]]:
    """Return by kind the labels that examples of the file are made with: two at most, new ones first."""
    by_kind: dict[Kind, dict[str, LabelSeen]] = defaultdict(dict)
    for label in sorted(labels, key=lambda label: label.known):
        by_kind[label.kind].setdefault(fold(label.text), label)
    return {kind: tuple(found.values())[:2] for kind, found in by_kind.items()}


def _others(found: _Gathered, labels: Collection[str]) -> list[tuple[str, str]]:
    """Return codes of the messages that are none of the kinds pointed out, with the words ahead of them."""
    others: dict[str, str] = {}
    for name, views in found.views.items():
        for view in views:
            taken = [spot.span for spot in found.spots[name] if spot.view is view]
            for ahead, value in other_codes(view, taken):
                if fold(ahead) not in labels:
                    others.setdefault(ahead, value)
    return sorted(others.items())[:4]


# --- who and what ----------------------------------------------------------------------------------


def _names(examples: Sequence[Example], kind: Kind) -> tuple[str, ...]:
    return tuple({fold(e.values[kind]): e.values[kind] for e in examples if kind in e.values}.values())


def _senders(examples: Sequence[Example], found: _Gathered, settings: Settings) -> tuple[str, ...]:
    """Return the addresses the confirmations were sent from, or their domain where several addresses share it.

    An address that only one message shows may be anybody's.
    """
    shop = {address.lower() for address in settings.shop_addresses}
    seen: dict[str, set[str]] = defaultdict(set)
    for example in examples:
        layer = example.message.layers[example.reading.confirmation_layer]
        address = layer.sender.address.lower() if layer.sender else ""
        mine = {box.address.lower() for box in layer.to} | {example.values.get(Kind.EMAIL_ADDRESS, "").lower()}
        chosen = example.reading.chosen.get(Kind.EMAIL_ADDRESS)
        if "@" in address and address not in shop | mine and (chosen is None or chosen.normal != address):
            seen[address].add(example.name)
    domains: dict[str, set[str]] = defaultdict(set)
    for address in seen:
        domains[address.rpartition("@")[2]].add(address)
    sure: list[str] = []
    for domain, addresses in sorted(domains.items()):
        messages = set().union(*(seen[address] for address in addresses))
        if len(messages) < LEAST_MESSAGES:
            found.notes.append(f"sender {', '.join(sorted(addresses))}: seen in one message only, not written")
        else:
            sure += [domain] if len(addresses) > 1 else sorted(addresses)
    if not seen:
        found.notes.append("no sender is known: the messages do not show the maker's address")
    return tuple(sure)


# --- proofs ----------------------------------------------------------------------------------------


def _proven(said: Said, patterns: Patterns, settings: Settings, notes: list[str]) -> tuple[str, MakerPattern]:
    """Return the file and what it says, without the examples it does not stand."""
    left_out: set[str] = set()
    while True:
        text = make_file(said, left_out)
        pattern = parse_maker(_PLACE, text.encode())
        alone = Patterns(patterns.vocabularies, (pattern,))
        failed = [
            (proof, failure)
            for proof in pattern.proofs
            if (failure := check_proof(proof, partial(alone.read, settings=settings), settings.region)) is not None
        ]
        if not failed:
            return text, pattern
        for proof, failure in failed:
            left_out.add(failure.text)
            label = failure.text.partition("\n")[2].partition(":")[0].partition("\n")[0]
            what = "would be read as one" if proof.value is None else "is not read with certainty"
            notes.append(f"{_word(failure.kind)}: what stands behind “{label}” {what}")
