"""`counterfoil patterns`: what values are recognised by, and whether it still works."""

from __future__ import annotations

from pathlib import Path

import click

from counterfoil.archive import Archive
from counterfoil.errors import PatternFaulty
from counterfoil.faces.cli.common import (
    archive_option,
    folder_option,
    json_option,
    named_folder,
    print_json,
    prose,
    say,
    table,
)
from counterfoil.faces.cli.lazy import OrderedGroup
from counterfoil.faces.cli.maker_file import learn


@click.group(cls=OrderedGroup, short_help="List and check the patterns that recognise values.")
@folder_option
def patterns(folder: Path | None) -> None:
    """Patterns are data: a vocabulary for each language, and the shop's own files for its makers.

    Maker files lie in the archive's folder patterns/, one a maker; DEVELOPERS.md shows how to write one.

    Example: counterfoil patterns check
    """
    named_folder(folder)


@patterns.command("list", short_help="List languages and makers.")
@json_option
@archive_option
def list_patterns(archive: Archive, as_json: bool) -> None:
    """List the languages of the vocabulary and the makers described in the archive.

    Example: counterfoil patterns list
    """
    from counterfoil.answers.provenance import KIND_WORDS

    known = archive.patterns
    if as_json:
        makers = [{"name": m.name, "models": list(m.models), "senders": list(m.senders)} for m in known.makers]
        print_json({"languages": [v.language for v in known.vocabularies], "makers": makers})
        return
    say(f"Languages: {', '.join(v.language for v in known.vocabularies)}")
    if not known.makers:
        prose(f"No maker file in {archive.folder / 'patterns'}; values are found by their labels alone.")
        return
    rows = (
        (m.name, ", ".join(m.models), ", ".join(KIND_WORDS[kind] for kind in m.shapes), ", ".join(m.senders))
        for m in known.makers
    )
    table(None, ("maker", "models", "codes described", "writes from"), rows)


@patterns.command("check", short_help="Run every pattern's own examples.")
@json_option
@archive_option
def check(archive: Archive, as_json: bool) -> int:
    """Run the examples that every pattern carries: values that must be found, and look-alikes that must not.

    Example: counterfoil patterns check
    """
    failures = [f"{f.source}: {f.kind.value} in {f.text!r}: {f.what}" for f in archive.patterns.check_proofs()]
    known = archive.patterns
    total = sum(len(v.proofs) for v in known.vocabularies) + sum(len(m.proofs) for m in known.makers)
    if as_json:
        print_json({"proofs": total, "failed": failures})
    else:
        for failure in failures:
            prose(failure, style="red")
        say(f"{total - len(failures)} of {total} examples hold.")
    return PatternFaulty.exit_code if failures else 0


patterns.add_command(learn)
