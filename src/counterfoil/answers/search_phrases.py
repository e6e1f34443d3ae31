"""Names, makers and models among the words typed, and days on which a machine was bought."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.search_dates import Period
from counterfoil.answers.search_found import Found, Strength
from counterfoil.answers.search_read import Read
from counterfoil.answers.search_text import Typed
from counterfoil.model import DATE_KINDS, Kind
from counterfoil.records.find_names import ALIKE, BEGINS, HEARD, NICKNAME, SAME, SLIP, NameHit

#: Words of which every run is looked up as a name or model of its own; of more, runs of one or two.
PHRASE_WORDS = 6
_MOST_WORDS = 40
#: The most names, and machines of one model, that one phrase gives.
_MOST = 50
_MOST_MACHINES = 2_000
#: In a mixture of words a shorter one is no name and no model.
_SHORTEST_PART, _SHORTEST_NEAR = 3, 4
_HOW = {
    SAME: "name",
    BEGINS: "name begins like this",
    NICKNAME: "near: short or long form of a name: {}",
    SLIP: "near: name with one letter different: {}",
    HEARD: "near: name sounds alike: {}",
    ALIKE: "near: name alike: {}",
}
Word = tuple[int, str]


def by_phrase(read: Read, typed: Typed, found: Found, limit: int, *, nearly: bool = False) -> None:
    """Look up what is left of the words as names, and as makers and models.

    Args:
        read: the records.
        typed: what was typed.
        found: takes what is found.
        limit: the most customers for one name.
        nearly: look for what is nearly so, where nothing was so exactly.
    """
    left = _left(typed, found)
    _names(read, left, found, max(limit, 2), nearly)
    _models(read, _left(typed, found), found, nearly)


def _left(typed: Typed, found: Found) -> list[Word]:
    used = found.used() | {place for period in typed.periods for place in range(period.start, period.end)}
    return [(place, word) for place, word in enumerate(typed.words) if place not in used]


def _runs(words: Sequence[Word]) -> Iterator[Sequence[Word]]:
    """Yield the runs of words, the longest first."""
    count = min(len(words), _MOST_WORDS)
    for size in range(count if count <= PHRASE_WORDS else 2, 0, -1):
        for start in range(count - size + 1):
            yield words[start : start + size]


def _names(read: Read, words: Sequence[Word], found: Found, limit: int, nearly: bool) -> None:
    """Note the customers of every run of words that is a name, the longest runs first."""
    beside = _identified(found)
    taken: set[int] = set()
    for run in _runs(words):
        whole, places = len(run) == len(words), {place for place, _ in run}
        if not taken.isdisjoint(places) or (not whole and _too_short(run, nearly)):
            continue
        if nearly and not (whole or beside):
            continue
        # All that was typed, and two parts of a name at least: nearly right is more likely than one part of it.
        near = nearly or (whole and len(run) > 1 and not _too_short(run, nearly))
        hits = _called(read, " ".join(word for _, word in run), nearly=near, one=len(run) == 1)
        kept = _kept(hits, whole=whole, nearly=near, one=len(run) == 1)[:limit]
        if nearly and not whole:
            # In a sentence many a word is nearly a name: only what agrees with the number is worth showing.
            kept = [hit for hit in kept if any(hit.customer in clue.sure for clue in found.clues)]
        if kept:
            clue = found.clue(places, Strength.NAME)
            for hit in kept:
                found.add(hit.customer, _HOW[hit.how].format(hit.known), clue, sure=hit.how in (SAME, BEGINS))
            found.said.append("a name" if kept[0].how in (SAME, BEGINS) else "a name nearly like one on record")
            taken |= places


def _identified(found: Found) -> bool:
    """Tell whether a code or a contact was found, beside which a name may be only nearly right."""
    return any(clue.strength is Strength.IDENTITY for clue in found.clues)


def _called(read: Read, text: str, *, nearly: bool, one: bool) -> list[NameHit]:
    """Return whose name answers to a text; nearly so where that is wanted, or where it stands beside what is so."""
    hits = [] if nearly else read.store.find_names(text, _MOST, exactly=True)
    beside = one and any(hit.how == SAME for hit in hits)
    return read.store.find_names(text, _MOST) if nearly or beside else hits


def _too_short(run: Sequence[Word], nearly: bool) -> bool:
    least = _SHORTEST_NEAR if nearly else _SHORTEST_PART
    return max(len(word) for _, word in run) < least or any(
        character.isdigit() for _, word in run for character in word
    )


def _kept(hits: Sequence[NameHit], *, whole: bool, nearly: bool, one: bool) -> list[NameHit]:
    """Return the hits that are an answer.

    In a mixture a word must be the name to the letter: "code" is not the beginning of a family name there. Beside a
    single part that is somebody's name stand those that sound like it: who says it may spell it otherwise.
    """
    same = [hit for hit in hits if hit.how == SAME]
    begun = [hit for hit in hits if hit.how == BEGINS]
    near = [hit for hit in hits if hit.how not in (SAME, BEGINS)]
    if same or (whole and begun):
        beside = [hit for hit in near if hit.how != ALIKE] if one else []
        return [*same, *(begun if whole and not same else ()), *beside]
    return near if nearly else []


def _models(read: Read, words: Sequence[Word], found: Found, nearly: bool) -> None:
    """Note the machines of the longest run of words that is a maker or model."""
    beside = _identified(found)
    for run in _runs(words):
        whole = len(run) == len(words)
        text = " ".join(word for _, word in run)
        if nearly and not (whole or beside):
            continue
        # In a mixture only whole words count: "the" is not the beginning of a maker there.
        machines = read.store.find_near_machines(text) if nearly else read.store.find_machines(text, whole=not whole)
        if machines:
            clue = found.clue((place for place, _ in run), Strength.WEAK)
            why = "near: maker or model nearly so" if nearly else "maker or model"
            for ref in machines[:_MOST_MACHINES]:
                found.add(ref, why, clue, sure=not nearly)
            found.said.append("a maker or model" + (" nearly so called" if nearly else ""))
            return


def by_dates(read: Read, typed: Typed, found: Found) -> None:
    """Note the machines bought or registered in the days, months and years typed."""
    for period in typed.periods:
        places = range(period.start, period.end)
        identified = any(not clue.places.isdisjoint(places) for clue in found.clues)
        machines = [] if identified else read.store.find_dated(period.first, period.last)
        if not identified:
            found.said.append(period.said)
        for ref, kind, day in machines:
            found.add(ref, _dated(kind, day), found.clue(places, Strength.WEAK), sure=False)


def by_dates_of_customers(read: Read, typed: Typed, found: Found) -> None:
    """Note which of the customers found so far bought something, or wrote, in the days typed."""
    customers = list(found.customers)[:_MOST]
    for period in typed.periods:
        places = range(period.start, period.end)
        if any(c.strength is Strength.IDENTITY and not c.places.isdisjoint(places) for c in found.clues):
            continue
        for ref in customers:
            for machine, why in _in_period(read, ref, period):
                clue = found.clue(places, Strength.WEAK)
                found.add(machine, why, clue, sure=False)
                found.add(ref, why, clue, sure=False)


def _in_period(read: Read, customer: str, period: Period) -> Iterator[tuple[str | None, str]]:
    profile = read.customer(customer)
    for holding in profile.holdings:
        for noted in read.machine(holding.machine).facts:
            if noted.fact.kind in DATE_KINDS and noted.fact.normal in period:
                yield holding.machine, _dated(noted.fact.kind, noted.fact.normal)
    for ref in profile.messages[:_MOST]:
        if read.message(ref).received in period:
            yield read.message(ref).machine, f"{ref} came on {(read.message(ref).received or '')[:10]}"


def _dated(kind: Kind, day: str) -> str:
    return f"{KIND_WORDS[kind]} {day}"
