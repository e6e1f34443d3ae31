"""`counterfoil conflicts`: values on record that contradict each other."""

from __future__ import annotations

import click

from counterfoil.archive import Archive
from counterfoil.errors import NeedsALook
from counterfoil.faces.cli.common import archive_option, json_option, print_json, prose, say


@click.command(short_help="List values on record that contradict each other.")
@json_option
@archive_option
def conflicts(archive: Archive, as_json: bool) -> int:
    """List conflicts among what is filed: a key or machine ID on two machines, two serial numbers or activation codes
    for one, failed checks, dates that contradict each other or lie before the model was sold.

    What a person filed knowingly (--sure) is listed with the line of the journal that says so; all else needs a look,
    and the exit code is 1.

    Example: counterfoil conflicts
    """
    from counterfoil.answers.conflicts import conflict_json
    from counterfoil.answers.conflicts import conflicts as ask

    found = ask(archive.store)
    if as_json:
        print_json({"conflicts": [conflict_json(conflict) for conflict in found]})
    for conflict in () if as_json else found:
        known = f" (filed knowingly, {conflict.accepted_by})" if conflict.accepted_by else ""
        prose(conflict.sentence + known, style=None if conflict.accepted_by else "yellow")
        for side in conflict.evidence:
            prose(side, first="    ")
    if not found and not as_json:
        say("Nothing on record contradicts itself.")
    return NeedsALook.exit_code if any(conflict.accepted_by is None for conflict in found) else 0
