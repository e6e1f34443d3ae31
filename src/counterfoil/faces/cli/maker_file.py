"""`counterfoil patterns learn`: a maker file proposed from messages, shown with what it would do, written when told."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    clean,
    json_option,
    pairs,
    print_json,
    prose,
    say,
    table,
    who_option,
    why_option,
)
from counterfoil.faces.cli.keys import need_terminal
from counterfoil.faces.cli.values import assignments
from counterfoil.model import Kind

if TYPE_CHECKING:
    from counterfoil.patterns.draft import Draft
    from counterfoil.proposal import Preview, Sample

_MOST_SHOWN = 12
"""Messages named in one line of the preview; the number of all stands beside."""
_INSTEAD = "Add --take E5 for what was read or settled in a message, or --value KIND=VALUE for each value."


@click.command("learn", short_help="Propose a maker file from messages of a maker nobody described.")
@click.argument("messages", metavar="E5...", nargs=-1)
@click.option("--value", "values", multiple=True, metavar="KIND=VALUE", help="A value that stands in the messages.")
@click.option("--take", "take", multiple=True, metavar="E5", help="Take what was settled or read in this message.")
@click.option(
    "--write", "name", metavar="NAME", help="Write it as patterns/NAME.toml. Without this nothing is written."
)
@click.option("--reveal", is_flag=True, help="Show the codes in full; needs --reason, written to the journal.")
@who_option
@why_option
@json_option
@archive_option
def learn(
    archive: Archive,
    messages: tuple[str, ...],
    values: tuple[str, ...],
    take: tuple[str, ...],
    name: str | None,
    reveal: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Propose a maker file from two or more messages: ids such as E5, or files that hold one message each.

    Point out the values with --value or --take; on a terminal, what was read is offered to be confirmed. The file says
    only what all messages show: labels, shapes, check digits where chance is ruled out, senders, names. It is shown
    with what it would do to the whole archive. After --write, `counterfoil reread` does that.

    \b
    Examples: counterfoil patterns learn E5 E9 E14 --take E5 --take E9 --take E14
              counterfoil patterns learn E5 one.eml --take E5 --value machine_id=VT-204417-R
              counterfoil patterns learn --take E5 --take E9 --write velotta
    """
    from counterfoil import proposal

    if reveal and not why.strip():
        raise UsageProblem("--reveal shows codes, which goes into the journal with its reason.", "Add --reason TEXT.")
    typed = assignments(values)
    samples = proposal.read_samples(archive, [*messages, *take])
    taken = _taken(archive, samples, take, typed)
    if reveal:
        proposal.note_reveal(archive, samples, who=account(who), why=why)
    draft = proposal.propose(archive, proposal.assign(archive, samples, typed, taken))
    found = proposal.preview(archive, draft)
    written = None if name is None else proposal.write(archive, draft, name, who=account(who), why=why)
    if as_json:
        print_json(_json(draft, found, reveal=reveal) | {"written": None if written is None else str(written[0])})
    else:
        _show(draft, reveal=reveal)
        _show_preview(found, reveal=reveal)
        if written is None:
            say("Nothing is written yet. Add --write NAME to write it.")
        else:
            say(f"Written: {written[0]}; {written[1]} in the journal.")
            say(f"Now: counterfoil reread --maker {draft.maker!r}")
    for problem in found.problems:
        click.echo(f"counterfoil: {clean(problem)}", err=True)
    return 1 if found.wrong or found.contradictions or found.problems else 0


def _taken(
    archive: Archive, samples: Sequence[Sample], take: Sequence[str], typed: Sequence[tuple[Kind, str]]
) -> dict[str, Mapping[Kind, str]]:
    """Return the values taken or confirmed for each message; a person is asked where none were pointed out at all."""
    from counterfoil.proposal import read_values

    wanted = {name.upper() for name in take} | set(take)
    found: dict[str, Mapping[Kind, str]] = {s.name: read_values(s) for s in samples if s.name in wanted}
    if found or any(kind is not Kind.MAKER for kind, _ in typed):
        return found
    need_terminal(_INSTEAD)
    return {sample.name: _confirmed(sample.name, read_values(sample)) for sample in samples}


def _confirmed(name: str, read: Mapping[Kind, str]) -> dict[Kind, str]:
    """Let a person confirm what was read in a message, all at once or value by value."""
    from counterfoil.answers.masking import mask_value
    from counterfoil.answers.provenance import KIND_WORDS

    say(name, style="bold")
    if not read:
        say("    nothing was read in it; give its values with --value")
        return {}
    pairs((KIND_WORDS[kind], mask_value(kind, value)) for kind, value in read.items())
    sys.stdout.flush()
    if click.confirm("Is all of this right?", default=False):
        return dict(read)
    return {
        kind: value
        for kind, value in read.items()
        if click.confirm(f"{KIND_WORDS[kind]} {clean(mask_value(kind, value))}: right?", default=False)
    }


