"""Lists the shop works from: what all of them share. A list is shown as a table, as CSV, as JSON, some as a chart."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterfoil.answers.charts import Chart
from counterfoil.answers.coverage import fold
from counterfoil.model import Kind
from counterfoil.records.listing import ListedMachine, contacts, languages

if TYPE_CHECKING:
    from counterfoil.records.store import Store

Value = str | int | None
Row = Mapping[str, Value]

#: What a spreadsheet may take for the begin of a formula, full-width forms included (the list of the Open Web
#: Application Security Project, "CSV Injection"); tab and line ends cannot occur, as white space is made one blank.
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_PHONE = re.compile(r"\+\d+")
#: Columns that say whom to write to, in every list of machines.
CONTACT_COLUMNS = ("customer", "name", "email", "phone", "address", "language")
#: Columns that say which machine.
MACHINE_COLUMNS = ("machine", "maker", "model", "serial_number")


@dataclass(frozen=True, slots=True)
class Part:
    """Rows that belong together. ``group`` names them in a column, ``title`` is the sentence above them."""

    group: str
    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Listing:
    """A list: ``parts``, the one asked for first, then what is listed apart.

    ``columns`` are the keys of every row, ``shown`` those that a table on a terminal has. ``empty`` is said where the
    first part has no rows, ``notes`` below all parts: above all what is not in the list, and why.
    """

    name: str
    columns: tuple[str, ...]
    shown: tuple[str, ...]
    parts: tuple[Part, ...]
    empty: str
    notes: tuple[str, ...] = ()
    chart: Chart | None = None

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows asked for."""
        return self.parts[0].rows

    def to_json(self) -> dict[str, object]:
        """Return everything: rows asked for, rows listed apart with the reason, notes, the figures of the chart."""
        apart = [
            {"group": part.group, "why": part.title, "rows": list(map(dict, part.rows))} for part in self.parts[1:]
        ]
        data: dict[str, object] = {"report": self.name, "rows": [dict(row) for row in self.rows], "apart": apart}
        data |= {"notes": [*([] if self.rows else [self.empty]), *self.notes]}
        return data | ({} if self.chart is None else {"chart": self.chart.to_json()})

    def to_csv(self, delimiter: str = ",") -> str:
        """Return headings and all rows as CSV (RFC 4180); the last column names the group a row belongs to."""
        out = io.StringIO(newline="")
        writer = csv.writer(out, delimiter=delimiter)
        grouped = len(self.parts) > 1
        writer.writerow([heading(column) for column in (*self.columns, *(("group",) if grouped else ()))])
        for part in self.parts:
            tail = [harmless(part.group)] if grouped else []
            writer.writerows([*(harmless(row.get(column)) for column in self.columns), *tail] for row in part.rows)
        return out.getvalue()


def heading(column: str) -> str:
    """Return what a column is called."""
    return column.replace("_", " ")


def harmless(value: Value) -> str:
    """Return a value as a cell that no spreadsheet takes for a formula: such a text gets an apostrophe in front.

    Telephone numbers in international form keep their plus sign: digits alone do nothing.
    """
    text = " ".join("" if value is None else str(value).split()) if isinstance(value, str) else _number(value)
    return f"'{text}" if text.startswith(_FORMULA) and not _PHONE.fullmatch(text) else text


def _number(value: Value) -> str:
    return "" if value is None else str(value)


class People:
    """Whom to write to about a machine.

    Args:
        store: the records.
    """

    def __init__(self, store: Store) -> None:
        self._contacts = contacts(store)
        self._languages = languages(store)

    def contact(self, customer: str | None) -> dict[str, Value]:
        """Return :data:`CONTACT_COLUMNS` of a customer, the contacts noted last; empty where nobody has the machine."""
        if customer is None:
            return dict.fromkeys(CONTACT_COLUMNS, "")
        found = self._contacts.get(customer, {})

        def value(kind: Kind, *, normal: bool = False) -> str:
            return " ".join(found.get(kind, ("", ""))[normal].split())

        return {
            "customer": customer,
            "name": value(Kind.CUSTOMER_NAME),
            "email": value(Kind.EMAIL_ADDRESS, normal=True),
            "phone": value(Kind.PHONE_NUMBER, normal=True),
            "address": value(Kind.POSTAL_ADDRESS),
            "language": self._languages.get(customer, ""),
        }


def machine_cells(machine: ListedMachine) -> dict[str, Value]:
    """Return :data:`MACHINE_COLUMNS` of a machine."""
    return {name: getattr(machine, "id" if name == "machine" else name) for name in MACHINE_COLUMNS}


def is_called(wanted: str, name: str, *before: str) -> bool:
    """Tell whether a name is the one wanted, whole, case and accents aside; ``before`` may stand in front of it."""
    return fold(wanted) in {fold(name), fold(" ".join([*before, name]))} and bool(name)


def selected(machines: Iterable[ListedMachine], maker: str | None, model: str | None) -> Iterator[ListedMachine]:
    """Yield the machines of a maker and model; None takes all."""
    for machine in machines:
        if (maker is None or is_called(maker, machine.maker)) and (
            model is None or is_called(model, machine.model, machine.maker)
        ):
            yield machine


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its word: 1 machine, 3 machines."""
    return f"{number} {one if number == 1 else many or one + 's'}"
