"""Where a value of a profile comes from, in JSON and in words: shared by all answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from counterfoil.answers.masking import mask_in, mask_value, secrets_of
from counterfoil.model import Check, Fact, Kind, MachineProfile, MessageRecord, Noted
from counterfoil.patterns.normal import normal_code

#: What a kind of fact is called in sentences.
KIND_WORDS = {kind: kind.value.replace("_", " ") for kind in Kind} | {
    Kind.MACHINE_ID: "machine ID",
    Kind.EMAIL_ADDRESS: "e-mail address",
}

#: Names of documents up to this length hold a kind and a number, no code.
_SHORT_NAME = len("headers:99")


def is_message(source: str) -> bool:
    """Tell whether a source is a message (E5) and not a journal entry (J9)."""
    return source.startswith("E")


def evidence_json(noted: Noted, *, reveal: bool = False) -> dict[str, object]:
    """Return a noted fact with its provenance; secret values masked unless ``reveal``.

    Returns:
        kind, value, normal, source (message or journal id), message (None for values entered by hand), document, page,
        pattern, check, confirmed, noted.
    """
    fact = noted.fact
    return {
        "kind": fact.kind.value,
        "value": mask_value(fact.kind, fact.value, reveal=reveal),
        "normal": mask_value(fact.kind, fact.normal, reveal=reveal),
        "source": noted.source,
        "message": noted.source if is_message(noted.source) else None,
        "document": fact.place.document,
        "page": fact.place.page,
        "pattern": fact.pattern,
        "check": fact.check.value,
        "confirmed": noted.confirmed,
        "noted": noted.at,
    }


def origin(noted: Noted) -> str:
    """Say in words where a value was read, for example ``E5, pdf:confirmation.pdf, page 1``."""
    if not is_message(noted.source):
        listed = noted.fact.place.document.startswith("list:")
        how = f"{noted.fact.place.document[5:]}, {'; '.join(noted.fact.evidence)}" if listed else "entered by hand"
        return f"{noted.source}, {how}"
    page = noted.fact.place.page
    where = [noted.source, noted.fact.place.document] + ([f"page {page}"] if page is not None else [])
    return ", ".join(where) + (", confirmed" if noted.confirmed else "")


def fact_json(fact: Fact, *, reveal: bool = False) -> dict[str, object]:
    """Return a fact of a message with the keys of the export; secret values masked unless ``reveal``."""
    box, span = fact.place.box, fact.place.span
    return {
        "kind": fact.kind.value,
        "value": mask_value(fact.kind, fact.value, reveal=reveal),
        "normal": mask_value(fact.kind, fact.normal, reveal=reveal),
        "document": fact.place.document,
        "page": fact.place.page,
        "box": None if box is None else [round(edge, 2) for edge in (box.x0, box.y0, box.x1, box.y1)],
        "span": None if span is None else list(span),
        "pattern": fact.pattern,
        "check": Check(fact.check).value,
        "odds": round(fact.odds, 2),
    }


# --- names of files --------------------------------------------------------------------------------
# People name a PDF or a saved mail after the code in it: such a name must not tell what is masked beside it.


def name_hidden(name: str, secrets: Iterable[str]) -> str:
    """Return the name of a document or file with the secret values in it masked."""
    if not _may_tell(name):
        return name
    bare = normal_code(name)
    return mask_in(name, [secret for secret in secrets if normal_code(secret) in bare], inside=True)


def _may_tell(name: str) -> bool:
    """Tell whether a name is long enough to hold a code: most (`body`, `forward:1`) are not, which is quick to tell."""
    return len(name) > _SHORT_NAME and any(map(str.isdigit, name))


def places_hidden(facts: Iterable[Noted], secrets: Iterable[str]) -> tuple[Noted, ...]:
    """Return facts, the names of the documents they were read from with the secret values in them masked."""
    known = tuple(secrets)
    return tuple(_place_hidden(noted, known) for noted in facts)


def _place_hidden(noted: Noted, secrets: tuple[str, ...]) -> Noted:
    place = noted.fact.place
    name = name_hidden(place.document, secrets)
    if name == place.document:
        return noted
    return replace(noted, fact=replace(noted.fact, place=replace(place, document=name)))


def machine_hidden(machine: MachineProfile) -> MachineProfile:
    """Return a machine's profile, its codes masked in the names of documents, to be shown; never to look one up."""
    if not any(_may_tell(noted.fact.place.document) for noted in machine.facts):
        return machine
    secrets = tuple(secrets_of(machine.facts))

    def hidden(noted: Noted | None) -> Noted | None:
        return None if noted is None else _place_hidden(noted, secrets)

    upgrades = tuple(
        replace(u, product_key=hidden(u.product_key), activation_code=hidden(u.activation_code))
        for u in machine.upgrades
    )
    return replace(machine, facts=places_hidden(machine.facts, secrets), upgrades=upgrades)


def message_hidden(message: MessageRecord) -> MessageRecord:
    """Return a message, its codes masked in the names of documents and of the file it came as, to be shown."""
    secrets = secrets_of(message.facts)
    documents = tuple(replace(d, name=name_hidden(d.name, secrets)) for d in message.documents)
    return replace(
        message,
        source=name_hidden(message.source, secrets),
        facts=places_hidden(message.facts, secrets),
        documents=documents,
        defects=tuple(name_hidden(defect, secrets) for defect in message.defects),
    )
