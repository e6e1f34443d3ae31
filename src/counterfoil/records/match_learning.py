"""What the archive itself teaches of matching: the chances of the levels, learned from its messages (EM).

Nobody says which messages are one person's: every message that names somebody is held against those that share a
blocking key with it, and EM finds the two sorts of pairs. The chances shipped count as pairs seen already, so that a
small archive stays with them. Learning is a step that a person asks for, and a line of the journal: the same originals
and the same decisions, taken in the same order, give the same profiles.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import sqlalchemy as sa

from counterfoil.model import CUSTOMER_KINDS, Standing
from counterfoil.records import journal, refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.match_blocking import MOST_ROWS, keys
from counterfoil.records.match_compare import Person, Vector
from counterfoil.records.match_index import AS_WRITTEN, person_of
from counterfoil.records.match_model import SHIPPED, Model, learned
from counterfoil.records.store import Store

LEARN_ACTION = "learn"
LEARN_SUBJECT = "matching"
#: The chances shipped count as so many pairs of each sort.
STRENGTH = 500.0
#: Messages of one person that say the very same count so often at most: sent again, they teach nothing.
_MOST_EQUAL = 2
_MOST_PAIRS = 200_000

_chances, _fact, _message = schema.match_chances, schema.fact, schema.message
_CURRENT = sa.select(_chances.c.chances).where(_chances.c.id == 1)
_SAID = (
    sa.select(_fact.c.message_id, _fact.c.kind, _fact.c.value, _fact.c.normal)
    .select_from(_fact.join(_message, _message.c.id == _fact.c.message_id))
    .where(
        _fact.c.chosen,
        sa.not_(_fact.c.dropped),
        _fact.c.kind.in_([kind.value for kind in CUSTOMER_KINDS]),
        _message.c.standing != Standing.ASIDE.value,
    )
    .order_by(_fact.c.message_id, _fact.c.id)
)


def current(conn: sa.Connection) -> Model:
    """Return the model in force: learned from this archive, else the one shipped."""
    text = conn.scalar(_CURRENT)
    return SHIPPED if text is None else _unpacked(text)


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned, from how many pairs of messages, and the id of the line of the journal."""

    model: Model
    pairs: int
    journal: str


def learn(store: Store, *, who: str, why: str) -> Learned:
    """Learn from the archive's messages, and match by what was learned from now on.

    Args:
        store: the records.
        who: the person.
        why: their reason.

    Raises:
        ArchiveBusy, StorageFull: as :meth:`Store.write`.
    """
    with store.write() as conn:
        vectors = list(pairs(conn))
        model = learned(SHIPPED, vectors, STRENGTH)
        changes = Changes(conn)
        detail = {"pairs": len(vectors), "share": round(model.share, 6)}
        number = journal.add(
            conn, who=who, action=LEARN_ACTION, subject=LEARN_SUBJECT, why=why, detail=detail, changes=[]
        )
        if conn.scalar(_CURRENT) is None:
            changes.insert(_chances.name, {"id": 1, "chances": _packed(model)})
        else:
            changes.update(_chances.name, 1, {"chances": _packed(model)})
        journal.complete(conn, number, detail, changes.made)
    return Learned(model, len(vectors), f"{refs.JOURNAL}{number}")


def pairs(conn: sa.Connection) -> Iterator[Vector]:
    """Yield the comparison of every two messages that share a blocking key, each pair once, in a fixed order."""
    said: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for message, kind, value, normal in conn.execute(_SAID):
        said[message][kind].append(value if kind in AS_WRITTEN else normal)
    seen: Counter[Person] = Counter()
    people: list[Person] = []
    for values in said.values():
        somebody = person_of(values)
        seen[somebody] += 1
        if seen[somebody] <= _MOST_EQUAL:
            people.append(somebody)
    under: dict[int, list[int]] = defaultdict(list)
    for number, somebody in enumerate(people):
        for key in keys(somebody):
            under[key].append(number)
    found = {pair for group in under.values() if len(group) <= MOST_ROWS for pair in combinations(group, 2)}
    for one, two in sorted(found)[:_MOST_PAIRS]:
        yield SHIPPED.compare(people[one], people[two])


def _packed(model: Model) -> str:
    return json.dumps({"m": model.m, "u": model.u, "share": model.share}, sort_keys=True)


@lru_cache(maxsize=4)
def _unpacked(text: str) -> Model:
    """Return a model from what was kept; a field that was not known when it was learned takes the chances shipped."""
    kept = json.loads(text)

    def chances(which: str, shipped: Mapping[str, tuple[float, ...]]) -> dict[str, tuple[float, ...]]:
        known = {name: tuple(values) for name, values in kept[which].items()}
        return {n: known[n] if len(known.get(n, ())) == len(own) else own for n, own in shipped.items()}

    return Model(chances("m", SHIPPED.m), chances("u", SHIPPED.u), kept["share"])
