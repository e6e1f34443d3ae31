"""What the makers say about entering codes: order, menu, firmware needed. Handed in by the caller."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from counterfoil.answers.coverage import fold
from counterfoil.model import Kind
from counterfoil.patterns.normal import normal_code


class UpgradeLike(Protocol):
    """What a maker file says about an upgrade, as far as it matters here."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def also(self) -> tuple[str, ...]:
        """Its other names."""

    @property
    def order(self) -> int:
        """Its place in the order of entry."""

    @property
    def needs_firmware(self) -> str | None:
        """The version it needs at least."""

    @property
    def key_prefix(self) -> str | None:
        """How its product keys begin."""


class MakerLike(Protocol):
    """What a maker file says, as far as it matters here."""

    @property
    def name(self) -> str:
        """The maker's name."""

    @property
    def also(self) -> tuple[str, ...]:
        """Other spellings of it."""

    @property
    def enter(self) -> tuple[Kind, ...]:
        """The kinds of code in the order of entry; empty where the file does not say."""

    @property
    def where(self) -> str:
        """The menu on the machine."""

    @property
    def upgrades(self) -> Sequence[UpgradeLike]:
        """The upgrades the maker sells."""


@dataclass(frozen=True, slots=True)
class UpgradeGuide:
    """What a maker says about one upgrade.

    Its name and other names, its place in the order of entry, the firmware it needs, how its product keys begin.
    """

    name: str
    also: tuple[str, ...] = ()
    order: int = 0
    needs_firmware: str | None = None
    key_prefix: str | None = None


@dataclass(frozen=True, slots=True)
class EntryGuide:
    """What a maker says about entering codes.

    ``also`` are other spellings of the maker's name, ``enter`` the kinds in the order of entry, ``where`` the menu
    on the machine.
    """

    maker: str
    also: tuple[str, ...] = ()
    enter: tuple[Kind, ...] = (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    where: str = ""
    upgrades: tuple[UpgradeGuide, ...] = ()

    @classmethod
    def of(cls, maker: MakerLike) -> EntryGuide:
        """Take the guide out of a maker file.

        Args:
            maker: the maker as the pattern files describe it.
        """
        upgrades = tuple(UpgradeGuide(u.name, u.also, u.order, u.needs_firmware, u.key_prefix) for u in maker.upgrades)
        if not maker.enter:
            return cls(maker.name, maker.also, where=maker.where, upgrades=upgrades)
        return cls(maker.name, maker.also, maker.enter, maker.where, upgrades)

    def upgrade(self, name: str | None, product_key: str = "") -> UpgradeGuide | None:
        """Find the guide to an upgrade.

        Args:
            name: any of its names; where it is not on record, the product key tells.
            product_key: its normal form.

        Returns:
            The guide; None where the maker says nothing about it, or a key could be that of several upgrades.
        """
        if name is not None:
            wanted = fold(name)
            return next((u for u in self.upgrades if wanted in {fold(n) for n in (u.name, *u.also)}), None)
        found = [u for u in self.upgrades if u.key_prefix and product_key.startswith(normal_code(u.key_prefix))]
        return found[0] if len(found) == 1 else None


def guide_for(maker: str | None, guides: Iterable[EntryGuide]) -> EntryGuide:
    """Find the guide of a maker by any spelling of its name; one that says nothing where there is none."""
    wanted = fold(maker or "")
    found = (g for g in guides if wanted and wanted in {fold(n) for n in (g.maker, *g.also)})
    return next(found, EntryGuide(maker or ""))


def version_key(version: str) -> tuple[int, ...]:
    """Turn a firmware version into numbers that can be compared: 2.10 is newer than 2.9."""
    numbers = [int(part) for part in re.findall(r"\d+", version)]
    while numbers and numbers[-1] == 0:
        numbers.pop()
    return tuple(numbers)
