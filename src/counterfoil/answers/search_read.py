"""The records as one search reads them."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterfoil.records.store import Store


class Read:
    """Each message and profile is read once.

    Args:
        store: the records.
    """

    def __init__(self, store: Store) -> None:
        self.store = store
        self.message = cache(store.message)
        self.customer = cache(store.customer)
        self.machine = cache(store.machine)
