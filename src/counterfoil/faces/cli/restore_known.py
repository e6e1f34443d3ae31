"""Asks how a caller is known, on a terminal; elsewhere the option says it, or it is journalled as not stated."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import clean, say
from counterfoil.faces.cli.keys import on_terminal
from counterfoil.faces.cli.refs import find_one

if TYPE_CHECKING:
    from counterfoil.answers.restore_giving import KnownBy


def known_by_of(archive: Archive, holder: str | None, known: str | None, *, ask: bool) -> KnownBy | None:
    """Return how the caller is known: as the option says, else as answered on the terminal, else None.

    Args:
        archive: the archive.
        holder: who has the machine now.
        known: the value of the option.
        ask: False where a program reads the answer.

    Raises:
        UsageProblem: the option says nothing that is known.
    """
    from counterfoil.answers.restore_giving import read_known_by

    profile = None if holder is None else archive.store.customer(holder)
    if known is not None:
        return read_known_by(known, profile, archive.settings.region)
    if not (ask and on_terminal()):
        return None
    return _asked(archive, holder)


def _asked(archive: Archive, holder: str | None) -> KnownBy:
    """Show the ways that the records allow, and take the number of one."""
    from counterfoil.answers.restore_giving import ways

    profile = None if holder is None else archive.store.customer(holder)
    offered = ways(profile)
    say(f"How is the caller known to be {clean(profile.name) if profile else 'the holder'}?", style="bold")
    for number, way in enumerate(offered, 1):
        say(f"  {number}  {clean(str(way))}")
    chosen = click.prompt("Number", type=click.IntRange(1, len(offered)), show_choices=False)
    return offered[int(chosen) - 1]


def machine_and_asker(archive: Archive, words: tuple[str, ...]) -> tuple[str, str | None]:
    """Return the machine that the words find, and the customer they name, None where they name the machine alone.

    A name that leads to a machine by a former holder must not pass for its present one.

    Args:
        archive: the archive.
        words: an id, or any text that finds exactly one machine.

    Raises:
        RecordUnknown: nothing answers.
        NeedsALook: several machines answer.
    """
    typed = "".join(words).strip()
    if re.fullmatch(r"C[0-9]+", typed, re.IGNORECASE):
        from counterfoil.answers.restore import only_machine

        customer = find_one(archive, words, "customer")
        return only_machine(archive.store, customer), customer
    target = find_one(archive, words, "machine")
    return target, None if target == typed.upper() else _named(archive, " ".join(words), target)


def _named(archive: Archive, text: str, target: str) -> str | None:
    """Return the one customer whom a text names for certain and who has or had the machine."""
    from counterfoil.answers.search import search

    answer = search(archive.store, archive.index, text, settings=archive.settings)
    named = {found.id for found in answer.customers if found.certain}
    held = {holding.customer for holding in archive.store.machine(target).holders}
    return named.pop() if len(named) == 1 and named <= held else None
