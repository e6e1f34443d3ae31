"""What a person does to profiles by hand, under the lock: merge, split, hand over, extend cover, note passwords."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from counterfoil.archive import Archive
from counterfoil.errors import RecordUnknown, UsageProblem
from counterfoil.model import Kind
from counterfoil.password_file import MOST_OF_ONE, password_fault, read_customer_passwords, write_customer_passwords
from counterfoil.records.extensions import Extension
from counterfoil.records.extensions import extend as _extend
from counterfoil.records.handover import HandedOver
from counterfoil.records.handover import correct_dates as _correct_dates
from counterfoil.records.handover import hand_over as _hand_over
from counterfoil.records.locked import locked_messages
from counterfoil.records.match_learning import Learned
from counterfoil.records.match_learning import learn as _learn
from counterfoil.records.merging import Moved, refuse_strangers
from counterfoil.records.merging import merge as _merge
from counterfoil.records.merging import split as _split


def learn_matching(archive: Archive, *, who: str, why: str) -> Learned:
    """Learn how telling names and contacts are; see :func:`counterfoil.records.match_learning.learn`."""
    with archive.lock():
        return _learn(archive.store, who=who, why=why)


def merge_customers(archive: Archive, into: str, other: str, *, sure: bool = False, who: str, why: str) -> Moved:
    """Merge a customer into another; see :func:`counterfoil.records.merging.merge`.

    Unless ``sure``, two who have nothing in common are refused.
    """
    with archive.lock():
        if not sure:
            refuse_strangers(archive.store, into, other, archive.settings.name_similarity)
        return _merge(archive.store, into, other, who=who, why=why)


def split_customer(
    archive: Archive,
    customer: str,
    sources: Sequence[str],
    *,
    values: Sequence[tuple[Kind, str]] = (),
    to: str | None = None,
    who: str,
    why: str,
) -> Moved:
    """Take what is another person's out of a profile; see :func:`counterfoil.records.merging.split`."""
    with archive.lock():
        return _split(archive.store, archive.settings, customer, sources, values=values, to=to, who=who, why=why)


def hand_over(
    archive: Archive,
    machine: str,
    to: str,
    *,
    on: date,
    values: Sequence[tuple[Kind, str]] = (),
    sure: bool = False,
    who: str,
    why: str,
) -> HandedOver:
    """Let a machine change hands; see :func:`counterfoil.records.handover.hand_over`; ``values`` are as typed."""
    region = archive.settings.region
    facts = [archive.patterns.make_fact(kind, value, maker=None, near=on, region=region) for kind, value in values]
    with archive.lock():
        return _hand_over(archive.store, archive.settings, machine, to, on=on, facts=facts, sure=sure, who=who, why=why)


def correct_dates(
    archive: Archive,
    machine: str,
    customer: str,
    *,
    since: date | None = None,
    until: date | None = None,
    who: str,
    why: str,
) -> HandedOver:
    """Correct the dates of a holder; see :func:`counterfoil.records.handover.correct_dates`."""
    with archive.lock():
        return _correct_dates(archive.store, machine, customer, since=since, until=until, who=who, why=why)


def extend_cover(
    archive: Archive,
    machine: str,
    parts: Sequence[str],
    months: int,
    bought: date,
    *,
    since: date | None = None,
    with_buyer: bool = False,
    number: str = "",
    message: str | None = None,
    who: str,
    why: str,
) -> Extension:
    """Enter an extension of cover that a customer bought; see :func:`counterfoil.records.extensions.extend`."""
    with archive.lock():
        return _extend(
            archive.store,
            machine,
            parts,
            months,
            bought,
            since=since,
            with_buyer=with_buyer,
            number=number,
            message=message,
            who=who,
            why=why,
        )


def customers_with_passwords(archive: Archive) -> dict[str, int]:
    """Return how many passwords for locked PDFs are noted of each customer, by the ids of today."""
    counts: dict[str, int] = {}
    for customer, passwords in read_customer_passwords(archive.customer_password_file).items():
        present = _present(archive, customer)
        counts[present] = counts.get(present, 0) + len(passwords)
    return counts


def locked_messages_of(archive: Archive, customer: str) -> list[str]:
    """Return the messages of a customer with PDFs that asked for a password when they were read last."""
    profile = archive.store.customer(customer)
    return locked_messages(archive.store, profile.id, profile.values(Kind.EMAIL_ADDRESS))


def note_password(archive: Archive, customer: str, password: str, *, who: str, why: str) -> str | None:
    """Note a password that PDFs of a customer are locked with. The journal says that, and not which.

    Args:
        archive: the archive.
        customer: the id.
        password: as typed.
        who: the person, for the journal.
        why: their reason.

    Returns:
        The line of the journal; None where it was noted before.

    Raises:
        RecordUnknown: there is no such customer.
        UsageProblem: it cannot be kept, or there are too many.
        SettingsFaulty: the file cannot be used.
        StorageFull: it cannot be written.
    """
    if (fault := password_fault(password)) is not None:
        raise UsageProblem(fault)
    with archive.lock():
        number = archive.store.customer(customer).id
        known = read_customer_passwords(archive.customer_password_file)
        if password in known.get(number, ()):
            return None
        if len(known.get(number, ())) >= MOST_OF_ONE:
            raise UsageProblem(
                f"There are {MOST_OF_ONE} passwords of {number} already.",
                f"Forget them with: counterfoil password {number} --forget",
            )
        known[number] = (*known.get(number, ()), password)
        write_customer_passwords(archive.customer_password_file, known)
        return archive.store.note(who, "password", number, why, {"noted": 1})


def forget_passwords(archive: Archive, customer: str, *, who: str, why: str) -> str | None:
    """Forget the passwords of a customer, those noted of customers merged into them as well.

    Returns:
        The line of the journal; None where there were none.

    Raises:
        RecordUnknown: there is no such customer.
        SettingsFaulty: the file cannot be used.
        StorageFull: it cannot be written.
    """
    with archive.lock():
        number = archive.store.customer(customer).id
        known = read_customer_passwords(archive.customer_password_file)
        kept = {owner: some for owner, some in known.items() if _present(archive, owner) != number}
        count = sum(map(len, known.values())) - sum(map(len, kept.values()))
        if not count:
            return None
        write_customer_passwords(archive.customer_password_file, kept)
        return archive.store.note(who, "password", number, why, {"forgotten": count})


def _present(archive: Archive, customer: str) -> str:
    """Return the id that a customer's id leads to today; the id itself where the records do not know it."""
    try:
        return archive.store.customer(customer).id
    except RecordUnknown:
        return customer
