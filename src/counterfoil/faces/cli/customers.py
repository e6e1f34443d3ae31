"""`counterfoil customers`: the shop's own list of customers, in and out."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil import upkeep
from counterfoil.archive import Archive
from counterfoil.errors import StorageFull, UsageProblem
from counterfoil.faces.cli.common import (
    FOLDER,
    account,
    archive_option,
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
from counterfoil.sources.customer_list import FIELDS, delimiter_name, read_customer_list

if TYPE_CHECKING:
    from counterfoil.model import CustomerList
    from counterfoil.records.importing import ImportReport

#: New customers shown by name; the figure says how many there are.
_SHOWN_NEW = 10


@click.group(cls=OrderedGroup, short_help="Take the shop's own customer list in, or write it out.")
@folder_option
@click.pass_context
def customers(context: click.Context, folder: Path | None) -> None:
    """Take the shop's own customer list in as CSV, or write all customers out.

    Example: counterfoil customers import list.csv
    """
    context.meta[FOLDER] = folder


@customers.command("import", short_help="Show what a customer list would bring; --write takes it in.")
@click.argument("path", metavar="FILE.csv", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="FIELD=HEADING",
    help=f"What a column holds. FIELD: {', '.join(FIELDS)}.",
)
@click.option("--encoding", metavar="NAME", help="Encoding of the file.  [default: found out]")
@click.option("--delimiter", metavar="SIGN", help="Between fields: , ; | or `tab`.  [default: found out]")
@click.option("--region", metavar="GB", help="Country of phone numbers without a +code.  [default: the shop's]")
@click.option("--answer", "answers", multiple=True, metavar="LINE=C3|new", help="Whose the row on a line is.")
@click.option("--distinct", is_flag=True, help="You vouch that all rows of the list are different people.")
@click.option("--write", is_flag=True, help="Write it. Without this, nothing is changed.")
@who_option
@why_option
@json_option
@archive_option
def import_(
    archive: Archive,
    path: Path,
    columns: tuple[str, ...],
    encoding: str | None,
    delimiter: str | None,
    region: str | None,
    answers: tuple[str, ...],
    distinct: bool,
    write: bool,
    who: str | None,
    why: str,
    as_json: bool,
) -> int:
    """Hold a customer list against the records: who is new, who is known, what a person must say, which rows are bad.

    Nothing is changed without --write. Columns are recognised by their headings in seven languages; --column names
    others. A row is a known customer if a contact is the same and the name agrees: then contacts they lack are
    added. A row that is only like a customer is a question: answer it with --answer, or leave it out.

    \b
    Examples: counterfoil customers import list.csv
              counterfoil customers import list.csv --column name=Kundin --write
              counterfoil customers import list.csv --answer 17=C3 --answer 18=new --write
    """
    mapping = [_pair(word, "--column FIELD=HEADING") for word in columns]
    listed = read_customer_list(path, mapping=mapping, encoding=encoding, delimiter=delimiter)
    report = upkeep.import_customers(
        archive,
        listed,
        region=_region(region),
        answers=_answers(answers),
        distinct=distinct,
        write=write,
        who=account(who),
        why=why,
    )
    if as_json:
        print_json(_layout(listed) | report.to_json())
    else:
        _show(listed, report, write=write)
    return 1 if report.bad or report.questions else 0


def _pair(word: str, wanted: str) -> tuple[str, str]:
    name, sign, value = word.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise UsageProblem(f"{word!r} is not in the form {wanted}.")
    return name.strip().lower(), value.strip()


def _region(text: str | None) -> str | None:
    if text is not None and not (len(text) == 2 and text.isascii() and text.isalpha()):
        raise UsageProblem(f"{text!r} is no country code.", "Give two letters, as DE or GB.")
    return None if text is None else text.upper()


def _answers(words: Iterable[str]) -> dict[int, str]:
    found: dict[int, str] = {}
    for word in words:
        line, whose = _pair(word, "--answer LINE=C3 or LINE=new")
        if not line.isdecimal():
            raise UsageProblem(f"{line!r} is not the number of a line.", "Write --answer 17=C3 or --answer 17=new.")
        if found.setdefault(int(line), whose) != whose:
            raise UsageProblem(f"Line {line} is answered twice.")
    return found


def _layout(listed: CustomerList) -> dict[str, object]:
    return {
        "file": listed.name,
        "encoding": listed.encoding,
        "delimiter": listed.delimiter,
        "columns": {field: list(headings) for field, headings in listed.columns.items()},
        "left_out": list(listed.left_out),
    }


def _show(listed: CustomerList, report: ImportReport, *, write: bool) -> None:
    say(f"Read as {listed.encoding}, fields divided by {delimiter_name(listed.delimiter)}", style="bold")
    columns = [(field.replace("_", " "), ", ".join(headings)) for field, headings in listed.columns.items()]
    pairs([*columns, ("not taken", ", ".join(listed.left_out))])
    say()
    rows = [
        ("new", len(report.new), "customers nobody like whom is known"),
        ("same", report.same, "known, and nothing to add"),
        ("merged", len(report.merged), "known: contacts they lacked are added"),
        ("questions", len(report.questions), "like a customer; nothing of them is written"),
        ("bad", len(report.bad), "cannot be taken; named below"),
    ]
    table(None, ("", "rows", ""), ((name, str(n), note) for name, n, note in rows))
    _show_new_and_merged(report)
    _show_questions(report)
    if report.bad:
        say()
        say("Bad rows", style="bold")
    for row in report.bad:
        prose(row.reason, first=f"line {row.line}: ")
    say()
    if report.journal:
        say(f"Written. Take it back with: counterfoil triage undo {report.journal}")
    elif write:
        say("There was nothing to write.")
    else:
        say("Nothing is written yet." + (" Add --write to write it." if report.changes else ""))


def _show_new_and_merged(report: ImportReport) -> None:
    if report.new:
        say()
        say("New", style="bold")
    for new in report.new[:_SHOWN_NEW]:
        prose(f"{new.name}  {new.customer or ''}".rstrip(), first=f"line {new.line}: ")
    if len(report.new) > _SHOWN_NEW:
        say(f"and {len(report.new) - _SHOWN_NEW} more; --json names all")
    if report.merged:
        say()
        say("Merged", style="bold")
    for merge in report.merged:
        prose(f"{merge.name} is {merge.into}, adding {', '.join(merge.added)}", first=f"line {merge.line}: ")


def _show_questions(report: ImportReport) -> None:
    if report.questions:
        say()
        say("Questions", style="bold")
    for asked in report.questions:
        prose(f"{asked.name}. {asked.question.sentence}", style="yellow", first=f"line {asked.line}: ")
        for candidate in asked.question.candidates:
            prose(f"{candidate.ref}  {candidate.label}  ({'; '.join(candidate.evidence)})", first="    ")
    if report.questions:
        first = report.questions[0]
        ref = next((c.ref for c in first.question.candidates if c.ref.startswith("C")), None)
        choices = ([f"--answer {first.line}={ref}"] if ref else []) + [f"--answer {first.line}=new"]
        say(f"Answer with: {'   or   '.join(choices)}")
        if ref is None:
            say("What another row of the list makes has an id once that is written.")


# --- out ------------------------------------------------------------------------------------------


@customers.command(short_help="Write all customers out as CSV.")
@click.argument("path", metavar="FILE.csv|-", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
@click.option("--encoding", default="utf-8", show_default=True, metavar="NAME", help="utf-8-sig for spreadsheets.")
@click.option("--delimiter", default=",", show_default=True, metavar="SIGN", help="Between fields: , ; | or `tab`.")
@who_option
@json_option
@archive_option
def export(archive: Archive, path: Path, encoding: str, delimiter: str, who: str | None, as_json: bool) -> None:
    """Write every customer as a row: names, e-mail addresses, phone numbers in international form, addresses.

    `customers import` reads the file back; into a new archive with --distinct, as every row is a customer of their
    own. The file holds personal data; the journal notes who wrote it. A file that exists is not written over.

    Example: counterfoil customers export customers.csv
    """
    from counterfoil.answers.customer_list import customer_table

    sign = {"tab": "\t", "comma": ",", "semicolon": ";", "pipe": "|"}.get(delimiter, delimiter)
    if len(sign) != 1 or sign in '"\r\n':
        raise UsageProblem(f"{delimiter!r} is no delimiter.", "Give one character, or `tab`.")
    out = io.StringIO(newline="")
    rows = list(customer_table(archive.store))
    csv.writer(out, delimiter=sign).writerows(rows)
    if str(path) == "-":
        if as_json:
            raise UsageProblem("Standard output takes either the list or JSON.", "Name a file.")
        archive.store.note(account(who), "export", "customers", "", {"customers": len(rows) - 1})
        click.echo(out.getvalue(), nl=False)
        return
    _write(path, _encoded(out.getvalue(), encoding))
    archive.store.note(account(who), "export", "customers", "", {"customers": len(rows) - 1})
    if as_json:
        print_json({"file": str(path), "customers": len(rows) - 1})
    else:
        say(f"{len(rows) - 1} customers are in {path}.")


def _encoded(text: str, encoding: str) -> bytes:
    try:
        return text.encode(encoding)
    except LookupError:
        raise UsageProblem(f"There is no encoding {encoding!r}.", "Take utf-8 or utf-8-sig.") from None
    except UnicodeEncodeError as error:
        missing = text[error.start]
        raise UsageProblem(f"{encoding} has no {missing!r}, which is in the list.", "Take utf-8-sig.") from None


def _write(path: Path, data: bytes) -> None:
    """Write a new file that only its owner can read."""
    try:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(data)
    except FileExistsError:
        raise UsageProblem(f"{path} is there already.", "Name another file, or move that one away.") from None
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error
