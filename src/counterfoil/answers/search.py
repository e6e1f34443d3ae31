"""One box: whatever somebody has in hand finds customers, machines and messages.

It finds out by itself what it was given: a reference (C12), an e-mail address, a telephone number in any spelling,
a code or its last characters, a name, a maker or model, or words; a mixture gives all of them. Each find says why it
was found and whether that is certain: :func:`resolve` hands a record on only where exactly one is found for certain,
because what follows (codes, warranty) must not go to the wrong customer. Product keys and activation codes are masked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING, Literal

from counterfoil.answers.masking import mask, mask_in, secrets_of
from counterfoil.answers.search_found import Found, FoundCustomer, FoundMachine, FoundMessage, SearchAnswer
from counterfoil.answers.search_identifiers import by_identifier, exists
from counterfoil.answers.search_text import NEAR_CHARS, Typed, take_apart
from counterfoil.errors import ArchiveBusy, ArchiveDamaged, NeedsALook, RecordUnknown, StorageFull
from counterfoil.model import Candidate, CustomerProfile, Kind, MachineProfile, MessageRecord
from counterfoil.patterns.names import fold_name
from counterfoil.patterns.normal import normal_code
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.index import Hit, Index
    from counterfoil.records.store import Store

__all__ = ["FoundCustomer", "FoundMachine", "FoundMessage", "SearchAnswer", "Wanted", "resolve", "search"]

Wanted = Literal["customer", "machine", "message"]

#: Words of which every run is looked up as a name or model of its own; more words are only looked for in the index.
PHRASE_WORDS = 6
#: The most records looked at to fill one group.
GROUP_RECORDS = 50
#: Similarity from which every part typed is a part of the name to the letter.
_LETTER_FOR_LETTER = 0.99
_DEFAULTS = Settings()


class _Read:
    """The records as one search reads them: each message and profile once.

    Args:
        store: the records.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.message = cache(store.message)
        self.customer = cache(store.customer)
        self.machine = cache(store.machine)


def search(store: Store, index: Index, text: str, *, settings: Settings = _DEFAULTS, limit: int = 10) -> SearchAnswer:
    """Answer one search.

    Args:
        store: the records.
        index: the full-text index; built anew from the records where it is damaged.
        text: whatever somebody has in hand.
        settings: ``region`` is used for telephone numbers without a country code.
        limit: the most records in each group.

    Returns:
        What was found; empty groups where nothing was.
    """
    typed = take_apart(text, settings.region, lambda ref: exists(store, ref))
    found, read = Found(), _Read(store)
    if not typed.text:
        return SearchAnswer("Nothing was typed.", (), (), ())
    if typed.query_language:
        _by_words(read, index, typed.text, found, limit, loosely=False)
    else:
        used = by_identifier(store, typed, found)
        _by_phrase(read, index, typed, used, found, limit)
    if found.nothing and not found.said and any(not code.letters_only for code in typed.codes):
        found.said.append(("a telephone number or " if typed.phones else "") + "a code that nobody has")
    _spread(read, found, limit)
    return _answer(read, found, limit)


def resolve(
    store: Store, index: Index, text: str, wanted: Wanted, *, settings: Settings = _DEFAULTS, limit: int = 10
) -> str:
    """Return the id of the one record that a text means.

    Args:
        store: the records.
        index: the full-text index.
        text: an id, or anything that :func:`search` answers.
        wanted: which group the record is of.
        settings: as for :func:`search`.
        limit: the most candidates named.

    Raises:
        NeedsALook: several records answer, or one that is only alike; ``candidates`` names them.
        RecordUnknown: none answers.
    """
    # At least two, or one of several would pass for the only one.
    answer = search(store, index, text, settings=settings, limit=max(limit, 2))
    groups: dict[Wanted, tuple[FoundCustomer | FoundMachine | FoundMessage, ...]] = {
        "customer": answer.customers,
        "machine": answer.machines,
        "message": answer.messages,
    }
    group = groups[wanted]
    direct = text.strip().upper()
    if any(item.id == direct for item in group):
        return direct
    # Who has one machine now means that one, whatever else they had.
    group = tuple(i for i in group if not (isinstance(i, FoundMachine) and i.former)) or group
    if not group:
        raise RecordUnknown(f"No {wanted} answers to {_quoted(answer, text)}.")
    certain = [item for item in group if not isinstance(item, FoundMessage) and item.certain]
    if len(group) == 1 and (certain or isinstance(group[0], FoundMessage)):
        return group[0].id
    error = NeedsALook(_choices(answer, text, wanted, group, more=len(group) >= max(limit, 2)))
    error.candidates = tuple(_candidate(item) for item in group)
    raise error


