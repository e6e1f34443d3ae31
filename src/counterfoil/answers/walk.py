"""The open questions one after the other, as they stand now, for settling them in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from counterfoil.answers.asked import NEW, Answer, answer, asked, changes
from counterfoil.answers.masking import mask_in, secrets_of
from counterfoil.answers.triage import age, masked_question, sender_text
from counterfoil.model import Candidate, Decision, Fact, Kind, MessageRecord, Question, Standing
from counterfoil.records.settling import decide_again

if TYPE_CHECKING:
    from counterfoil.records.store import Store
    from counterfoil.settings import Settings

#: Questions that say that values are lacking, and what is lacking for good where none of these was read.
_LACKING = ("document_unreadable", "attachment_missing", "fact_missing")
_MACHINE = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)
_WHOSE = ("customer_unclear", "holder_unclear")


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of an open message: what is asked, the likely answers, what settling changes; codes covered.

    ``answers`` are what the candidates mean for a settlement, in their order.
    """

    id: str
    day: str
    sender: str
    subject: str
    text: str
    changes: str
    candidates: tuple[Candidate, ...]
    answers: tuple[Answer, ...]
    may_be_new: bool

    def answer(self, key: str) -> Answer | None:
        """Return what a key answers: the number of a candidate, or ``n`` for a new customer; None for all else."""
        if key == "n" and self.may_be_new:
            return Answer(customer=NEW)
        if len(key) == 1 and "1" <= key <= "9" and int(key) <= len(self.answers):
            return self.answers[int(key) - 1]
        return None


def waiting(store: Store) -> list[str]:
    """Return the ids of the open messages, oldest first."""
    return [message.id for message in sorted(store.messages(Standing.OPEN), key=age)]


def asked_now(store: Store, settings: Settings, ref: str) -> tuple[Asked, ...]:
    """Return the questions of a message by what is known today, none where it is not open any more.

    What was settled since may have brought a new likely answer, or answered the question: that answer is then offered.

    Args:
        store: the records.
        settings: the shop's.
        ref: the message's id.
    """
    message = store.message(ref)
    if message.standing is not Standing.OPEN:
        return ()
    decision = decide_again(store, settings, ref)
    questions = decision.questions if decision.standing is Standing.OPEN else (_answered(store, message, decision),)
    secrets = secrets_of(message.facts)
    return tuple(_asked(store, message, question, secrets) for question in questions)


def outcomes(store: Store, settings: Settings, shown: Asked, given: Sequence[Answer]) -> tuple[str, ...]:
    """Say for each answer to the last question of a message what settling with it will do.

    Args:
        store: the records.
        settings: the shop's.
        shown: the question.
        given: the answers to the questions before it.

    Returns:
        A phrase for each answer, in their order: where the message is filed, or why that will be refused; empty ones
        where the message is in a profile already.
    """
    message = store.message(shown.id)
    if message.customer is not None or message.machine is not None:
        return ("",) * len(shown.answers)
    return tuple(_outcome(store, settings, message, (*given, own)) for own in shown.answers)


def _outcome(store: Store, settings: Settings, message: MessageRecord, answers: Sequence[Answer]) -> str:
    told: dict[str, str] = {}
    facts: dict[Kind, Fact] = {}
    for each in answers:
        told |= {"customer": each.customer} if each.customer is not None else {}
        told |= {"machine": each.machine} if each.machine is not None else {}
        if each.value is not None:
            facts |= {each.value[0]: _fact_of(message, *each.value)}
    decision = decide_again(store, settings, message.id, **told, facts=tuple(facts.values()))
    if decision.standing is not Standing.FILED:
        why = decision.questions[0].sentence if decision.questions else "it cannot be told whose it is."
        return f"refused unless ! is pressed then: {mask_in(why, secrets_of(message.facts))}"
    whose = "a new customer" if decision.new_customer else decision.customer
    which = "a new machine" if decision.new_machine else decision.machine
    text = f"files it to {whose}, {which}"
    holder = None if decision.machine is None else _holder(store, decision.machine)
    if holder is not None and holder != decision.customer:
        text += f", which {holder} no longer has then"
    return text


def _fact_of(message: MessageRecord, kind: Kind, value: str) -> Fact:
    """Return the fact of the message that has a value, written or as a reading of a date."""
    same = [n.fact for n in message.facts if n.fact.kind is kind]
    fact = next((f for f in same if value in (f.value, f.normal)), None)
    return fact or replace(next(f for f in same if value in f.readings), normal=value, readings=())


def _holder(store: Store, machine: str) -> str | None:
    """Return the id of the customer who has a machine now."""
    return next((h.customer for h in store.machine(machine).holders if h.until is None), None)


def _asked(store: Store, message: MessageRecord, question: Question, secrets: frozenset[str]) -> Asked:
    shown = masked_question(question, secrets)
    taken = [(c, a) for c in shown.candidates if (a := answer(c, message)) is not None]
    possible = [(c, a) for c, a in taken if a.machine is None or not _another(store, a.machine, message)]
    settling = changes(question, message)
    if taken and not possible:
        settling = (
            f"No key answers it: by its serial number {message.id} is about another machine. Ask the customer which "
            f"code is theirs (`counterfoil triage reply {message.id}`), or enter it with `triage settle`."
        )
    taken = possible
    if question.code in _LACKING and not any(n.chosen and n.fact.kind in _MACHINE for n in message.facts):
        # Whoever is chosen, it would be refused: it cannot be told which machine it is about.
        likely = f" Likely it is of {taken[0][0].label} ({taken[0][0].ref})." if taken else ""
        settling = (
            "No key files it without the machine's ID. Ask the customer for it "
            f"(`counterfoil triage reply {message.id}`), or look (`counterfoil triage show {message.id}`) and enter it "
            f"with `triage settle`.{likely}"
        )
        taken = []
    return Asked(
        id=message.id,
        day=(message.received or message.kept)[:10],
        sender=sender_text(message),
        subject=mask_in(message.subject, secrets),
        text=asked(shown),
        changes=settling,
        candidates=tuple(c for c, _ in taken),
        answers=tuple(a for _, a in taken),
        may_be_new=question.code in _WHOSE,
    )


def _another(store: Store, machine: str, message: MessageRecord) -> bool:
    """Tell whether the message's serial number shows that it is about another machine: no key may make them one."""
    known = {n.fact.normal for n in store.machine(machine).facts if n.fact.kind is Kind.SERIAL_NUMBER}
    read = {n.fact.normal for n in message.facts if n.chosen and n.fact.kind is Kind.SERIAL_NUMBER}
    return bool(known and read) and not known & read


def _answered(store: Store, message: MessageRecord, decision: Decision) -> Question:
    """Return a message that could be filed by now as a question with one answer."""
    why = decision.why or ("what was settled since answers it",)
    if decision.standing is Standing.ASIDE:
        return Question("", "It is no confirmation any more: put it aside?")
    if decision.customer is None:
        return Question("", "What was settled since answers it. File it?", (Candidate(NEW, "new customer", why),))
    label = store.customer(decision.customer).name
    return Question("", "What was settled since answers it. File it?", (Candidate(decision.customer, label, why),))


def text_of(store: Store, ref: str) -> list[str]:
    """Return the lines of a message's subject and documents, codes covered, empty ones left out."""
    message = store.message(ref)
    secrets = secrets_of(message.facts)
    lines = [message.subject]
    for document in message.documents:
        lines.append(f"{document.name}: {document.reason}" if document.problem is not None else f"{document.name}:")
        lines += document.text.splitlines()
    return [mask_in(line, secrets) for line in lines if line.strip()]
