"""A shop's list of customers from a CSV file: its columns recognised by their headings, its rows with line numbers."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from counterfoil.errors import SourceUnreadable, UsageProblem
from counterfoil.model import BadRow, CustomerList, ListRow
from counterfoil.sources.csv_text import DELIMITERS, decode, guess_delimiter, records

#: What a column can hold, in the order in which it is shown.
FIELDS = ("name", "given_name", "family_name", "email", "phone", "address", "street", "postcode", "town", "country")
#: A list of customers is small; anything larger is another file taken by mistake.
_MOST_BYTES = 200_000_000
#: How files of spreadsheets begin: a ZIP (Office Open XML, OpenDocument), a compound file (older ones).
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
_NAMED = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|", "\\t": "\t"}


def read_customer_list(
    path: Path,
    *,
    mapping: Sequence[tuple[str, str]] = (),
    encoding: str | None = None,
    delimiter: str | None = None,
) -> CustomerList:
    """Read a list of customers.

    Args:
        path: the file.
        mapping: what a column holds (one of :data:`FIELDS`) with its heading; these come before what is recognised.
        encoding: the file's encoding, where it is known.
        delimiter: one character, or its name: comma, semicolon, tab, pipe.

    Raises:
        SourceUnreadable: the file cannot be read, or is empty.
        UsageProblem: a heading named is not in the file, or no column holds names.
    """
    data = _bytes(path)
    if data.startswith(_SPREADSHEETS):
        raise SourceUnreadable(
            f"{path} is a spreadsheet's own file.", "Save the list as CSV there, and name that file."
        )
    text, name = decode(data, encoding)
    between = _NAMED.get(delimiter, delimiter) if delimiter else guess_delimiter(text)
    if len(between) != 1 or between in '"\r\n':
        raise UsageProblem(f"{delimiter!r} is no delimiter.", "Give one character, or: comma, semicolon, tab, pipe.")
    every = records(text, between)
    first = next(every, None)
    if first is None:
        raise SourceUnreadable(f"{path} holds no rows.", "Check that it is the right file.")
    if not first.fields:
        raise SourceUnreadable(f"The header of {path} cannot be read. {first.fault}", "Name its --encoding.")
    header = tuple(" ".join(heading.split()) for heading in first.fields)
    columns = _columns(path, header, mapping)
    rows: list[ListRow] = []
    bad: list[BadRow] = []
    for record in every:
        if record.fields:
            rows.append(_row(record.line, record.fields, columns))
        else:
            bad.append(BadRow(record.line, record.fault))
    shown = {field: tuple(header[n] for n in columns[field]) for field in FIELDS if field in columns}
    taken = {n for numbers in columns.values() for n in numbers}
    left_out = tuple(heading for n, heading in enumerate(header) if n not in taken)
    return CustomerList(path.name, name, between, shown, left_out, tuple(rows), tuple(bad))


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise SourceUnreadable(f"{path} is larger than {_MOST_BYTES // 1_000_000} MB.", "Check the file.")
        return path.read_bytes()
    except OSError as error:
        raise SourceUnreadable(f"{path} cannot be read: {error.strerror or error}.") from error


# --- columns --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Words:
    """What the data file says: folded heading -> field; folded name of a country -> its code."""

    headings: Mapping[str, str]
    countries: Mapping[str, str]


@cache
def _words() -> _Words:
    raw = tomllib.loads(resources.files(__package__).joinpath("customer_columns.toml").read_text(encoding="utf-8"))
    headings = {_fold(word): field for field, words in raw["headings"].items() for word in words}
    countries = {_fold(word): code for code, words in raw["countries"].items() for word in (code, *words)}
    return _Words(headings, countries)


def _fold(text: str) -> str:
    """Return a text without case, accents, blanks and signs, for comparison."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in plain if c.isalnum())


def _columns(path: Path, header: Sequence[str], mapping: Sequence[tuple[str, str]]) -> dict[str, list[int]]:
    """Return which columns hold what: those named, then those recognised."""
    columns: dict[str, list[int]] = {}
    for field, heading in mapping:
        if field not in FIELDS:
            raise UsageProblem(f"{field!r} is nothing that a column can hold.", f"Known: {', '.join(FIELDS)}.")
        found = [n for n, other in enumerate(header) if _fold(other) == _fold(heading)]
        if not found:
            there = ", ".join(f"“{other}”" for other in header)
            raise UsageProblem(f"{path} has no column “{heading}”.", f"Its columns: {there}.")
        columns.setdefault(field, []).extend(found)
    named = {n for numbers in columns.values() for n in numbers}
    given = set(columns)
    for n, heading in enumerate(header):
        field_found = _words().headings.get(_fold(heading).rstrip("0123456789"))
        if field_found is not None and n not in named and field_found not in given:
            columns.setdefault(field_found, []).append(n)
    if "given_name" in columns and "family_name" not in columns and "name" in columns:
        # “Vorname” beside “Name”: the second is the family name.
        columns["family_name"] = columns.pop("name")
    elif not {"name", "family_name"} & set(columns) and "given_name" in columns:
        # “Nombre” or “Nome” alone is the whole name.
        columns["name"] = columns.pop("given_name")
    if not {"name", "family_name"} & set(columns):
        there = ", ".join(f"“{other}”" for other in header)
        raise UsageProblem(
            f"No column of {path} is known to hold names. Its columns: {there}.",
            "Name it with --column name=HEADING; --delimiter and --encoding if the columns look wrong.",
        )
    return columns


# --- rows -----------------------------------------------------------------------------------------


def _row(line: int, fields: Sequence[str], columns: Mapping[str, Sequence[int]]) -> ListRow:
    def cells(field: str) -> list[str]:
        return [value for n in columns.get(field, ()) if (value := _cell(fields[n]))]

    names = cells("name")
    parts = " ".join((*cells("given_name"), *cells("family_name")))
    countries = cells("country")
    region = _words().countries.get(_fold(countries[0])) if countries else None
    place = ", ".join(p for p in (*cells("street"), " ".join((*cells("postcode"), *cells("town"))), *countries) if p)
    # A country alone is no address.
    pieced = [place] if cells("street") or cells("town") else []
    return ListRow(
        line=line,
        names=tuple(dict.fromkeys([*([parts] if parts else []), *names])),
        emails=tuple(_divided(cells("email"), ";, \n")),
        phones=tuple(_divided(cells("phone"), ";\n")),
        addresses=tuple(dict.fromkeys([*(", ".join(a.splitlines()) for a in cells("address")), *pieced])),
        region=region,
        country=countries[0] if countries and region is None else "",
    )


def _cell(text: str) -> str:
    """Return a cell without blanks around it and without the apostrophe that keeps a spreadsheet from counting."""
    text = text.strip()
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text


def _divided(cells: Sequence[str], signs: str) -> Iterator[str]:
    """Yield the values in cells that may hold several."""
    for cell in cells:
        for sign in signs[1:]:
            cell = cell.replace(sign, signs[0])
        yield from (value.strip() for value in cell.split(signs[0]) if value.strip())


def delimiter_name(delimiter: str) -> str:
    """Return what a delimiter is called."""
    return next((name for name, sign in _NAMED.items() if sign == delimiter), repr(delimiter))


__all__ = ["DELIMITERS", "FIELDS", "delimiter_name", "read_customer_list"]
