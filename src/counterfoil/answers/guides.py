"""What the makers say about entering codes: order, menu, firmware needed. Handed in by the caller."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from counterfoil.answers.coverage import fold
from counterfoil.model import Kind
from counterfoil.patterns.normal import normal_code
from counterfoil.records import versions
from counterfoil.records.versions import VersionKey


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

    @property
    def steps(self) -> tuple[str, ...]:
        """What is done once its codes are entered."""


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
        """The menu on the machine in which codes are entered."""

    @property
    def where_save(self) -> str:
        """The menu in which own stitches and settings are saved."""

    @property
    def where_update(self) -> str:
        """The menu in which firmware is updated."""

    @property
    def manual(self) -> str:
        """The place in the maker's manual."""

    @property
    def before(self) -> tuple[str, ...]:
        """The maker's own steps before the first code is entered."""

    @property
    def after(self) -> tuple[str, ...]:
        """The maker's own steps after the last code is entered."""

    @property
    def upgrades(self) -> Sequence[UpgradeLike]:
        """The upgrades the maker sells."""


@dataclass(frozen=True, slots=True)
class UpgradeGuide:
    """What a maker says about one upgrade.

    Its name and other names, its place in the order of entry, the firmware it needs, how its product keys begin, and
    what is done once its codes are entered.
    """

    name: str
    also: tuple[str, ...] = ()
    order: int = 0
    needs_firmware: str | None = None
    key_prefix: str | None = None
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EntryGuide:
    """What a maker says about entering codes.

    ``also`` are other spellings of the maker's name, ``enter`` the kinds in the order of entry, ``where`` the menu
    on the machine, ``where_save`` and ``where_update`` those for saving own stitches and for a firmware update,
    ``manual`` the place in the maker's manual, ``before`` and ``after`` the maker's own steps around the codes.
    """

    maker: str
    also: tuple[str, ...] = ()
    enter: tuple[Kind, ...] = (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    where: str = ""
    upgrades: tuple[UpgradeGuide, ...] = ()
    where_save: str = ""
    where_update: str = ""
    manual: str = ""
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @classmethod
    def of(cls, maker: MakerLike) -> EntryGuide:
        """Take the guide out of a maker file.

        Args:
            maker: the maker as the pattern files describe it.
        """
        return cls(
            maker.name,
            maker.also,
            maker.enter or (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE),
            maker.where,
            tuple(
                UpgradeGuide(u.name, u.also, u.order, u.needs_firmware, u.key_prefix, u.steps) for u in maker.upgrades
            ),
            maker.where_save,
            maker.where_update,
            maker.manual,
            maker.before,
            maker.after,
        )

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


def version_key(version: str) -> VersionKey:
    """Return what a firmware version is compared by: 2.10 is newer than 2.9; one without a number is older than all."""
    return versions.version_key(version) or ((), ())
