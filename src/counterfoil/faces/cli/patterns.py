"""`counterfoil patterns`: what values are recognised by, and whether it still works."""

from __future__ import annotations

import click

from counterfoil.archive import Archive
from counterfoil.errors import PatternFaulty
from counterfoil.faces.cli.common import archive_option, clean, json_option, print_json, say, table


@click.group(short_help="List and check the patterns that recognise values.")
def patterns() -> None:
    """Patterns are data: a vocabulary for each language, and the shop's own files for its makers.

    Maker files lie in the archive's folder patterns/, one a maker; DEVELOPERS.md shows how to write one.
    """


@patterns.command("list", short_help="List languages and makers.")
@archive_option
def list_patterns(archive: Archive) -> None:
    """List the languages of the vocabulary and the makers described in the archive.

    Example: counterfoil patterns list
    """
    known = archive.patterns
    say(f"Languages: {', '.join(v.language for v in known.vocabularies)}")
    if not known.makers:
        say(f"No maker file in {archive.folder / 'patterns'}; values are found by their labels alone.")
        return
    rows = (
        (m.name, ", ".join(m.models), ", ".join(str(kind) for kind in m.shapes), ", ".join(m.senders))
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
            say(clean(failure), style="red")
        say(f"{total - len(failures)} of {total} examples hold.")
    return PatternFaulty.exit_code if failures else 0
