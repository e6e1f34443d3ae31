"""Which machine, and whose: the rules that link a message to profiles. They would rather ask than guess."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import sqlalchemy as sa

from counterfoil.model import Candidate, Check, Fact, Kind, Question
from counterfoil.patterns.normal import fold_code, is_fixed_line
from counterfoil.records import linkage, schema
from counterfoil.records.case import LABELS, Case
from counterfoil.records.codes import is_near
from counterfoil.records.known import CONTACT_KINDS, KnownMachine
from counterfoil.records.match_words import another_email, same_home


@dataclass(slots=True)
class Link:
    """Where a message belongs, as far as that is sure; ``questions`` say why not, ``why`` why."""

    customer: int | None = None
    new_customer: bool = False
    machine: int | None = None
    new_machine: bool = False
    questions: list[Question] = field(default_factory=list)
    why: list[str] = field(default_factory=list)

    @property
    def complete(self) -> bool:
        """Whether both are known."""
        return (self.new_customer or self.customer is not None) and (self.new_machine or self.machine is not None)


def link(conn: sa.Connection, case: Case, *, only_machine: bool) -> Link:
    """Find the machine, then the customer.

    Args:
        conn: a connection.
        case: the message.
        only_machine: True where something is missing that an unread document may tell: asking whose it is would be
            too early.
    """
    result = Link()
    machine = find_machine(case, result)
    if machine is not None:
        result.machine = machine.number
        result.questions += known_codes(case, machine)
    result.questions += keys_elsewhere(case, machine)
    if not only_machine:
        find_customer(case, machine, result)
        if result.customer is not None and result.new_machine:
            result.questions += misread_machine_id(conn, case, result.customer)
    return result


# --- the machine ----------------------------------------------------------------------------------


def find_machine(case: Case, result: Link) -> KnownMachine | None:
    """Return the known machine the message is about; a new one is noted in ``result``."""
    ident, serial = case.certain(Kind.MACHINE_ID), case.certain(Kind.SERIAL_NUMBER)
    by_id = _machines(case, ident)
    by_serial = _machines(case, serial)
    choice = case.choice
    if choice is not None and (choice.new_machine or choice.machine is not None):
        return _chosen_machine(case, result, by_id | by_serial)
    both = by_id & by_serial or by_id or by_serial
    if len(both) > 1 or (by_id and by_serial and not by_id & by_serial):
        sentence = "The machine ID and the serial number in the message belong to different machines."
        if len(by_id) > 1 or len(by_serial) > 1:
            sentence = "The identifiers in the message belong to more than one machine."
        result.questions.append(Question("code_conflict", sentence, _as_candidates(case, by_id | by_serial)))
        return None
    if both:
        machine = case.known.machines[min(both)]
        result.why.append(_how_known(machine, ident, serial, by_id, by_serial))
        if len(by_id & by_serial) == 0:
            result.questions += other_maker(case, machine)
        return machine
    if ident is not None or serial is not None:
        result.new_machine = True
        result.why.append("no machine with these identifiers is known")
    return None


def _chosen_machine(case: Case, result: Link, named: set[int]) -> KnownMachine | None:
    """Return the machine a person chose, after asking back where the message names another."""
    assert case.choice is not None
    number = case.choice.machine
    others = named - {number}
    if others:
        sentence = "The machine ID or serial number in the message is already on another machine than the one chosen."
        result.questions.append(Question("code_conflict", sentence, _as_candidates(case, others)))
    result.why.append("machine chosen by a person")
    if number is None:
        result.new_machine = True
        return None
    return case.known.machines[number]


def _machines(case: Case, fact: Fact | None) -> set[int]:
    return set() if fact is None else set(case.known.machines_by(fact.kind, fact.normal))


def _how_known(
    machine: KnownMachine, ident: Fact | None, serial: Fact | None, by_id: set[int], by_serial: set[int]
) -> str:
    if by_id:
        return f"machine ID known: M{machine.number}"
    if ident is not None and machine.codes.get(Kind.MACHINE_ID):
        return f"serial number known: M{machine.number}; it shows a new machine ID, as after a swapped main board"
    return f"serial number known: M{machine.number}"


def other_maker(case: Case, machine: KnownMachine) -> Iterable[Question]:
    """Ask where a single identifier matches, but the maker or model is another: short numbers repeat between makers."""
    for kind, known in ((Kind.MAKER, machine.makers), (Kind.MODEL, machine.models)):
        fact = case.found(kind)
        if fact is None or not known or fact.odds <= 0 or kind in case.reading.conflicts:
            continue
        if not any(_contains(fact.normal, other) for other in known):
            sentence = f"The identifier in the message is that of M{machine.number}, but the {LABELS[kind]} is another."
            yield Question("code_conflict", sentence, _as_candidates(case, {machine.number}))
            return


def _contains(a: str, b: str) -> bool:
    one, two = a.casefold(), b.casefold()
    return one in two or two in one


def known_codes(case: Case, machine: KnownMachine) -> Iterable[Question]:
    """Ask where the message contradicts what is known of its machine."""
    candidates = _as_candidates(case, {machine.number})
    serial, ident = case.found(Kind.SERIAL_NUMBER), case.found(Kind.MACHINE_ID)
    serials, idents = machine.codes.get(Kind.SERIAL_NUMBER, []), machine.codes.get(Kind.MACHINE_ID, [])
    if serial is not None and serials and serial.normal not in serials:
        sentence = f"M{machine.number} has the serial number {serials[-1]}, the message says {serial.value}."
        yield Question("code_conflict", sentence, candidates)
    if ident is not None and ident.normal not in idents and any(_misread(ident, known) for known in idents):
        sentence = f"The machine ID {ident.value} differs in one character from the one known of M{machine.number}."
        yield Question("code_conflict", sentence, candidates)
    yield from _other_activation(case, machine, candidates)


def _other_activation(case: Case, machine: KnownMachine, candidates: tuple[Candidate, ...]) -> Iterable[Question]:
    key, code, ident = (case.found(k) for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.MACHINE_ID))
    board = ident.normal if ident is not None else None
    for known_key, known_code, known_board in machine.upgrades:
        same_board = board is None or known_board is None or board == known_board
        if key is not None and code is not None and known_code is not None:
            if known_key == key.normal and known_code != code.normal and same_board:
                sentence = f"For the product key {case.shown(key)} M{machine.number} has another activation code."
                yield Question("code_conflict", sentence, candidates)
                return
            if known_code == code.normal and (known_key not in (None, key.normal) or not same_board):
                what = "machine ID" if known_key in (None, key.normal) else "product key"
                sentence = f"The activation code {case.shown(code)} is known of M{machine.number} for another {what}."
                yield Question("code_conflict", sentence, candidates)
                return
        if key is not None and known_key is not None and same_board and _misread(key, known_key):
            sentence = f"The product key {case.shown(key)} is one character off one known of M{machine.number}."
            yield Question("code_conflict", sentence, candidates)
            return


def _misread(fact: Fact, known: str) -> bool:
    """Tell whether a code is likely a known one misread: one character off, and no check digit to prove it."""
    if fact.normal == known or fact.check is Check.PASSED:
        return False
    return fold_code(fact.normal) == fold_code(known) or is_near(fact.normal, known, 1)


def misread_machine_id(conn: sa.Connection, case: Case, customer: int) -> Iterable[Question]:
    """Ask where a new machine's ID or serial number is one character off one that the same customer has."""
    held, fact = schema.holding, schema.fact
    query = (
        sa.select(fact.c.machine_id, fact.c.kind, fact.c.normal)
        .select_from(held.join(fact, fact.c.machine_id == held.c.machine_id))
        .where(held.c.customer_id == customer)
        .where(fact.c.kind.in_([Kind.MACHINE_ID.value, Kind.SERIAL_NUMBER.value]))
        .distinct()
    )
    rows = conn.execute(query).all()
    for kind in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER):
        found = case.certain(kind)
        alike = [r for r in rows if found is not None and r.kind == kind and _misread(found, r.normal)]
        if found is not None and alike:
            sentence = f"The {LABELS[kind]} {found.value} is one character off that of M{alike[0].machine_id}."
            candidates = tuple(Candidate(f"M{r.machine_id}", r.normal, ("same customer",)) for r in alike)
            yield Question("code_conflict", sentence, candidates)


