"""One box: whatever somebody has in hand finds customers, machines and messages.

It finds out by itself what it was given: a reference (C12), an e-mail address, a telephone number in any spelling,
a code or its last characters, a name, a maker or model, or words; a mixture gives all of them. Each find says why it
was found and whether that is certain: :func:`resolve` hands a record on only where exactly one is found for certain,
because what follows (codes, warranty) must not go to the wrong customer. Product keys and activation codes are masked.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal

from counterfoil.answers.masking import mask, secrets_of
from counterfoil.answers.search_found import (
    NEAR,
    Clue,
    Found,
    FoundCustomer,
    FoundMachine,
    FoundMessage,
    SearchAnswer,
    Strength,
)
from counterfoil.answers.search_identifiers import by_identifier, by_near_identifier, exists
from counterfoil.answers.search_phrases import by_dates, by_dates_of_customers, by_phrase
from counterfoil.answers.search_read import Read
from counterfoil.answers.search_suggest import did_you_mean
from counterfoil.answers.search_text import NEAR_CHARS, Typed, plainly, take_apart
from counterfoil.answers.search_words import by_words, masked_text
from counterfoil.errors import NeedsALook, RecordUnknown
from counterfoil.model import Candidate, CustomerProfile, Kind, MachineProfile, MessageRecord
from counterfoil.patterns.normal import normal_code
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.index import Index
    from counterfoil.records.store import Store

__all__ = ["FoundCustomer", "FoundMachine", "FoundMessage", "SearchAnswer", "Wanted", "resolve", "search"]

Wanted = Literal["customer", "machine", "message"]

#: The most records looked at to fill one group.
GROUP_RECORDS = 50
_DEFAULTS = Settings()


def search(store: Store, index: Index, text: str, *, settings: Settings = _DEFAULTS, limit: int = 10) -> SearchAnswer:
    """Answer one search.

    Args:
        store: the records.
        index: the full-text index; built anew from the records where it is damaged.
        text: whatever somebody has in hand.
        settings: ``region`` is used for telephone numbers without a country code.
        limit: the most records in each group.

    Returns:
        What was found, surest first; empty groups where nothing was, and then what may have been meant.
    """
    read, found = Read(store), Found()
    typed = take_apart(text, settings.region, lambda ref: exists(store, ref))
    if not typed.text:
        return SearchAnswer("Nothing was typed.", (), (), ())
    if typed.query_language:
        by_words(read, index, typed.text, found, limit, loosely=False)
        if not (found.nothing or typed.only_quoted):
            return _answer(read, found, limit)
        # Quotes around a name, a star behind a code: signs of a query by accident.
        typed = take_apart(plainly(typed), settings.region, lambda ref: exists(store, ref))
    by_identifier(store, typed, found)
    by_dates(read, typed, found)
    by_phrase(read, typed, found, limit)
    by_near_identifier(store, typed, found)
    _spread(read, found, limit, Strength.IDENTITY)
    by_phrase(read, typed, found, limit, nearly=True)
    by_dates_of_customers(read, typed, found)
    _spread(read, found, limit)
    _leftovers(typed, found)
    if not found.messages or found.clues:
        _by_text(read, index, typed, found, limit)
    found.rank()
    _messages(read, found, typed, limit)
    suggested = did_you_mean(store, index, typed) if found.nothing else ()
    return _answer(read, found, limit, suggested)


def _leftovers(typed: Typed, found: Found) -> None:
    """Note whether something typed found nobody: who is found by the rest is then not for certain who was meant."""
    left = set(range(len(typed.words))) - found.used()
    codes = [c for c in typed.codes if not c.letters_only and set(range(c.start, c.end)) <= left]
    found.left_over |= bool(left)
    if codes and not (found.clues or found.said):
        found.said.append(("a telephone number or " if typed.phones else "") + "a code that nobody has")


def _by_text(read: Read, index: Index, typed: Typed, found: Found, limit: int) -> None:
    """Look for what is left in the messages: open ones belong to nobody yet, only their words find them."""
    codes = {place for clue in found.clues if clue.strength is Strength.IDENTITY for place in clue.places}
    dates = {place for period in typed.periods for place in range(period.start, period.end)}
    words = [word for place, word in enumerate(typed.words) if place not in codes | dates]
    text = " ".join([*words, *typed.emails])
    if text or typed.periods:
        # Some of the groups of a number are in many messages and say nothing: all of them, or none.
        loosely = any(character.isalpha() for character in text)
        by_words(read, index, text, found, limit, loosely=loosely, periods=typed.periods)


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
    if len(group) == 1 and isinstance(group[0], FoundMessage):
        return group[0].id
    profiles = [item for item in group if not isinstance(item, FoundMessage)]
    certain = [item for item in profiles if item.certain]
    # Beside the one that all clues find, there may be others that some of them find.
    if len(certain) == 1 and all(item.clues < certain[0].clues for item in profiles if item is not certain[0]):
        return certain[0].id
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


# --- what belongs to what was found ------------------------------------------------------------------


def _spread(read: Read, found: Found, limit: int, least: Strength = Strength.WEAK) -> None:
    """Add to each clue, once, the holders of the machines it found, and the machines of the customers it found."""
    for clue in sorted(found.clues, key=lambda clue: -clue.strength):
        if clue.spread or clue.strength < least:
            continue
        clue.spread = True
        machines = [ref for ref in clue.sure if ref[0] == "M"]
        if machines:
            # A model fits thousands: those that another clue found too are the ones that matter.
            others = {ref for other in found.clues if other is not clue for ref in other.sure}
            for ref in [m for m in machines if m in others][:GROUP_RECORDS] + machines[:limit]:
                found.add(read.machine(ref).holder, _near(clue, ref) + f"has {ref}", clue, sure=clue.sure[ref])
            continue
        for ref in [ref for ref in clue.sure if ref[0] == "C"][:GROUP_RECORDS]:
            for holding in read.customer(ref).holdings:
                # A machine held before is not in doubt of being theirs, but in doubt of being meant.
                now = holding.until is None
                why = f"{ref} has it" if now else f"{ref} had it until {holding.until}"
                if not now and holding.machine not in found.machines:
                    found.former.add(holding.machine)
                found.add(holding.machine, _near(clue, ref) + why, clue, sure=now and clue.sure[ref])


def _near(clue: Clue, ref: str) -> str:
    """Return the mark of what is only nearly what was typed; it goes with all that is found through it."""
    return NEAR if clue.why[ref].startswith(NEAR) else ""


def _messages(read: Read, found: Found, typed: Typed, limit: int) -> None:
    """Add the messages of the customers and machines found, and put all messages into their order."""
    customers = list(found.customers)[:limit]
    machines = [ref for ref in list(found.machines)[:limit] if ref not in found.former]
    profiles: list[CustomerProfile | MachineProfile] = [read.machine(ref) for ref in machines]
    profiles += [read.customer(ref) for ref in customers]
    theirs: dict[str, str] = {}
    for profile in profiles:
        for ref in profile.messages:
            theirs.setdefault(ref, f"message of {profile.id}")
    recent = sorted(theirs, key=_number, reverse=True)[:GROUP_RECORDS]
    records = sorted((read.message(ref) for ref in recent), key=_newest, reverse=True)
    if typed.periods:
        records.sort(key=lambda record: not any(record.received in period for period in typed.periods))
    ordered = {ref: why for ref, why in found.messages.items() if why != "words"}
    ordered |= {ref: why for ref, why in found.messages.items() if why == "words" and ref in theirs}
    if any(found.certain(ref) for ref in (*customers, *machines)):
        ordered |= {m.id: theirs[m.id] for m in records if m.id not in ordered}
    ordered |= {ref: why for ref, why in found.messages.items() if ref not in ordered}
    ordered |= {m.id: theirs[m.id] for m in records if m.id not in ordered}
    found.messages = ordered


def _number(ref: str) -> int:
    return int(ref[1:])


def _newest(message: MessageRecord) -> tuple[str, int]:
    return message.received or "", _number(message.id)


def _answer(read: Read, found: Found, limit: int, suggested: tuple[str, ...] = ()) -> SearchAnswer:
    customers = tuple(_customer(read, ref, why, found) for ref, why in _first(found.customers, limit))
    machines = tuple(_machine(read, ref, why, found) for ref, why in _first(found.machines, limit))
    messages = (_message(read, ref, why, found.snippets.get(ref, "")) for ref, why in _first(found.messages, limit))
    said = list(dict.fromkeys(found.said)) or ["words" if found.unsearched else "words, which no message has"]
    understood = "Taken as " + (said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]) + "."
    if len(found.clues) > 1 and not any(found.matched(ref) == len(found.clues) for ref in found.customers):
        understood += " Nobody answers to all of it."
    if found.unsearched:
        understood += f" No message was searched for words. {found.unsearched}"
    elif found.behind:
        understood += " Some messages are not in the full-text index yet."
    return SearchAnswer(understood, customers, machines, tuple(messages), suggested)


def _first(group: dict[str, str], limit: int) -> Iterable[tuple[str, str]]:
    return list(group.items())[:limit]


def _customer(read: Read, ref: str, why: str, found: Found) -> FoundCustomer:
    profile = read.customer(ref)
    machines = tuple(holding.machine for holding in profile.holdings if holding.until is None)
    emails, phones = profile.values(Kind.EMAIL_ADDRESS), profile.values(Kind.PHONE_NUMBER)
    return FoundCustomer(
        ref, profile.name, emails, phones, machines, found.why(ref, why), found.certain(ref), found.matched(ref)
    )


def _machine(read: Read, ref: str, why: str, found: Found) -> FoundMachine:
    profile = read.machine(ref)
    kinds = (Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER, Kind.MACHINE_ID)
    maker, model, serial, machine_id = (noted.fact.value if (noted := profile.latest(k)) else None for k in kinds)
    return FoundMachine(
        ref,
        maker,
        model,
        serial,
        machine_id,
        profile.holder,
        ref in found.former,
        found.why(ref, why),
        found.certain(ref),
        found.matched(ref),
    )


def _message(read: Read, ref: str, why: str, snippet: str) -> FoundMessage:
    record = read.message(ref)
    hidden = secrets_of(record.facts)
    sender = (record.sender.name or record.sender.address) if record.sender else None
    return FoundMessage(
        record.id,
        masked_text(record.subject, hidden),
        record.received,
        sender,
        record.standing.value,
        record.customer,
        record.machine,
        snippet,
        why,
    )
