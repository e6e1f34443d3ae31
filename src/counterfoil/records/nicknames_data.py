"""Short and pet forms of given names: English ones from the data of the package nicknames, a few of other languages.

The forms of other languages are common knowledge, no source. They make two people worth a look, never one person.
"""

from __future__ import annotations

from functools import lru_cache

from nicknames import name_triplets

# fmt: off
_MORE = (
    "johannes hans hannes jan", "margarete margarethe grete gretel greta", "elisabeth liesel lisa lisbeth elli sissi",
    "friedrich fritz", "heinrich heinz heiner", "josef sepp jupp", "katharina kathi katja kathe", "ludwig lutz",
    "wilhelm willi helmut", "maximilian max", "susanne susi sanne", "ursula uschi ulla", "magdalena lena leni",
    "johanna hanna hanni", "cornelis kees cor", "wilhelmina mina willemijn", "hendrik henk", "jacobus jaap koos",
    "francisco paco pancho", "jose pepe", "dolores lola", "ignacio nacho", "manuel manolo", "guadalupe lupe",
    "antonio toni tonino", "giuseppe beppe peppe", "francesco cecco checco", "luigi gigi", "giovanni gianni nino",
    "genevieve ginette", "jacqueline jacotte", "marguerite margot", "kristina stina kicki", "margareta greta maggan",
    "karl kalle", "lars lasse", "birgitta gitta",
)
# fmt: on


@lru_cache(maxsize=1)
def _forms() -> dict[str, frozenset[str]]:
    """Return every given name with the names it may be short for, or be shortened to."""
    found: dict[str, set[str]] = {}
    for triplet in name_triplets():
        if triplet.relationship == "has_nickname":
            found.setdefault(triplet.name1, set()).add(triplet.name2)
            found.setdefault(triplet.name2, set()).add(triplet.name1)
    for line in _MORE:
        full, *short = line.split()
        found.setdefault(full, set()).update(short)
        for form in short:
            found.setdefault(form, set()).add(full)
    return {name: frozenset(forms) for name, forms in found.items()}


def are_nicknames(a: str, b: str) -> bool:
    """Tell whether one folded given name is a short or pet form of the other."""
    return b in _forms().get(a, ())


def full_forms(name: str) -> frozenset[str]:
    """Return the names that a folded given name may stand for, or be shortened to; itself is not among them."""
    return _forms().get(name, frozenset())
