"""Whose confirmation a forward is: its recipient's, whoever forwards it, and never a list's or two people's at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from forward_styles import Inner, dashed, earlier

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.model import Kind, MessageRecord, Standing
from counterfoil.sources import Received

MARIT, OLA = ("Marit Solvang", "marit@solvang.example"), ("Ola Bergset", "ola@bergset.example")
TEXT = """Dear customer,

thank you for activating your upgrade. Please keep this confirmation for the warranty.

Machine ID: HG-482913-K
Product key: SPQR-7788-ABCD-0192
Activation code: 7K2M-QQ4X-19ZB
"""
FIRST = Inner(sender=("Kestrel Upgrades", "noreply@upgrades.example"), to=(MARIT,), text=TEXT)
SECOND = replace(
    FIRST,
    to=(OLA,),
    text=TEXT.replace("482913-K", "771204-M").replace("7788-ABCD", "5512-WXYZ").replace("7K2M-QQ4X", "4F8B-RR2C"),
)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give a new archive of a shop that has described no maker."""
    made = Archive.create(tmp_path / "shop", shop_name="Thread Lane", shop_addresses=("support@threadneedle.example",))
    yield made
    made.close()


def take(archive: Archive, sender: tuple[str, str], text: str) -> MessageRecord:
    """Ingest a message to the desk; return its record."""
    data = (
        f"From: {sender[0]} <{sender[1]}>\nTo: support@threadneedle.example\nDate: Wed, 5 Mar 2025 08:00:00 +0000\n"
        f"Subject: Fwd: Your activation code\nMIME-Version: 1.0\nContent-Type: text/plain; charset=utf-8\n\n{text}"
    )
    report = pipeline.IngestReport()
    pipeline.take_in(archive, [Received(data.encode(), "a")], report)
    return archive.store.message(report.messages[0])


def addresses(archive: Archive) -> dict[str, tuple[str, ...]]:
    """Return the e-mail addresses of every customer."""
    return {c.id: c.values(Kind.EMAIL_ADDRESS) for c in archive.store.customers()}


def test_the_recipient_is_the_customer(archive: Archive) -> None:
    """Forwarded by the customer: filed in the profile of the confirmation's recipient."""
    record = take(archive, MARIT, f"Please keep.\n\n{dashed('en', FIRST)}")
    assert record.standing is Standing.FILED
    assert addresses(archive) == {record.customer: (MARIT[1],)}


def test_a_spouse_forwards(archive: Archive) -> None:
    """Forwarded by somebody else: the profile is the recipient's, and the message still names who sent it."""
    record = take(archive, OLA, f"From my wife's machine.\n\n{dashed('en', FIRST)}")
    assert addresses(archive) == {record.customer: (MARIT[1],)}
    assert record.standing is Standing.FILED
    assert record.sender is not None
    assert record.sender.address == OLA[1]


def test_the_innermost_confirmation_counts(archive: Archive) -> None:
    """Wife to husband to the desk: the recipient of the maker's mail is the customer, not of the mail between."""
    between = Inner(
        sender=MARIT, to=(OLA,), subject="Fwd: code", text=f"Send it to the shop!\n\n{earlier('en', FIRST)}"
    )
    record = take(archive, OLA, f"See below.\n\n{dashed('en', between)}")
    assert addresses(archive) == {record.customer: (MARIT[1],)}


@pytest.mark.parametrize(
    "shared",
    ["owners@lists.example", "machine-list@club.example", "tickets@desk.example", "help+ticket-4711@desk.example"],
)
def test_a_list_is_no_customer(archive: Archive, shared: str) -> None:
    """A confirmation that went to a list or a ticket queue makes no customer of it: a person is asked."""
    record = take(archive, MARIT, f"Please keep.\n\n{dashed('en', replace(FIRST, to=(('', shared),)))}")
    assert record.standing is Standing.OPEN
    assert addresses(archive) == {}


def test_two_confirmations_of_two_people(archive: Archive) -> None:
    """Two forwards side by side, of two people: neither's codes come into the other's profile without a person."""
    record = take(archive, MARIT, f"Ours.\n\n{dashed('en', FIRST)}\n{dashed('en', SECOND)}")
    assert record.standing is Standing.OPEN
    assert addresses(archive) == {}


def test_two_confirmations_of_one_person(archive: Archive) -> None:
    """Two forwards side by side to one person are told apart: their codes never mix into one upgrade."""
    second = replace(SECOND, to=(MARIT,))
    record = take(archive, MARIT, f"Both.\n\n{dashed('en', FIRST)}\n{dashed('en', second)}")
    for machine in archive.store.machines():
        for upgrade in machine.upgrades:
            pair = [noted and noted.fact.value for noted in (upgrade.product_key, upgrade.activation_code)]
            assert pair in (["SPQR-7788-ABCD-0192", "7K2M-QQ4X-19ZB"], ["SPQR-5512-WXYZ-0192", "4F8B-RR2C-19ZB"])
    assert record.standing is Standing.OPEN or archive.store.machines()


FOOTERS = [
    "-- \nOla Bergset, Mill Lane 2, 20095 Bergset\n+44 1632 960517, ola@work.example\nCustomer no. 4471-9920-11",
    "CONFIDENTIAL. This message is for Ola Bergset (ola@law.example) only. Reference AB-20250304-7781-KK.",
    "Unsubscribe: https://track.example/u/7F3K-99AB-22CD?u=ola@track.example\nMessage reference 9XK2-4471-PQ88",
    "This ticket was forwarded by the help desk. Ticket: HD-4711-2025-08. Agent: ola@desk.example",
    "_______________________________________________\nowners mailing list\nowners@lists.example\nhttps://lists.example/owners",
]


@pytest.mark.parametrize("footer", FOOTERS)
def test_footers_are_no_facts(archive: Archive, footer: str) -> None:
    """Signatures, disclaimers, tracking and list footers add no code, no address and no telephone number."""
    record = take(archive, OLA, f"Please keep.\n\n{footer}\n\n{dashed('en', FIRST)}\n{footer}\n")
    assert addresses(archive) in ({}, {record.customer: (MARIT[1],)})
    chosen = {noted.fact.value for noted in record.facts if noted.chosen and noted.fact.odds >= 4.6}
    told = {"HG-482913-K", "SPQR-7788-ABCD-0192", "7K2M-QQ4X-19ZB", *MARIT}
    assert chosen <= told
    assert {"HG-482913-K", "7K2M-QQ4X-19ZB"} <= chosen
