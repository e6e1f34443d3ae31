"""Settling a whole group at once: every open message from one address, and those to come by a rule."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CODE_KINDS, MessageRecord, Rule, Standing
from counterfoil.records import profiles, schema
from counterfoil.records.rules import add_rule, folded, rules
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.settings import Settings


@dataclass(frozen=True, slots=True)
class GroupSettled:
    """What was done with a group.

    ``settled`` pairs each message settled with its line of the journal; ``left`` each message still open with the
    reason; ``rule`` puts future ones aside, and ``new_rule`` tells whether it was made now.
    """

    address: str
    settled: tuple[tuple[MessageRecord, str], ...] = ()
    left: tuple[tuple[str, str], ...] = ()
    rule: Rule | None = None
    new_rule: bool = False

    @property
    def journal(self) -> tuple[str, ...]:
        """The lines that undo it all, newest first."""
        made = [line for _, line in reversed(self.settled)]
        return (*made, *([self.rule.journal] if self.rule is not None and self.new_rule else []))


def open_from(store: Store, address: str) -> list[MessageRecord]:
    """Return the open messages sent from an address, in the order they were kept."""
    message = schema.message
    own = sa.func.lower(sa.func.trim(message.c.sender_address)) == folded(address)
    query = sa.select(message.c.id).where(message.c.standing == Standing.OPEN.value, own)
    with store.reading() as conn:
        return profiles.messages(conn, list(conn.scalars(query)))


def settle_from(
    store: Store,
    settings: Settings,
    address: str,
    *,
    customer: str | None = None,
    aside: bool = False,
    from_now_on: bool = False,
    sure: bool = False,
    who: str,
    why: str,
) -> GroupSettled:
    """Settle every open message from an address alike, each as a line of the journal of its own.

    Put aside together are only messages that hold nothing read as a code and no document left unread: nobody has
    looked at each of them.

    Args:
        store: the records.
        settings: the shop's.
        address: the sender's.
        customer: the customer's id to file them to.
        aside: put them aside.
        from_now_on: with ``aside``: make a rule for what comes later.
        sure: put aside also those that may be confirmations; file against questions that remain.
        who: the person, for the journal.
        why: their reason.

    Raises:
        UsageProblem: neither or both of customer and aside, ``from_now_on`` without aside, or ``new``: several
            messages would make several customers.
        RecordUnknown: there is no such customer.
        SettlementRefused: no rule may be made for the address.
    """
    if (customer is None) != aside or (from_now_on and not aside):
        raise UsageProblem("A group is filed to one customer or put aside.", "Add --customer C3, or --aside.")
    if customer is not None:
        if customer.strip().lower() == "new":
            raise UsageProblem("A group is not filed to new customers.", "Settle its first message, then the others.")
        customer = store.customer(customer).id
    known = {rule.id for rule in rules(store)}
    rule = add_rule(store, settings, address, sure=sure, who=who, why=why) if from_now_on else None
    settled: list[tuple[MessageRecord, str]] = []
    left: list[tuple[str, str]] = []
    for message in open_from(store, address):
        reason = may_be_confirmation(message) if aside and not sure else ""
        if reason:
            left.append((message.id, reason))
            continue
        try:
            done = settle(
                store, settings, message.id, customer=customer, aside=aside, sure=sure and not aside, who=who, why=why
            )
        except SettlementRefused as refused:
            left.append((message.id, refused.what))
            continue
        settled.append((done, store.journal(subject=message.id)[-1].id))
    new_rule = rule is not None and rule.id not in known
    return GroupSettled(folded(address), tuple(settled), tuple(left), rule, new_rule)


def may_be_confirmation(message: MessageRecord) -> str:
    """Say in words why a message must be looked at by itself; empty where nothing speaks for it."""
    if any(n.fact.kind in CODE_KINDS for n in message.facts):
        return "It holds a code."
    if any(question.code == "document_unreadable" for question in message.questions):
        return "A document with it could not be read."
    return ""