def keys_elsewhere(case: Case, machine: KnownMachine | None) -> Iterable[Question]:
    """Ask where a product key or activation code is on another machine already: each is good for one."""
    if Kind.MACHINE_ID in case.missing and machine is None:
        return
    for kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
        fact = case.found(kind)
        if fact is None:
            continue
        others = case.known.machines_by(kind, fact.normal) - ({machine.number} if machine else set())
        if others:
            where = ", ".join(f"M{n} ({case.known.machines[n].label})" for n in sorted(others))
            sentence = f"The {LABELS[kind]} {case.shown(fact)} is on another machine already: {where}."
            yield Question("key_used_elsewhere", sentence, _as_candidates(case, others))


def _as_candidates(case: Case, numbers: Iterable[int]) -> tuple[Candidate, ...]:
    found = []
    for number in sorted(numbers):
        machine = case.known.machines[number]
        words = []
        for kind in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
            fact = case.found(kind)
            if fact is not None and fact.normal in machine.codes.get(kind, []):
                words.append(f"same {LABELS[kind]}")
        if machine.holder is not None:
            words.append(f"held by {case.known.customers[machine.holder].label} (C{machine.holder})")
        found.append(Candidate(f"M{number}", machine.label, tuple(words)))
    return tuple(found)


# --- the customer ---------------------------------------------------------------------------------


