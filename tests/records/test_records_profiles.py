"""Profiles derived from what was filed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, fact, message, take, values

from counterfoil.model import Kind
from counterfoil.records.bench import record
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records; whatever a test did, the file and its references are in order afterwards."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    assert made.integrity() == []
    made.close()


def _upgrade(store: Store, number: int, day: int, **changes: str | None) -> None:
    own = another(number)
    codes = {"product_key": own[Kind.PRODUCT_KEY], "activation_code": own[Kind.ACTIVATION_CODE]}
    take(store, values(**{**codes, "upgrade_name": f"Upgrade {number}", **changes}), message(day=day))


def test_upgrades_in_the_order_of_their_confirmations(store: Store) -> None:
    """Upgrades come oldest first by the day of the confirmation, whatever order the mail came in."""
    _upgrade(store, 2, day=30)
    _upgrade(store, 3, day=10)
    _upgrade(store, 4, day=20)
    assert [u.name for u in store.machine("M1").upgrades] == ["Upgrade 3", "Upgrade 4", "Upgrade 2"]
    assert all(u.live for u in store.machine("M1").upgrades)


def test_upgrade_of_one_message_stays_together(store: Store) -> None:
    """Key, code, name and source of an upgrade come from one message, never mixed from several."""
    for number in (2, 3, 4):
        _upgrade(store, number, day=number)
    for number, upgrade in zip((2, 3, 4), store.machine("M1").upgrades, strict=True):
        made = another(number)
        assert upgrade.product_key is not None and upgrade.activation_code is not None
        assert upgrade.product_key.fact.value == made[Kind.PRODUCT_KEY]
        assert upgrade.activation_code.fact.value == made[Kind.ACTIVATION_CODE]
        assert upgrade.source == upgrade.product_key.source == upgrade.activation_code.source


def test_card_at_the_bench_is_completed_by_the_mail(store: Store) -> None:
    """A product key entered off the card and the confirmation for it are one upgrade, from the confirmation."""
    card = {k: MARIT[k] for k in (Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.CUSTOMER_NAME)}
    record(
        store, SETTINGS, customer="new", facts=[fact(k, v) for k, v in card.items()],
        firmware_before=None, firmware_after=None, who="kim", why="sold",
    )  # fmt: skip
    take(store, MARIT, message(day=1000))
    (upgrade,) = store.machine("M1").upgrades
    assert upgrade.activation_code is not None and upgrade.source == "E1"


def test_swapped_board_with_the_same_key(store: Store) -> None:
    """The same product key activated anew for a new board is two upgrades, of which the newer is live."""
    take(store, MARIT)
    take(store, values(machine_id="HG-887301-T", activation_code="ZZQ2-8KLM-3VWX-44TA"), message(day=300))
    machine = store.machine("M1")
    assert [(u.machine_id, u.live) for u in machine.upgrades] == [("HG204518K", False), ("HG887301T", True)]
    latest = machine.latest(Kind.MACHINE_ID)
    assert latest is not None and latest.fact.value == "HG-887301-T"


def test_firmware_notes_and_dates(store: Store) -> None:
    """Firmware is noted on the day of the confirmation, facts carry the time of the confirmation they came with."""
    take(store, MARIT, message(day=5))
    (note,) = store.machine("M1").firmware
    assert (note.version, note.noted, note.when, note.source) == ("2.10", "2025-03-15", None, "E1")
    assert {n.at for n in store.machine("M1").facts} == {"2025-03-15T09:30:00+00:00"}


@pytest.mark.parametrize(
    ("changes", "since"),
    [
        ({}, "2025-03-01"),
        ({"purchase_date": None, "registration_date": "2025-03-04"}, "2025-03-04"),
        ({"purchase_date": None}, "2025-03-10"),
    ],
)
def test_holder_since(store: Store, changes: dict[str, str | None], since: str) -> None:
    """A holder begins with the purchase, else the registration, else the day of the message."""
    take(store, values(**changes))
    assert store.machine("M1").holders[0].since == since


def test_lists_agree_with_single_profiles(store: Store) -> None:
    """The lists of customers and machines give the same profiles as asking for each."""
    take(store, MARIT)
    take(store, another(2, customer_name="Teun Duinhoven", email_address="t@post.example"))
    take(store, another(3))
    assert store.customers() == [store.customer("C1"), store.customer("C2")]
    assert store.machines() == [store.machine(f"M{n}") for n in (1, 2, 3)]
    assert store.messages() == [store.message(f"E{n}") for n in (1, 2, 3)]
    assert store.customer("C1").messages == ("E1", "E3")
    assert [h.machine for h in store.customer("C1").holdings] == ["M1", "M3"]
