"""Rules that put messages of one address aside, now and in future: made by a person, seen, removed, undone.

A rule never touches what may be a confirmation: a message that holds anything read as a code, however doubtful (in a
confirmation typed off, cut short or contradicting itself every code is), or an attached document that could not be
read, is decided as if there were no rule.
"""

from __future__ import annotations

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CODE_KINDS, Kind, Rule
from counterfoil.records import journal, refs, schema
from counterfoil.records.case import Case
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.questions import is_seen, is_unread
from counterfoil.records.rows import now
from counterfoil.records.store import Store
from counterfoil.settings import Settings

_PUT_ASIDE = "put aside by rule"
RULE_ACTION, REMOVE_ACTION = "rule", "remove rule"
_rule = schema.rule
_BY_ADDRESS = sa.select(_rule.c.id).where(_rule.c.address == sa.bindparam("address"))


def folded(address: str) -> str:
    """Return an address as rules compare it."""
    return address.strip().lower()


def may_be_confirmation(case: Case) -> str:
    """Say in words why a message may be a confirmation, whatever its sender; empty where nothing speaks for it."""
    if any(f.kind in CODE_KINDS for f in (*case.reading.facts, *case.reading.chosen.values())):
        return "it holds a code"
    if any(is_unread(d) or is_seen(d) for d in case.documents):
        return "a document with it could not be read"
    return ""


def applying(conn: sa.Connection, case: Case) -> str | None:
    """Return the id of the rule that puts a message aside, None where there is none or it may be a confirmation."""
    if case.choice is not None or not case.sender or may_be_confirmation(case):
        return None
    return refs.ref(refs.RULE, conn.scalar(_BY_ADDRESS, {"address": folded(case.sender)}))


def why_aside(rule: str, address: str) -> str:
    """Return the reason kept with a message that a rule put aside."""
    return f"{_PUT_ASIDE} {rule}: from {folded(address)}"


def add_rule(store: Store, settings: Settings, address: str, *, sure: bool = False, who: str, why: str) -> Rule:
    """Make a rule that puts aside what comes from an address; one that is there already is returned.

    Args:
        store: the records.
        settings: the shop's.
        address: the address.
        sure: make it although the address is a customer's.
        who: the person, for the journal.
        why: their reason.

    Raises:
        UsageProblem: it is no address.
        SettlementRefused: it is the shop's own address, or a customer's and ``sure`` is not set.
    """
    wanted = folded(address)
    if "@" not in wanted:
        raise UsageProblem(f"{address!r} is no e-mail address.", "Write the address as name@domain.")
    if wanted in {folded(own) for own in settings.shop_addresses}:
        raise SettlementRefused(f"{wanted} is the shop's own address.", "What colleagues forward must be looked at.")
    with store.write() as conn:
        number = conn.scalar(_BY_ADDRESS, {"address": wanted})
        customers = store.find_contacts(Kind.EMAIL_ADDRESS, wanted)
        if number is None and customers and not sure:
            raise SettlementRefused(
                f"{wanted} is an address of {', '.join(customers)}.", "Add --sure if their mail is to be put aside."
            )
        if number is None:
            number = int(take(conn, rule=1).rule)
            ref = f"{refs.RULE}{number}"
            line = journal.add(conn, who=who, action=RULE_ACTION, subject=ref, why=why, detail={}, changes=[])
            changes = Changes(conn)
            changes.insert("rule", {"id": number, "address": wanted, "at": now(), "journal_id": line})
            journal.complete(conn, line, {"address": wanted}, changes.made)
        return _rules(conn, number)[0]


def remove_rule(store: Store, ref: str, *, who: str, why: str) -> tuple[Rule, str]:
    """Remove a rule; what it has put aside stays aside.

    Args:
        store: the records.
        ref: its id, R1.
        who: the person, for the journal.
        why: their reason.

    Returns:
        The rule as it was, and the line of the journal that can be undone.

    Raises:
        RecordUnknown: there is no such rule.
    """
    with store.write() as conn:
        number = refs.number(refs.RULE, ref)
        found = _rules(conn, number)
        if not found:
            raise refs.unknown(refs.RULE, ref)
        line = journal.add(conn, who=who, action=REMOVE_ACTION, subject=found[0].id, why=why, detail={}, changes=[])
        changes = Changes(conn)
        changes.delete("rule", number)
        journal.complete(conn, line, {"address": found[0].address}, changes.made)
        return found[0], f"{refs.JOURNAL}{line}"


def rules(store: Store) -> list[Rule]:
    """Return all rules, the oldest first, each with the number of messages it has put aside."""
    with store.reading() as conn:
        return _rules(conn)


def _rules(conn: sa.Connection, number: int | None = None) -> list[Rule]:
    line = schema.journal
    query = sa.select(_rule, line.c.who, line.c.why).join(line, line.c.id == _rule.c.journal_id).order_by(_rule.c.id)
    if number is not None:
        query = query.where(_rule.c.id == number)
    found = []
    for row in conn.execute(query).all():
        ref = f"{refs.RULE}{row.id}"
        message = schema.message
        reason = message.c.why.contains(f"{_PUT_ASIDE} {ref}:", autoescape=True)
        own = sa.func.lower(message.c.sender_address) == row.address
        counted = sa.select(sa.func.count()).where(message.c.standing == "aside", own, reason)
        found.append(
            Rule(
                ref, row.address, row.at, row.who, row.why, f"{refs.JOURNAL}{row.journal_id}", conn.scalar(counted) or 0
            )
        )
    return found