def find_customer(case: Case, machine: KnownMachine | None, result: Link) -> None:
    """Find whose message it is: the person's choice, the machine's holder, a known contact, or somebody new."""
    choice = case.choice
    if choice is not None and choice.names_customer:
        result.customer, result.new_customer = choice.customer, choice.new_customer
        result.why.append("customer chosen by a person")
        return
    name = case.name()
    if name is None:
        return
    if case.is_shops_own():
        _unclear(case, result, f"The confirmation was sent to the shop's own address; “{name}” may be the desk's name.")
        return
    if machine is not None and machine.holder is not None:
        _by_holder(case, machine, machine.holder, name, result)
        return
    if machine is not None and machine.former:
        until = max(day for _, day in machine.former)
        sentence = f"Since {until} M{machine.number} is in nobody's hands; the message names {name}. Whose is it now?"
        result.questions.append(Question("holder_unclear", sentence, case.candidates()))
        return
    shared = case.contact_customers()
    agreeing = [number for number in sorted(shared) if case.agrees(number)]
    if len(agreeing) != 1:
        if agreeing:
            _unclear(case, result, "More than one customer has this name and one of the contacts.")
        else:
            _nobody_or_ask(case, name, bool(shared), result)
        return
    one = agreeing[0]
    if _rivals(case, one, name):
        _unclear(case, result, f"C{one} has this name and one of the contacts, but another customer fits as well.")
    elif _by_household_alone(case, one):
        _unclear(case, result, f"The telephone is that of C{one}, the e-mail address is not: two of one name there?")
    elif not case.weighing.sure_of(one):
        _unclear(case, result, f"C{one} is the likeliest, but not surely enough: too much else differs.")
    else:
        result.customer = one
        result.why.append(f"{' and '.join(shared[one])} as C{one}, and the name agrees")


def _by_household_alone(case: Case, customer: int) -> bool:
    """Tell whether only a fixed line agrees and each side has an e-mail address of its own: father and son may share
    name, home and telephone."""
    phone = case.found(Kind.PHONE_NUMBER)
    return another_email(case.weighing.vector(customer)) and phone is not None and is_fixed_line(phone.normal)


def _by_holder(case: Case, machine: KnownMachine, holder: int, name: str, result: Link) -> None:
    """File to the machine's holder where the name agrees and nobody else of that name has the contacts."""
    label = case.known.customers[holder].label
    if not case.agrees(holder):
        sentence = f"M{machine.number} is held by {label} (C{holder}); the message names {name}. Has it changed hands?"
    elif _rivals(case, holder, name) or not case.weighing.sure_of(holder):
        sentence = f"M{machine.number} is held by {label} (C{holder}), but another customer of that name fits as well."
    else:
        result.customer = holder
        result.why.append(f"C{holder} holds it, and the name agrees")
        return
    result.questions.append(Question("holder_unclear", sentence, case.candidates()))


def _rivals(case: Case, customer: int, name: str) -> set[int]:
    """Return other customers who fit as well: of an agreeing name and a contact the first lacks; of the very name
    where the first one's name only agrees but for a slip; of a name near to it, whose e-mail address it is."""
    shared = case.contact_customers()
    rivals = set()
    if customer not in shared:
        rivals = {n for n in shared if case.agrees(n)}
    if not case.known.customers[customer].same(name):
        rivals |= {n for n in case.namesakes() if case.known.customers[n].same(name)}
    mail = case.found(Kind.EMAIL_ADDRESS)
    owners = case.known.customers_by(Kind.EMAIL_ADDRESS, mail.normal) if mail is not None else set()
    if customer not in owners:
        # Erik with Erika's own e-mail address may be Erika with a letter lost, though the telephone is known as Erik's.
        rivals |= owners & set(case.namesakes())
    return rivals - {customer}


def _nobody_or_ask(case: Case, name: str, contacts: bool, result: Link) -> None:
    """Make a new customer where nobody alike is known at all; else ask."""
    namesakes = case.namesakes()
    if not linkage.one_person(name):
        _unclear(case, result, f"“{name}” is not a given and a family name of one person.")
    elif contacts:
        _unclear(case, result, f"A contact in the message is known, but not under the name {name}.")
    elif any(case.agrees(n) and same_home(case.weighing.vector(n)) for n in namesakes):
        _unclear(case, result, f"{name} is known at this postal address, but by no contact: two of one name there?")
    elif namesakes:
        _unclear(case, result, f"A customer with a name like {name} is known, but nothing else agrees.")
    elif case.neighbours():
        _unclear(case, result, f"A customer with a part of the name {name} is known at the same postal address.")
    elif case.weighing.likely():
        _unclear(case, result, f"{name} may be somebody known under another spelling or a short name.")
    elif any(kind in case.reading.conflicts for kind in CONTACT_KINDS):
        _unclear(case, result, f"The message holds different contacts for {name}.")
    else:
        result.new_customer = True
        result.why.append("nobody alike is known: no contact, name, machine or code")


def _unclear(case: Case, result: Link, sentence: str) -> None:
    result.questions.append(Question("customer_unclear", sentence, case.candidates()))
