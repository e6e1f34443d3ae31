"""`counterfoil report ...`: the lists the shop works from."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, TypeVar

import click

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import IsoDate, archive_option
from counterfoil.faces.cli.report_out import list_options

if TYPE_CHECKING:
    from counterfoil.answers.lists import Listing

F = TypeVar("F", bound=Callable[..., Any])

_maker_option = click.option("--maker", metavar="NAME", help="Only machines of this maker.")
_model_option = click.option("--model", metavar="NAME", help="Only this model; its maker may stand in front.")


@click.command(short_help="Messages per week, and where they stand.")
@click.option(
    "--weeks", "number", type=click.IntRange(1, 520), default=12, show_default=True, metavar="N", help="How many weeks."
)
@click.option("--on", type=IsoDate(), metavar="YYYY-MM-DD", help="Up to the week of this day.  [default: today]")
@list_options
@archive_option
def weeks(archive: Archive, number: int, on: date | None) -> Listing:
    """Count the messages by the week they were received: filed, open, put aside.

    \b
    Examples: counterfoil report weeks --chart
              counterfoil report weeks --weeks 52 --out messages.svg
    """
    from counterfoil.answers.lists_gaps import weeks as ask

    return ask(archive.store, today=on or datetime.now(UTC).date(), number=number)


@click.command(short_help="Machines below a firmware version, with whom to write to.")
@_model_option
@_maker_option
@click.option("--below", metavar="VERSION", help="Only machines below it; compared as versions: 2.9 is below 2.10.")
@list_options
@archive_option
def firmware(archive: Archive, model: str | None, maker: str | None, below: str | None) -> Listing:
    """List machines by the firmware noted last, with the contacts of who has them now.

    Machines without a version on record are listed apart. A CSV has them too: its last column says which is which.
    2.10a and 2.10b are later than 2.10, 2.10 beta and 2.10 rc 1 earlier.

    \b
    Examples: counterfoil report firmware --model "Brise 300" --below 2.40
              counterfoil report firmware --model "Brise 300" --below 2.40 --out mailing.csv

    An update must not be interrupted, and follows the maker's manual: say so in the mailing.
    """
    from counterfoil.answers.lists_firmware import firmware as ask

    return ask(archive.store, model=model, maker=maker, below=below)


@click.command(short_help="How many machines have which firmware, by model.")
@_model_option
@_maker_option
@list_options
@archive_option
def versions(archive: Archive, model: str | None, maker: str | None) -> Listing:
    """Count the machines by maker, model and the firmware noted last.

    \b
    Examples: counterfoil report versions --chart
              counterfoil report versions --maker Vesterlyng --out versions.svg
    """
    from counterfoil.answers.lists_firmware import versions as ask

    return ask(archive.store, model=model, maker=maker)


@click.command(short_help="Customers whose machine lacks the current upgrade.")
@click.option("--upgrade", metavar="NAME", help="Another upgrade.  [default: the last one in the maker file]")
@_model_option
@_maker_option
@list_options
@archive_option
def upgrades(archive: Archive, upgrade: str | None, model: str | None, maker: str | None) -> Listing:
    """List machines that lack an upgrade of their maker, with the contacts of who has them now.

    The current upgrade of a maker is the last one in its maker file. An upgrade counts as bought also where its
    code was made for the main board before.

    \b
    Examples: counterfoil report upgrades
              counterfoil report upgrades --upgrade "Quilt Pack" --out quilt.csv
    """
    from counterfoil.answers.lists_upgrades import upgrades as ask
    from counterfoil.faces.cli.restore import guides

    return ask(archive.store, guides(archive), upgrade=upgrade, maker=maker, model=model)


@click.command(short_help="Machines without proof of purchase.")
@_model_option
@_maker_option
@list_options
@archive_option
def proof(archive: Archive, model: str | None, maker: str | None) -> Listing:
    """List machines for which no message names the day of purchase or an invoice number, with whom to ask.

    A day that was only said at the desk, or that can be read in two ways, is listed apart. What counts as proof is
    the maker's decision.

    Example: counterfoil report proof --out ask-for-invoice.csv
    """
    from counterfoil.answers.lists_gaps import proof as ask

    return ask(archive.store, maker=maker, model=model)


@click.command(short_help="Keys and codes seen on more than one machine.")
@list_options
@archive_option
def keys(archive: Archive) -> Listing:
    """List product keys and activation codes that are on two machines or more, though each is good for one.

    Codes are masked; look at them with `counterfoil machine M7 --reveal` or `counterfoil triage show E5`.

    Example: counterfoil report keys
    """
    from counterfoil.answers.lists_gaps import keys as ask

    return ask(archive.store)


#: In the order of the overview.
LISTS = (weeks, firmware, versions, upgrades, proof, keys)