def _quoted(answer: SearchAnswer, text: str) -> str:
    """Return the text as typed, what may be a product key or activation code hidden: it is never printed unasked."""
    if " code" in answer.understood:
        return "the code typed"
    words = (mask(w) if len(normal_code(w)) >= NEAR_CHARS and any(map(str.isdigit, w)) else w for w in text.split())
    return f"“{' '.join(words)[:80]}”"


def _choices(
    answer: SearchAnswer,
    text: str,
    wanted: str,
    group: tuple[FoundCustomer | FoundMachine | FoundMessage, ...],
    *,
    more: bool,
) -> str:
    what = _quoted(answer, text)
    lines = "; ".join(
        f"{c.ref} {c.label}" + (f" ({c.evidence[0]})" if c.evidence else "") for c in map(_candidate, group)
    )
    if len(group) == 1:
        return f"{what} is not certainly one {wanted}; it may be {lines}."
    return f"{what} may be one of {len(group)}{' or more' if more else ''} {wanted}s: {lines}."


def _candidate(item: FoundCustomer | FoundMachine | FoundMessage) -> Candidate:
    if isinstance(item, FoundCustomer):
        label = item.name
    elif isinstance(item, FoundMachine):
        label = " ".join(part for part in (item.maker, item.model) if part) or "maker and model not known"
        number = item.serial_number or item.machine_id
        label += f", {number}" if number else ""
    else:
        label = item.subject
    return Candidate(item.id, label, (item.why,) if item.why else ())


# --- names, makers, models, words --------------------------------------------------------------------


def _by_phrase(read: _Read, index: Index, typed: Typed, used: set[int], found: Found, limit: int) -> None:
    """Look up what is left as names, makers and models, and words."""
    left = [word for place, word in enumerate(typed.words) if place not in used]
    named, parts = _names(read, left, found)
    modelled = _models(read, left, parts, found)
    _narrow(read, found, named, modelled)
    if len(parts) < len(left):
        # With words nobody is called by, what was found for the others is not for certain what was meant.
        found.doubtful |= {*named, *modelled}
    # Open messages belong to nobody yet: only their words find them.
    if text := " ".join([*left, *typed.emails]):
        # Some of the groups of a number are in many messages and say nothing: all of them, or none.
        _by_words(read, index, text, found, limit, loosely=any(character.isalpha() for character in text))


def _runs(words: list[str]) -> Iterator[tuple[int, int]]:
    """Yield start and end of every run of words, the longest first."""
    count = len(words) if len(words) <= PHRASE_WORDS else 0
    for size in range(count, 0, -1):
        for start in range(count - size + 1):
            yield start, start + size


def _names(read: _Read, words: list[str], found: Found) -> tuple[list[str], set[int]]:
    """Note the customers of the longest run of words that is a name; return them and the places of the run."""
    for start, end in _runs(words):
        text = " ".join(words[start:end])
        whole = end - start == len(words)
        if not whole and (end - start == 1 and len(text) < 3):
            continue
        hits = [(ref, score) for ref, score in read.store.find_names(text) if whole or score >= _LETTER_FOR_LETTER]
        begins = {ref: _begins(text, read.customer(ref)) for ref, _ in hits}
        # In a mixture a word must be the name to the letter: "code" is not the beginning of a family name there.
        kept = [(ref, score) for ref, score in hits if whole or begins[ref] == "same"]
        if not kept:
            continue
        # Names alike are no answer beside names that are the same.
        sure = [ref for ref, _ in kept if begins[ref] != "alike"]
        for ref, score in kept:
            if not sure or ref in sure:
                how = {"same": "name", "begins": "name begins like this", "alike": f"name alike ({score:.0%})"}[
                    begins[ref]
                ]
                found.add(ref, how, certain=bool(sure))
        found.said.append("a name")
        return [ref for ref, _ in kept if not sure or ref in sure], set(range(start, end))
    return [], set()


