"""All that can be looked up in the records by what somebody has in hand: the questions of records.store.Store.

Codes: find_codes.py and codes.py; names: find_names.py and sounds.py; contacts, models, days: lookups.py.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from datetime import date

import sqlalchemy as sa

from counterfoil.model import CodeHit, Kind
from counterfoil.records import find_codes, find_names, lookups
from counterfoil.records.find_names import NameHit


class Finding(ABC):
    """The look-ups of the records."""

    @abstractmethod
    def reading(self) -> AbstractContextManager[sa.Connection]:
        """Hold a transaction that only reads."""

    def find_code(
        self, normal: str, *, endings: bool = True, near: bool = True, middles: bool = False, limit: int = 20
    ) -> list[CodeHit]:
        """Return where a code stands, likeliest first; what is less sure is looked for only where nothing surer is.

        Args:
            normal: the code, or a piece of it, in normal form.
            endings: also codes that end so, from four characters on.
            near: also codes with up to two wrong characters, look-alikes not counted; whole codes from six on.
            middles: also codes that hold it anywhere, and codes that nearly end so; from four characters on.
            limit: how many at most.
        """
        with self.reading() as conn:
            return find_codes.find_code(conn, normal, endings=endings, near=near, middles=middles, limit=limit)

    def find_contacts(self, kind: Kind, normal: str) -> list[str]:
        """Return the ids of the customers with a contact of this kind (e-mail, phone, address, whole name)."""
        with self.reading() as conn:
            return lookups.find_contacts(conn, kind, normal)

    def find_contact_pieces(self, kind: Kind, piece: str, limit: int = 20) -> list[tuple[str, str]]:
        """Return customers and contacts that hold a piece of an e-mail address, or end in digits of a number."""
        with self.reading() as conn:
            return lookups.find_contact_pieces(conn, kind, piece, limit)

    def find_near_contacts(self, kind: Kind, normal: str, limit: int = 20) -> list[tuple[str, str]]:
        """Return customers and contacts that differ from an e-mail address or number in one typing error."""
        with self.reading() as conn:
            return lookups.find_near_contacts(conn, kind, normal, limit)

    def find_names(self, text: str, limit: int = 10, *, exactly: bool = False) -> list[NameHit]:
        """Return customers whose name answers to a text, best first.

        Every part typed must be a part of the name or begin one, in any order; unless ``exactly``, also be one with a
        typing error, sound like one, or be a pet form of one.
        """
        with self.reading() as conn:
            return find_names.find_names(conn, text, limit, exactly=exactly)

    def suggest_names(self, text: str, limit: int = 3) -> list[str]:
        """Return the parts of names most like the parts of a text that answers to nobody; folded, best first."""
        with self.reading() as conn:
            return find_names.suggest_names(conn, text, limit)

    def suggest_models(self, word: str, limit: int = 3) -> list[str]:
        """Return the words of makers and models most like one that no machine is called by; best first."""
        with self.reading() as conn:
            return lookups.suggest_models(conn, word, limit)

    def find_machines(self, text: str, *, whole: bool = False) -> list[str]:
        """Return the ids of the machines whose maker and model hold every word of the text, or (not ``whole``) begin
        with it."""
        with self.reading() as conn:
            return lookups.find_machines(conn, text, whole=whole)

    def find_near_machines(self, text: str) -> list[str]:
        """Return the ids of the machines whose maker and model hold every word but for one wrong letter in each."""
        with self.reading() as conn:
            return lookups.find_near_machines(conn, text)

    def find_dated(self, first: date, last: date, limit: int = 200) -> list[tuple[str, Kind, str]]:
        """Return machines bought or registered within days: id, which of the two, and when (ISO 8601)."""
        with self.reading() as conn:
            return lookups.find_dated(conn, first.isoformat(), last.isoformat(), limit)
