"""`counterfoil coverage`: the terms of warranty, their worked examples, and extensions that customers bought."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil import byhand
from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    FOLDER,
    IsoDate,
    account,
    archive_option,
    clean,
    folder_option,
    json_option,
    pairs,
    print_json,
    prose,
    say,
    table,
    who_option,
    why_option,
)
from counterfoil.faces.cli.lazy import OrderedGroup
from counterfoil.faces.cli.refs import find_one, machine_line

if TYPE_CHECKING:
    from counterfoil.answers.coverage import Term


@click.group(cls=OrderedGroup, short_help="The terms of warranty, their examples, and extensions bought.")
@folder_option
@click.pass_context
def coverage(context: click.Context, folder: Path | None) -> None:
    """See and check the terms in coverage.toml, and enter extensions that customers bought.

    Example: counterfoil coverage check
    """
    context.meta[FOLDER] = folder


@coverage.command("list", short_help="List the terms.")
@json_option
@archive_option
def list_terms(archive: Archive, as_json: bool) -> None:
    """List the terms in coverage.toml, each as a sentence, and the extensions that stand.

    Example: counterfoil coverage list
    """
    from counterfoil.answers.coverage import length_words
    from counterfoil.answers.coverage_file import load_terms
    from counterfoil.answers.warranty import STANDING_NOTE
    from counterfoil.records.extensions import extensions

    terms, bought = load_terms(archive.coverage_file), extensions(archive.store)
    if as_json:
        sold = [
            {"id": e.id, "machine": e.machine, "parts": list(e.parts), "months": e.months, "bought": str(e.bought)}
            for e in bought
        ]
        print_json({"terms": [_term_json(term) for term in terms], "extensions": sold, "note": STANDING_NOTE})
        return
    if terms:
        rows = (
            (str(t.number), t.maker or "any", t.model or "any", t.part, f"{t.words} {t.note}".strip()) for t in terms
        )
        table("Terms", ("", "maker", "model", "part", "rule"), rows, below=("rule",))
    else:
        prose(f"{archive.coverage_file} holds no terms.")
    if bought:
        say()
        lines = (
            (e.id, e.machine, ", ".join(e.parts), length_words(e.months), e.bought.isoformat(), e.number)
            for e in bought
        )
        table("Extensions", ("", "machine", "parts", "length", "bought", "number"), lines)
    say()
    prose(STANDING_NOTE)


def _term_json(term: Term) -> dict[str, object]:
    return {
        "number": term.number,
        "maker": term.maker or None,
        "model": term.model or None,
        "part": term.part,
        "months": term.months,
        "start": term.start,
        "first_holder": term.first_holder,
        "register_within_days": term.register_days,
        "else_months": term.else_months if term.register_days is not None else None,
        "proof": list(term.proof),
        "rule": term.words,
    }


@coverage.command(short_help="Check the terms and work the examples in the file.")
@click.argument("path", required=False, metavar="[FILE]", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@json_option
@click.pass_context
@folder_option
def check(context: click.Context, path: Path | None, as_json: bool, folder: Path | None) -> None:
    """Check coverage.toml, or another FILE of terms: each fault with its line, each example that comes out otherwise.

    Example: counterfoil coverage check
    """
    from counterfoil.answers.coverage_examples import run_examples
    from counterfoil.answers.coverage_file import read_coverage
    from counterfoil.faces.cli.common import named_folder

    if path is None:
        archive = Archive(named_folder(folder))
        path = archive.coverage_file
        archive.close()
    read = read_coverage(path)
    misses = [] if read.faults else run_examples(read)
    if as_json:
        found = [{"line": f.line or None, "said": f.said} for f in read.faults]
        found += [{"line": m.line or None, "said": f"example {m.number}: {m.said}"} for m in misses]
        print_json({"file": str(path), "terms": len(read.terms), "examples": len(read.examples), "wrong": found})
    else:
        for fault in read.faults:
            prose(clean(fault.said), first=f"{path}:{fault.line}: " if fault.line else f"{path}: ", rest="    ")
        for miss in misses:
            prose(clean(f"example {miss.number}: {miss.said}"), first=f"{path}:{miss.line}: ", rest="    ")
        if read.faults:
            say("The examples were not worked: mend the faults first.")
        else:
            right = len(read.examples) - len(misses)
            say(f"{len(read.terms)} terms are in order; {right} of {len(read.examples)} examples come out as written.")
    if read.faults:
        context.exit(10)
    if misses:
        context.exit(1)


@coverage.command(short_help="Enter an extension that a customer bought.")
@click.argument("ref", nargs=-1, required=True)
@click.option("--part", "parts", multiple=True, required=True, metavar="PART", help="The part class; may be repeated.")
@click.option("--years", type=click.IntRange(0, 20), default=0, metavar="N", help="How many years it lasts.")
@click.option("--months", type=click.IntRange(0, 240), default=0, metavar="N", help="And how many months.")
@click.option("--bought", type=IsoDate(), help="The day it was bought.  [default: today]")
@click.option("--from", "since", type=IsoDate(), help="Its first day.  [default: it follows the maker's term]")
@click.option("--with-buyer", is_flag=True, help="It ends when its buyer parts with the machine.")
@click.option("--number", default="", metavar="TEXT", help="The number of its contract or invoice.")
@click.option("--proof", "message", metavar="E5", help="A message of this machine that proves it.")
@who_option
@why_option
@json_option
@archive_option
def extend(
    archive: Archive,
    ref: tuple[str, ...],
    parts: tuple[str, ...],
    years: int,
    months: int,
    bought: date | None,
    since: date | None,
    with_buyer: bool,
    number: str,
    message: str | None,
    who: str | None,
    why: str,
    as_json: bool,
) -> None:
    """Enter an extension of the cover of a machine that a customer bought. It stands in the journal, and can be undone.

    REF is a machine's id (M7) or any text that finds exactly one machine.

    Example: counterfoil coverage extend M7 --part machine --years 2 --number X-2204
    """
    from counterfoil.answers.coverage import length_words

    machine = find_one(archive, ref, "machine")
    if not years * 12 + months:
        raise UsageProblem("The extension has no length.", "Add --years N, --months N, or both.")
    done = byhand.extend_cover(
        archive,
        machine,
        parts,
        years * 12 + months,
        bought or date.today(),
        since=since,
        with_buyer=with_buyer,
        number=number,
        message=message,
        who=account(who),
        why=why,
    )
    if as_json:
        print_json({"machine": done.machine, "parts": list(done.parts), "months": done.months, "journal": done.id})
        return
    pairs(
        [
            ("machine", machine_line(archive, done.machine)),
            ("extended", f"{', '.join(done.parts)}: {length_words(done.months)}"),
            ("from", done.since.isoformat() if done.since else "the end of the maker's term"),
        ]
    )
    say(f"Take it back with: counterfoil undo {done.id}")