def _begins(text: str, customer: CustomerProfile) -> str:
    """Say how a name typed stands to a customer's: every part of it is one of theirs, or begins one, or is alike."""
    best = "alike"
    typed = fold_name(text)
    for name in customer.values(Kind.CUSTOMER_NAME):
        parts = fold_name(name)
        if all(part in parts for part in typed):
            return "same"
        if all(any(own.startswith(part) for own in parts) for part in typed):
            best = "begins"
    return best


def _models(read: _Read, words: list[str], parts: set[int], found: Found) -> list[str]:
    """Note the machines of the longest run of words that is a maker or model; add its places to ``parts``."""
    for start, end in _runs(words):
        if not parts.isdisjoint(range(start, end)):
            continue
        run = words[start:end]
        machines = read.store.find_machines(" ".join(run))
        if end - start < len(words):
            # In a mixture only whole words count: "the" is not the beginning of a maker there.
            machines = [ref for ref in machines[:GROUP_RECORDS] if _is_called(read.machine(ref), run)]
        if machines:
            for ref in machines:
                found.add(ref, "maker or model")
            parts |= set(range(start, end))
            found.said.append("a maker or model")
            return machines
    return []


def _is_called(machine: MachineProfile, words: list[str]) -> bool:
    called = " ".join((*machine.values(Kind.MAKER), *machine.values(Kind.MODEL))).casefold().split()
    return all(word.casefold() in called for word in words)


def _narrow(read: _Read, found: Found, named: list[str], modelled: list[str]) -> None:
    """With a name and a model, keep the machines of that name's customers, and those customers, where there are any."""
    if not named or not modelled:
        return
    held = {h.machine: ref for ref in named for h in read.customer(ref).holdings if h.until is None}
    both = [ref for ref in modelled if ref in held]
    if not both:
        found.doubtful |= {*named, *modelled}
        return
    for ref in set(modelled) - set(both):
        found.machines.pop(ref, None)
    for ref in set(named) - {held[ref] for ref in both}:
        found.customers.pop(ref, None)


def _by_words(read: _Read, index: Index, text: str, found: Found, limit: int, *, loosely: bool = True) -> None:
    """Note the messages that have all of the words; where none has and nothing else was found, some of them."""
    _freshen(read, index, found)
    hits = _full_text(read, index, text, limit, any_word=False)
    said = "words in messages"
    if not hits and loosely and found.nothing and len(text.split()) > 1:
        hits = _full_text(read, index, text, limit, any_word=True)
        said = "words in messages, of which no message has all"
    for hit in hits:
        try:
            message = read.message(hit.message)
        except RecordUnknown:
            # Only where the index could not be brought up to records put back from a backup.
            continue
        hidden = secrets_of(message.facts)
        body = _masked("\n".join(d.text for d in message.documents if d.text), hidden)
        found.snippets[hit.message] = index.snippets(body, text)
        found.add(hit.message, "words")
    if hits:
        found.said.append(said)


def _freshen(read: _Read, index: Index, found: Found) -> None:
    """Bring an index that is not where the records are, or damaged, up to them; say so where it cannot be done now."""
    if index.position() == read.store.revision():
        return
    try:
        index.catch_up(read.store.index_entries, wait_seconds=0.0)
    except (ArchiveBusy, StorageFull):
        found.behind = True


def _full_text(read: _Read, index: Index, text: str, limit: int, *, any_word: bool) -> list[Hit]:
    """Ask the index; build it anew from the records where it turns out to be damaged."""
    try:
        return index.search(text, limit, any_word=any_word)
    except ArchiveDamaged:
        index.rebuild(read.store.index_entries)
        return index.search(text, limit, any_word=any_word)


# --- what belongs to what was found ------------------------------------------------------------------


