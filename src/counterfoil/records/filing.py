"""Filing: decides where a message stands and whose it is, and writes it, in one transaction.

Nothing is filed by a guess. A message is filed when every value needed is certain and it belongs to a known machine
whose holder's name agrees, to a known contact whose name agrees, or to nobody alike at all; otherwise it stays open
with the questions a person has to answer.
"""

from __future__ import annotations

import sqlalchemy as sa

from counterfoil.model import CODE_KINDS, Decision, Message, Question, Reading, Standing
from counterfoil.records import refs, rules
from counterfoil.records.case import Case, Choice
from counterfoil.records.contradictions import contradictions, with_sources
from counterfoil.records.known import gather
from counterfoil.records.linking import link
from counterfoil.records.offers import offered
from counterfoil.records.questions import about_reading, explained, in_order
from counterfoil.records.store import Store
from counterfoil.records.writing import write_message
from counterfoil.settings import Settings


def decide(message: Message, reading: Reading, store: Store, settings: Settings) -> Decision:
    """Decide where a message stands; writes nothing.

    Args:
        message: the message.
        reading: what was read from it.
        store: the records.
        settings: the shop's.
    """
    with store.reading() as conn:
        return judge(conn, _case(conn, message, reading, settings))


def file_message(
    store: Store, message: Message, reading: Reading, source: str, settings: Settings
) -> tuple[str, Decision]:
    """Decide, and write the message with the decision, in one transaction.

    Args:
        store: the records.
        message: the message; its hash must be that of an original kept before.
        reading: what was read from it.
        source: where it came from, as shown to people.
        settings: the shop's.

    Returns:
        The message's id and the decision, with the ids of the profiles it was filed to.

    Raises:
        ArchiveDamaged: a message with this hash is there already.
        ArchiveBusy: another run was writing for too long.
        StorageFull: the records cannot be written.
    """
    with store.write() as conn:
        case = _case(conn, message, reading, settings)
        decision = judge(conn, case)
        number, decision = write_message(conn, message, reading, source, decision, case.owned_kinds())
    return f"{refs.MESSAGE}{number}", decision


def _case(conn: sa.Connection, message: Message, reading: Reading, settings: Settings) -> Case:
    sender = message.head.sender.address if message.head.sender else None
    if reading.confirmation < settings.confirmation_odds:
        # It is put aside whatever is known, so nothing needs to be fetched.
        return Case(message.documents, sender, reading, settings, gather(conn, Reading((), {}), None, 1.0))
    known = gather(conn, reading, sender, settings.name_similarity)
    received = message.head.date.date() if message.head.date else None
    return Case(message.documents, sender, reading, settings, known, received=received)


def judge(conn: sa.Connection, case: Case) -> Decision:
    """Apply the rules to a case.

    Args:
        conn: a connection.
        case: the message, what is known, and what a person has decided already.
    """
    choice: Choice | None = case.choice
    reading = case.reading
    if choice is None and reading.confirmation < case.settings.confirmation_odds:
        return Decision(Standing.ASIDE, why=("not a confirmation",))
    rule = rules.applying(conn, case)
    if rule is not None:
        return Decision(Standing.ASIDE, why=(rules.why_aside(rule, case.sender or ""),))
    questions = about_reading(case)
    too_early = bool(case.missing) and explained(questions)
    result = link(conn, case, only_machine=too_early)
    questions += with_sources(conn, case, result.questions)
    questions += contradictions(conn, case, result.machine)
    # A person may be sure of what the original says, but not of two values at once.
    sure = choice is not None and choice.sure and not CODE_KINDS & set(reading.conflicts)
    if questions and not (sure and result.complete):
        return Decision(Standing.OPEN, offered(case, in_order(questions)), why=tuple(result.why))
    if not result.complete:
        # Every rule that leaves the customer or machine unknown asks; this is the net below them.
        asked = Question("customer_unclear", "It cannot be told whose it is, or which machine.", case.candidates())
        return Decision(Standing.OPEN, offered(case, (asked,)), why=tuple(result.why))
    return Decision(
        Standing.FILED,
        in_order(questions),
        customer=refs.ref(refs.CUSTOMER, result.customer),
        machine=refs.ref(refs.MACHINE, result.machine),
        new_customer=result.new_customer,
        new_machine=result.new_machine,
        why=tuple(result.why),
    )
