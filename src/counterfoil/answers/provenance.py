"""Where a value of a profile comes from, in JSON and in words: shared by all answers."""

from __future__ import annotations

from counterfoil.answers.masking import mask_value
from counterfoil.model import Check, Fact, Kind, Noted

#: What a kind of fact is called in sentences.
KIND_WORDS = {kind: kind.value.replace("_", " ") for kind in Kind} | {
    Kind.MACHINE_ID: "machine ID",
    Kind.EMAIL_ADDRESS: "e-mail address",
}


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
