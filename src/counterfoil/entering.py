"""At the bench: what is typed is checked at once, an entry before it is made, and one that was made is corrected."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.model import CODE_KINDS, CodeHit, Fact, Kind
from counterfoil.patterns.alike import alike
from counterfoil.patterns.normal import normal_code
from counterfoil.patterns.shapes import Shape
from counterfoil.records.bench import backwards, odd, staged
from counterfoil.records.bench import objections as _objections
from counterfoil.records.correcting import correct as _correct

#: Codes that say which machine it is.
IDENTIFIERS = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)


@dataclass(frozen=True, slots=True)
class Checked:
    """A value as typed: the fact it gives, what is odd about it, and what may have been meant in its place."""

    fact: Fact
    odd: tuple[str, ...]
    meant: tuple[str, ...]


def check_typed(archive: Archive, kind: Kind, text: str, *, maker: str | None = None) -> Checked:
    """Hold one value against shapes and check digits, before anything is entered.

    Args:
        archive: the archive with the maker files.
        kind: what the value says.
        text: as typed.
        maker: the machine's maker where it is known.

    Raises:
        SettlementRefused: the text holds no value of that kind.
    """
    region = archive.settings.region
    fact = archive.patterns.make_fact(kind, text, maker=maker, near=date.today(), region=region)
    wrong = tuple(odd([fact], archive.settings))
    shapes = _shapes(archive, kind, maker) if kind in CODE_KINDS else []
    # Codes that no shape fits are most often those of makers without a file: only a near miss is worth an offer.
    return Checked(fact, wrong, tuple(alike(fact.normal, shapes)))


def _shapes(archive: Archive, kind: Kind, maker: str | None) -> list[Shape]:
    named = archive.patterns.maker(maker) if maker else None
    makers = archive.patterns.makers if named is None else (named,)
    return [maker.shapes[kind] for maker in makers if kind in maker.shapes]


def kinds_of(archive: Archive, text: str) -> tuple[Kind, ...]:
    """Return which identifier a text may be by the makers' shapes, look-alikes put right; both where none tells."""
    code = normal_code(text)
    shapes = {kind: _shapes(archive, kind, None) for kind in IDENTIFIERS}
    fitting = [kind for kind in IDENTIFIERS if any(s.fits(code) for s in shapes[kind])]
    fitting = fitting or [kind for kind in IDENTIFIERS if alike(code, shapes[kind], most=1)]
    return tuple(fitting) or IDENTIFIERS


def identified(archive: Archive, text: str) -> tuple[list[CodeHit], list[CodeHit]]:
    """Return where an identifier stands: filed to a machine letter for letter; and machines that have one like it.

    Args:
        archive: the archive.
        text: a machine ID or serial number as typed, or its end.
    """
    hits = [h for h in archive.store.find_code(normal_code(text)) if h.noted.fact.kind in IDENTIFIERS and h.machine]
    return [h for h in hits if h.how == "whole"], [h for h in hits if h.how != "whole"]


def objections(
    archive: Archive,
    *,
    customer: str | None,
    values: Sequence[tuple[Kind, str]],
    firmware_before: str | None = None,
    firmware_after: str | None = None,
) -> tuple[str, ...]:
    """Return what speaks against an entry; see :func:`counterfoil.records.bench.objections`; values are as typed."""
    return _objections(
        archive.store,
        archive.settings,
        customer=customer,
        facts=pipeline.typed(archive, values, None, None, date.today()),
        firmware_before=firmware_before,
        firmware_after=firmware_after,
    )


def correct(
    archive: Archive,
    entry: str,
    *,
    values: Sequence[tuple[Kind, str]] = (),
    firmware_before: str | None = None,
    firmware_after: str | None = None,
    drop: Collection[Kind] = (),
    sure: bool = False,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    """Correct an entry; see :func:`counterfoil.records.correcting.correct`; values are as typed."""
    with archive.lock():
        wanted = entry.strip().upper()
        lines = archive.store.journal(about=[wanted])
        machine = next((line.subject for line in lines if line.id == wanted and line.subject.startswith("M")), None)
        facts = pipeline.typed(archive, values, None, machine, date.today())
        return _correct(
            archive.store,
            archive.settings,
            entry,
            facts=facts,
            firmware_before=firmware_before,
            firmware_after=firmware_after,
            drop=drop,
            sure=sure,
            who=who,
            why=why,
        )


def firmware_backwards(archive: Archive, machine: str | None, before: str | None, after: str | None) -> tuple[str, ...]:
    """Say where the firmware of a machine would go backwards; see :func:`counterfoil.records.bench.backwards`.

    Raises:
        UsageProblem: one of the texts holds no version.
    """
    versions = staged(before, after)
    with archive.store.reading() as conn:
        return tuple(backwards(conn, None if machine is None else int(machine[1:]), versions))
