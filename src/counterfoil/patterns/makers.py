"""Maker files: what a shop knows about one maker's codes, labels, models and upgrades, as TOML."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from counterfoil.errors import PatternFaulty
from counterfoil.model import CODE_KINDS, Kind
from counterfoil.patterns.checks import LETTERS_AND_DIGITS
from counterfoil.patterns.normal import normal_text
from counterfoil.patterns.shapes import Shape, make_shape
from counterfoil.patterns.words import fold


@dataclass(frozen=True, slots=True)
class Proof:
    """An example a pattern file must stand: a text, a kind, and the value found in it (None: must not be found)."""

    text: str
    kind: Kind
    value: str | None
    source: str


@dataclass(frozen=True, slots=True)
class UpgradePattern:
    """An upgrade a maker sells: its name, other names, its place in the order of entry, and what it asks for.

    ``steps`` are what is done on the machine once its codes are entered, a sentence each.
    """

    name: str
    also: tuple[str, ...] = ()
    order: int = 0
    needs_firmware: str | None = None
    key_prefix: str | None = None
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MakerPattern:
    """One maker file. ``senders`` are domains (with their subdomains) or whole addresses.

    ``where``, ``where_save`` and ``where_update`` are the menus in which codes are entered, own stitches are saved and
    firmware is updated, ``manual`` the place in the maker's manual, ``before`` and ``after`` the maker's own steps.
    """

    name: str
    also: tuple[str, ...] = ()
    senders: tuple[str, ...] = ()
    models: tuple[str, ...] = ()
    since: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Model -> the year, month or day (ISO 8601) from which it is sold, where the file says so."""
    enter: tuple[Kind, ...] = ()
    where: str = ""
    shapes: Mapping[Kind, Shape] = field(default_factory=lambda: MappingProxyType({}))
    labels: Mapping[str, Mapping[Kind, tuple[str, ...]]] = field(default_factory=lambda: MappingProxyType({}))
    upgrades: tuple[UpgradePattern, ...] = ()
    proofs: tuple[Proof, ...] = ()
    source: str = ""
    where_save: str = ""
    where_update: str = ""
    manual: str = ""
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The name and its other spellings."""
        return (self.name, *self.also)

    def is_called(self, text: str) -> bool:
        """Tell whether a text is one of the maker's names, whatever its case and accents."""
        wanted = fold(normal_text(text))
        return any(fold(name) == wanted for name in self.names)

    def sends_from(self, address: str) -> bool:
        """Tell whether an e-mail address is one of the maker's."""
        lowered = address.lower()
        domain = lowered.rpartition("@")[2]
        return any(
            lowered == sender if "@" in sender else domain == sender or domain.endswith("." + sender)
            for sender in self.senders
        )

    def model(self, text: str) -> str | None:
        """Return the model a text names, whatever its case and accents, as the file writes it."""
        wanted = fold(normal_text(text))
        return next((model for model in self.models if fold(model) == wanted), None)

    def upgrade(self, text: str) -> UpgradePattern | None:
        """Return the upgrade a text names, whatever its case and accents."""
        wanted = fold(normal_text(text))
        return next((u for u in self.upgrades if wanted in {fold(n) for n in (u.name, *u.also)}), None)


