"""`counterfoil warranty`: is it still covered?"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    IsoDate,
    account,
    archive_option,
    json_option,
    pairs,
    print_json,
    prose,
    say,
    table,
    who_option,
)
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import as_day

if TYPE_CHECKING:
    from counterfoil.answers.pack import Pack
    from counterfoil.answers.warranty import Cover, WarrantyAnswer


@click.command(short_help="Is it still covered? Terms, dates and the evidence for them.")
@click.argument("ref", nargs=-1, required=True)
@click.option("--on", "on", type=IsoDate(), metavar="DATE", help="The day asked for, as 2026-11-25.  [default: today]")
@click.option(
    "--pack",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT.zip",
    help="Write a pack for the maker: summary, evidence, originals, hashes; needs --reason.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Of the summary.  [default: usual in your country]")
@click.option("--reveal", is_flag=True, help="Show codes in the summary of the pack too.")
@click.option("--reason", metavar="TEXT", default="", help="Why the pack is made, for the journal.")
@who_option
@json_option
@archive_option
def warranty(
    archive: Archive,
    ref: tuple[str, ...],
    on: date | None,
    pack: Path | None,
    paper: str | None,
    reveal: bool,
    reason: str,
    who: str | None,
    as_json: bool,
) -> None:
    """Say for each part class whether a machine is covered on a day, counted from which date, read where.

    REF is a machine's id (M7) or any text that finds exactly one machine. A pack holds only what its present holder
    sent; the originals in it show codes in clear.

    \b
    Examples: counterfoil warranty M7 --on 2026-11-25
              counterfoil warranty M7 --pack M7-claim.zip --reason "claim for the main board"
    """
    from counterfoil.answers.coverage_file import load_terms
    from counterfoil.answers.warranty import warranty as ask

    if pack is None and (reveal or reason or paper):
        raise UsageProblem(
            "--reveal, --reason and --paper are about the pack.", "Add --pack OUT.zip, or leave them out."
        )
    machine = find_one(archive, ref, "machine")
    answer = ask(archive.store, load_terms(archive.coverage_file), machine, on or date.today(), archive.settings)
    written = None if pack is None else _pack(archive, answer, pack, paper, reveal, reason, account(who))
    if as_json:
        print_json(answer.to_json() | ({} if written is None else written.to_json()))
        return
    _show(archive, answer)
    if written is not None:
        _show_pack(written)


def _pack(
    archive: Archive, answer: WarrantyAnswer, path: Path, paper: str | None, reveal: bool, reason: str, who: str
) -> Pack:
    from counterfoil.answers.pack import Tools, write_pack
    from counterfoil.answers.sheet_type import usual_paper
    from counterfoil.documents.attachments import attachments

    limits = archive.settings.limits
    return write_pack(
        archive.store,
        answer,
        path,
        Tools(
            archive.originals.read,
            archive.read_with_boxes,
            archive.draw_page,
            lambda data: attachments(data, limits),
        ),
        shop_name=archive.settings.shop_name,
        made=date.today(),
        paper=paper or usual_paper(archive.settings.region),
        reveal=reveal,
        who=who,
        reason=reason,
    )


def _show_pack(written: Pack) -> None:
    from counterfoil.answers.pack import CAUTION

    say()
    say(f"Written: {written.path}")
    originals = [name for name in written.files if name.startswith("originals/")]
    prose(
        f"In it: the summary, {len(originals)} files as received, and their hashes ({written.journal} in the journal)."
    )
    prose(CAUTION)
    for sentence in written.left_out:
        prose(sentence, style="yellow")


def _show(archive: Archive, answer: WarrantyAnswer) -> None:
    from counterfoil.answers.provenance import KIND_WORDS, origin

    pairs(
        [
            ("machine", machine_line(archive, answer.machine)),
            ("holder", holder_line(archive, answer.customer)),
            ("on", answer.on.isoformat()),
        ]
    )
    say()
    if not answer.coverage:
        prose(f"No term in {archive.coverage_file} fits this machine.")
    else:
        _show_covers(answer)
    if answer.evidence:
        say()
        evidence = (
            (KIND_WORDS[n.fact.kind], as_day(n.fact.kind, n.fact.value, n.fact.normal), origin(n))
            for n in answer.evidence
        )
        table("Evidence", ("", "value", "read from"), evidence)
    say()
    prose(answer.note)


def _show_covers(answer: WarrantyAnswer) -> None:
    """Print a row a part class; below it the reason, all answers where there are several, what is missing, the rule."""
    from counterfoil.answers.warranty_words import answer_words

    several = max(len(cover.answers) for cover in answer.coverage)
    answers = [f"answer {n}" for n in range(1, several + 1)] if several > 1 else []
    below = ["why", *answers, "missing", "rule"]
    rows: list[tuple[str | Text, ...]] = []
    for cover in answer.coverage:
        said = [f"- {answer_words(a)}" for a in cover.answers] if len(cover.answers) > 1 else []
        said += [""] * (len(answers) - len(said))
        missing = f"Missing: {' '.join(cover.missing)}" if cover.missing else ""
        rows.append((*_first_row(cover), cover.why, *said, missing, f"Rule: {cover.rule}"))
    table(None, ("part", "state", "last day", "days left", *below), rows, below=below)


def _first_row(cover: Cover) -> tuple[str, Text, str, str]:
    verdict = {
        True: Text("covered", style="green"),
        False: Text("not covered", style="red"),
        None: Text("cannot tell", style="yellow"),
    }[cover.covered]
    if cover.assumed and cover.covered is not None:
        verdict.append(", assumed", style="yellow")
    last = "" if cover.ends is None else cover.ends.isoformat()
    if cover.latest_ends is not None and cover.latest_ends != cover.ends:
        last = f"{last} or {cover.latest_ends}" if last else f"none or {cover.latest_ends}"
    return cover.part, verdict, last, "" if cover.days_left is None else str(cover.days_left)