# --- showing ---------------------------------------------------------------------------------------


def _show(draft: Draft, *, reveal: bool) -> None:
    from counterfoil.answers.masking import mask_value
    from counterfoil.answers.provenance import KIND_WORDS
    from counterfoil.patterns.draft_file import chance_said

    say(f"A maker file for {draft.maker}, from {', '.join(draft.used)}", style="bold")
    rows = []
    for kind, guess in draft.codes.items():
        shown = [mask_value(kind, values[kind], reveal=reveal) for values in draft.used.values() if kind in values]
        rows.append((KIND_WORDS[kind], guess.text or "no shape", ", ".join(shown)))
    table(None, ("code", "shape", "from"), rows)
    for kind, guess in draft.codes.items():
        for check in guess.checks:
            prose(f"{KIND_WORDS[kind]}: check digit {check.name}: {chance_said(check, guess.values)}", first="  ")
    for (language, kind, text), number in draft.labels.items():
        prose(f"new label for {KIND_WORDS[kind]} ({language}): “{text}”, in {number} of the messages", first="  ")
    for note in draft.notes:
        prose(note, style="yellow", first="  ? ")
    say()
    for line in draft.text.splitlines():
        say(f"    {line}")
    say()


def _show_preview(found: Preview, *, reveal: bool) -> None:
    from counterfoil.answers.masking import mask_value
    from counterfoil.answers.provenance import KIND_WORDS

    say(f"What it would do to the {found.read} messages of the archive", style="bold")
    clashing = dict.fromkeys(c.id for c in found.contradictions)
    filed = sum(c.after.value == "filed" and c.before.value != "filed" for c in found.changes)
    rows = [
        ("recognised", len(found.matched), _few(found.matched)),
        ("would change", len(found.changes), _few(change.id for change in found.changes)),
        ("would be filed", filed, "their questions would answer themselves"),
        ("contradict values on file", len(clashing), _few(clashing)),
        ("of other makers, matched wrongly", len(found.wrong), _few(f"{w.id} ({w.maker})" for w in found.wrong)),
        ("with a wrong check digit", len(found.failed), _few(found.failed)),
    ]  # fmt: skip
    table(None, ("", "messages", ""), ((what, str(number), which) for what, number, which in rows))
    for clash in found.contradictions:
        old, new = (mask_value(clash.kind, value, reveal=reveal) for value in (clash.old, clash.new))
        by = ", confirmed by a person" if clash.confirmed else ""
        prose(f"{clash.id}: {KIND_WORDS[clash.kind]} on file {old}{by}; it would be read as {new}", first="  ? ")
    for wrong in found.wrong:
        prose(f"{wrong.id} is of {wrong.maker}; the file would match it by its {wrong.what}", first="  ? ")


def _few(names: Iterable[str]) -> str:
    every = list(dict.fromkeys(names))
    more = f" and {len(every) - _MOST_SHOWN} more" if len(every) > _MOST_SHOWN else ""
    return ", ".join(every[:_MOST_SHOWN]) + more


def _json(draft: Draft, found: Preview, *, reveal: bool) -> dict[str, object]:
    from counterfoil.answers.masking import mask_value

    codes = {
        kind.value: {
            "shape": guess.text,
            "alphabet": guess.alphabet,
            "values": guess.values,
            "check": None if guess.check is None else guess.check.name,
            "checks": [
                {"name": c.name, "from": c.start, "chance": c.chance, "any": c.any_chance, "sure": c.sure}
                for c in guess.checks
            ],
        }
        for kind, guess in draft.codes.items()
    }
    return {
        "maker": draft.maker,
        "messages": {
            name: {kind.value: mask_value(kind, value, reveal=reveal) for kind, value in values.items()}
            for name, values in draft.used.items()
        },
        "codes": codes,
        "labels": [
            {"language": language, "kind": kind.value, "text": text, "messages": number}
            for (language, kind, text), number in draft.labels.items()
        ],
        "notes": list(draft.notes),
        "file": draft.text,
        "read": found.read,
        "matched": {ref: list(how) for ref, how in found.matched.items()},
        "changes": [change.to_json() for change in found.changes],
        "contradictions": [
            {
                "id": c.id,
                "kind": c.kind.value,
                "old": mask_value(c.kind, c.old, reveal=reveal),
                "new": mask_value(c.kind, c.new, reveal=reveal),
                "confirmed": c.confirmed,
            }
            for c in found.contradictions
        ],
        "wrong": [{"id": w.id, "maker": w.maker, "by": w.what} for w in found.wrong],
        "check_failed": {ref: [kind.value for kind in kinds] for ref, kinds in found.failed.items()},
        "problems": found.problems,
    }