class Table:
    """A table of a TOML file, read key by key; every key must be known and of the right type.

    Iterating gives the keys not taken yet.
    """

    def __init__(self, path: str, raw: object, where: str = "") -> None:
        self.path, self.where = path, where
        if not isinstance(raw, dict):
            raise self.fault("must be a table")
        self._raw: dict[str, Any] = dict(raw)

    def fault(self, what: str) -> PatternFaulty:
        """Return the error for something wrong in this table."""
        at = f"`{self.where}` " if self.where else ""
        return PatternFaulty(f"{self.path}: {at}{what}.")

    def take(self, key: str, kind: type, default: Any = None) -> Any:
        """Take a key's value out of the table."""
        value = self._raw.pop(key, default)
        if value is None:
            raise self.fault(f"lacks `{key}`")
        if not isinstance(value, kind) or isinstance(value, bool):
            raise self.fault(f"has a `{key}` of the wrong type")
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Take a list of texts, empty where the key is missing."""
        value = self._raw.pop(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() for v in value):
            raise self.fault(f"has a `{key}` that is not a list of texts")
        return tuple(value)

    def table(self, key: str) -> Table:
        """Take a sub-table, empty where the key is missing."""
        return Table(self.path, self._raw.pop(key, {}), f"{self.where}.{key}".strip("."))

    def tables(self, key: str) -> list[Table]:
        """Take a list of tables, empty where the key is missing."""
        value = self._raw.pop(key, [])
        if not isinstance(value, list):
            raise self.fault(f"has a `{key}` that is not a list")
        return [Table(self.path, raw, f"{self.where}.{key}[{i}]".strip(".")) for i, raw in enumerate(value, 1)]

    def texts_or_tables(self, key: str) -> list[tuple[str, Table | None]]:
        """Take a list of texts and tables, empty where the key is missing; each is a text alone or a table."""
        value = self._raw.pop(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) or (isinstance(v, str) and v) for v in value):
            raise self.fault(f"has a `{key}` that is not a list of texts and tables")
        where = f"{self.where}.{key}".strip(".")
        return [
            (v, None) if isinstance(v, str) else ("", Table(self.path, v, f"{where}[{n}]"))
            for n, v in enumerate(value, 1)
        ]

    def __iter__(self) -> Iterator[str]:
        return iter(list(self._raw))

    def kind(self, text: str) -> Kind:
        """Return the kind of fact a key or value names."""
        try:
            return Kind(text)
        except ValueError:
            raise self.fault(f"names `{text}`, which is no kind of fact; known: {', '.join(Kind)}") from None

    def done(self) -> None:
        """Refuse keys nobody took."""
        if self._raw:
            raise self.fault(f"has keys nobody knows: {', '.join(sorted(self._raw))}")


def read_toml(path: str, data: bytes) -> Table:
    """Read a TOML file's bytes.

    Raises:
        PatternFaulty: it is not TOML in UTF-8.
    """
    try:
        return Table(path, tomllib.loads(data.decode("utf-8-sig")))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PatternFaulty(f"{path} is not a TOML file: {error}.") from error


def read_labels(table: Table) -> Mapping[Kind, tuple[str, ...]]:
    """Read a table of labels by kind."""
    return {table.kind(key): table.texts(key) for key in table}


def read_proofs(table: Table) -> tuple[Proof, ...]:
    """Read the tables `found` and `not_found`."""
    proofs = []
    for found in table.tables("found"):
        text, kind, value = found.take("text", str), found.kind(found.take("kind", str)), found.take("value", str)
        found.done()
        proofs.append(Proof(text, kind, value, table.path))
    for missing in table.tables("not_found"):
        text, kind = missing.take("text", str), missing.kind(missing.take("kind", str))
        missing.done()
        proofs.append(Proof(text, kind, None, table.path))
    table.done()
    return tuple(proofs)


def _shapes(maker: str, codes: Table) -> dict[Kind, Shape]:
    shapes: dict[Kind, Shape] = {}
    for key in codes:
        kind = codes.kind(key)
        if kind not in CODE_KINDS:
            raise codes.fault(f"names `{key}`, which is no code")
        table = codes.table(key)
        text = table.take("shape", str)
        alphabet = table.take("alphabet", str, LETTERS_AND_DIGITS)
        check_name = table.take("check", str, "none")
        check_from = table.take("check_from", int, 0)
        table.done()
        try:
            shapes[kind] = make_shape(
                kind, maker, text, alphabet=alphabet, check_name=check_name, check_from=check_from
            )
        except ValueError as error:
            raise table.fault(f"is faulty: {error}") from error
    return shapes


_DAY = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?")


def _models(top: Table) -> tuple[tuple[str, ...], Mapping[str, str]]:
    """Read `models`: names, or tables with a name and since when the model is sold."""
    names: list[str] = []
    since: dict[str, str] = {}
    for n, (raw, table) in enumerate(top.texts_or_tables("models"), 1):
        name = normal_text(raw if table is None else table.take("name", str))
        if not name:
            raise top.fault(f"has no name for model {n}")
        names.append(name)
        if table is not None:
            day = table.take("since", str)
            table.done()
            if not _DAY.fullmatch(day):
                raise table.fault(f"has the `since` {day!r}, which is no year, month or day as 2021-03")
            since[name] = day
    return tuple(names), MappingProxyType(since)


def _upgrades(tables: list[Table]) -> tuple[UpgradePattern, ...]:
    upgrades = []
    for i, table in enumerate(tables, 1):
        upgrades.append(
            UpgradePattern(
                table.take("name", str),
                table.texts("also"),
                table.take("order", int, i),
                table.take("needs_firmware", str, "") or None,
                table.take("key_prefix", str, "") or None,
                table.texts("steps"),
            )
        )
        table.done()
    return tuple(upgrades)


def parse_maker(path: str, data: bytes) -> MakerPattern:
    """Read one maker file.

    Args:
        path: its name, for messages.
        data: its bytes.

    Raises:
        PatternFaulty: says what is wrong and in which table.
    """
    top = read_toml(path, data)
    name = normal_text(top.take("maker", str))
    labels_table = top.table("labels")
    labels = {language: read_labels(labels_table.table(language)) for language in labels_table}
    also, senders = top.texts("also"), top.texts("senders")
    models, since = _models(top)
    maker = MakerPattern(
        name,
        also,
        tuple(re.sub(r"^@", "", sender.strip().lower()) for sender in senders),
        models,
        since,
        tuple(top.kind(kind) for kind in top.texts("enter")),
        top.take("where", str, ""),
        _shapes(name, top.table("codes")),
        labels,
        _upgrades(top.tables("upgrades")),
        read_proofs(top.table("proofs")),
        path,
        top.take("where_save", str, ""),
        top.take("where_update", str, ""),
        top.take("manual", str, ""),
        top.texts("before"),
        top.texts("after"),
    )
    top.done()
    return maker


def load_makers(folder: Path | None) -> tuple[MakerPattern, ...]:
    """Read every maker file of a folder, by name; no folder or an empty one gives none.

    Raises:
        PatternFaulty: a file is wrong, or two describe the same maker.
    """
    if folder is None or not folder.is_dir():
        return ()
    makers: list[MakerPattern] = []
    for path in sorted(folder.glob("*.toml")):
        try:
            data = path.read_bytes()
        except OSError as error:
            raise PatternFaulty(f"{path} cannot be read: {error.strerror}.", "Check that you may read it.") from error
        maker = parse_maker(str(path), data)
        for other in makers:
            if any(other.is_called(name) for name in maker.names):
                raise PatternFaulty(f"{path} and {other.source} both describe the maker {maker.name}.")
        makers.append(maker)
    return tuple(makers)