def _spread(read: _Read, found: Found, limit: int) -> None:
    """Add the holders of machines found, the machines of customers found, and the messages of both."""
    customers, machines = list(found.customers), list(found.machines)
    for ref in machines[:limit]:
        found.add(read.machine(ref).holder, f"has {ref}", certain=ref not in found.doubtful)
    if not machines:
        for ref in customers[:limit]:
            for holding in read.customer(ref).holdings:
                # A machine held before is not in doubt of being theirs, but in doubt of being meant.
                now = holding.until is None
                why = f"{ref} has it" if now else f"{ref} had it until {holding.until}"
                if not now and holding.machine not in found.machines:
                    found.former.add(holding.machine)
                found.add(holding.machine, why, certain=now and ref not in found.doubtful)
    profiles: list[CustomerProfile | MachineProfile] = [read.machine(ref) for ref in machines[:limit]]
    profiles += [read.customer(ref) for ref in customers[:limit]]
    theirs: dict[str, str] = {}
    for profile in profiles:
        for ref in profile.messages:
            theirs.setdefault(ref, f"message of {profile.id}")
    recent = sorted(theirs, key=_number, reverse=True)[:GROUP_RECORDS]
    records = sorted((read.message(ref) for ref in recent), key=_newest, reverse=True)
    ordered = {ref: why for ref, why in found.messages.items() if why != "words"}
    ordered |= {ref: why for ref, why in found.messages.items() if why == "words" and ref in theirs}
    if any(ref not in found.doubtful for ref in (*customers, *machines)):
        ordered |= {m.id: theirs[m.id] for m in records if m.id not in ordered}
    ordered |= {ref: why for ref, why in found.messages.items() if ref not in ordered}
    ordered |= {m.id: theirs[m.id] for m in records if m.id not in ordered}
    found.messages = ordered


def _number(ref: str) -> int:
    return int(ref[1:])


def _newest(message: MessageRecord) -> tuple[str, int]:
    return message.received or "", _number(message.id)


def _answer(read: _Read, found: Found, limit: int) -> SearchAnswer:
    customers = (_customer(read, ref, why, ref not in found.doubtful) for ref, why in _first(found.customers, limit))
    machines = (_machine(read, ref, why, found) for ref, why in _first(found.machines, limit))
    messages = (_message(read, ref, why, found.snippets.get(ref, "")) for ref, why in _first(found.messages, limit))
    said = list(dict.fromkeys(found.said)) or ["words, which no message has"]
    understood = "Taken as " + (said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]) + "."
    if found.behind:
        understood += " The newest messages are not in the full-text index yet."
    return SearchAnswer(understood, tuple(customers), tuple(machines), tuple(messages))


def _first(group: dict[str, str], limit: int) -> Iterable[tuple[str, str]]:
    return list(group.items())[:limit]


def _customer(read: _Read, ref: str, why: str, certain: bool) -> FoundCustomer:
    profile = read.customer(ref)
    machines = tuple(holding.machine for holding in profile.holdings if holding.until is None)
    emails, phones = profile.values(Kind.EMAIL_ADDRESS), profile.values(Kind.PHONE_NUMBER)
    return FoundCustomer(ref, profile.name, emails, phones, machines, why, certain)


def _machine(read: _Read, ref: str, why: str, found: Found) -> FoundMachine:
    profile = read.machine(ref)
    kinds = (Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER, Kind.MACHINE_ID)
    maker, model, serial, machine_id = (noted.fact.value if (noted := profile.latest(k)) else None for k in kinds)
    return FoundMachine(
        ref, maker, model, serial, machine_id, profile.holder, ref in found.former, why, ref not in found.doubtful
    )


def _message(read: _Read, ref: str, why: str, snippet: str) -> FoundMessage:
    record = read.message(ref)
    hidden = secrets_of(record.facts)
    sender = (record.sender.name or record.sender.address) if record.sender else None
    return FoundMessage(
        record.id,
        _masked(record.subject, hidden),
        record.received,
        sender,
        record.standing.value,
        record.customer,
        record.machine,
        snippet,
        why,
    )


def _masked(text: str, secrets: frozenset[str]) -> str:
    """Return a text with secrets hidden. The records hide them already; this is the second lock on the same door."""
    bare = normal_code(text)
    return mask_in(text, secrets) if any(normal_code(secret) in bare for secret in secrets) else text
