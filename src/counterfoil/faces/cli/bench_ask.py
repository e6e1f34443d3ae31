"""`counterfoil record` on a terminal: one value after the other, each checked as soon as it is typed.

Nothing is put right by itself. What is like a value on record, or like a code that would pass its check digit, is
offered with a number; what speaks against a value is said at once and needs a yes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from difflib import get_close_matches

from counterfoil import entering, pipeline
from counterfoil.archive import Archive
from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.faces.cli.common import pairs, prose, say
from counterfoil.faces.cli.lines import choice, line, needed, yes
from counterfoil.faces.cli.refs import holder_line, machine_line
from counterfoil.model import SECRET_KINDS, CodeHit, Fact, Kind, MachineProfile

_MOST = 9
_LABELS = {kind: kind.value.replace("_", " ").capitalize() for kind in Kind} | {
    Kind.MACHINE_ID: "Machine ID",
    Kind.EMAIL_ADDRESS: "E-mail address",
    Kind.CUSTOMER_NAME: "Name",
}


class Asking:
    """One entry under way.

    Args:
        archive: the archive.
        values: what the options gave already.
        customer: whose it is: an id, `new`, or None.
        before: the firmware before the update, None to ask.
        after: the firmware after it, None to ask.
    """

    def __init__(
        self, archive: Archive, values: dict[Kind, str], customer: str | None, before: str | None, after: str | None
    ) -> None:
        self.archive = archive
        self.values = values
        self.customer = customer
        self.before, self.after = before, after
        self.machine: MachineProfile | None = None
        #: What speaks against values, as it was said to the person, who kept them.
        self.accepted: set[str] = set()

    def run(self, *, who: str, why: str) -> tuple[str, str, str] | None:
        """Ask for everything and enter it.

        Args:
            who: the person.
            why: their reason.

        Returns:
            The ids of customer, machine and journal line; None where the person did not want it entered.
        """
        say("Enter alone leaves a value out; Ctrl-C stops, and nothing is entered.")
        self._machine()
        if self.machine is None:
            self._describe_machine()
        self._whose()
        self._firmware()
        self._rest()
        if not self._confirmed():
            return None
        return pipeline.record(
            self.archive,
            customer=self.customer,
            values=tuple(self.values.items()),
            firmware_before=self.before,
            firmware_after=self.after,
            accepted=self.accepted,
            who=who,
            why=why,
        )

    # --- the machine ------------------------------------------------------------------------------

    def _machine(self) -> None:
        """Ask which machine it is: known ones are shown with their holder, and nothing is taken without a yes."""
        given = next((self.values.pop(kind) for kind in entering.IDENTIFIERS if kind in self.values), None)
        while True:
            text, given = given or needed("Machine ID or serial number"), None
            whole, alike = entering.identified(self.archive, text)
            if whole:
                if self._is_known(whole):
                    return
                continue
            hit = self._offered(alike)
            if hit is not None:
                self._take(hit)
                return
            kinds = entering.kinds_of(self.archive, text)
            kind = kinds[0] if len(kinds) == 1 else _which(kinds)
            value = self._checked(kind, text)
            if value is None:
                continue
            if value != text:
                # Another code than the one looked up: it may be on record.
                given = value
                continue
            self.values[kind] = value
            say("Not on record: it will be a new machine.")
            return

    def _is_known(self, hits: Sequence[CodeHit]) -> bool:
        machines = {hit.machine: hit for hit in hits}
        if len(machines) > 1:
            say("This number is on more than one machine:")
            hit = self._offered(list(machines.values()), say_alike=False)
        else:
            self._show(hits[0], "On record: ")
            hit = hits[0] if yes("Is it this machine?") else None
        if hit is not None:
            self._take(hit)
        return hit is not None

    def _offered(self, hits: Sequence[CodeHit], *, say_alike: bool = True) -> CodeHit | None:
        """Offer machines on record; return the one that the person names."""
        several = list({hit.machine: hit for hit in hits}.values())[:_MOST]
        if not several:
            return None
        if say_alike:
            say("Not on record letter for letter. On record and like it:")
        for number, hit in enumerate(several, 1):
            self._show(hit, f"  {number}  ")
        chosen = choice(len(several), "it is that one, as on record", "none of them")
        return None if chosen is None else several[chosen - 1]

    def _show(self, hit: CodeHit, first: str) -> None:
        prose(machine_line(self.archive, hit.machine), first=first)
        holder = self.archive.store.machine(str(hit.machine)).holder
        prose(f"held by {holder_line(self.archive, holder)}", first=" " * len(first))

    def _take(self, hit: CodeHit) -> None:
        self.machine = self.archive.store.machine(str(hit.machine))
        self.values[hit.noted.fact.kind] = hit.noted.fact.value
        other = entering.IDENTIFIERS[hit.noted.fact.kind is entering.IDENTIFIERS[0]]
        known = self.machine.latest(other)
        # Short numbers repeat between makers: the other one on record says which machine was meant.
        if (
            known is not None
            and len({h.machine for h in entering.identified(self.archive, hit.noted.fact.value)[0]}) > 1
        ):
            self.values[other] = known.fact.value

    def _describe_machine(self) -> None:
        makers = [maker.name for maker in self.archive.patterns.makers]
        self._pick(Kind.MAKER, makers)
        found = self.archive.patterns.maker(self.values.get(Kind.MAKER, ""))
        self._pick(Kind.MODEL, found.models if found is not None else ())
        for kind in entering.IDENTIFIERS:
            while kind not in self.values and (text := line(_LABELS[kind])):
                whole = [hit for hit in entering.identified(self.archive, text)[0] if hit.noted.fact.kind is kind]
                if whole:
                    # By its other number it is on record after all; if not, this one was misread.
                    if self._is_known(whole):
                        return
                elif (value := self._checked(kind, text)) is not None:
                    self.values[kind] = value

    # --- whose ------------------------------------------------------------------------------------

    def _whose(self) -> None:
        """Ask whose machine it is; the holder on record is shown and kept by Enter."""
        holder = None if self.machine is None else self.machine.holder
        if self.customer == "new":
            self._new_customer()
        if self.customer is not None or not {Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS}.isdisjoint(self.values):
            return
        if holder is not None:
            prose(f"Held by {holder_line(self.archive, holder)}.")
        while self.customer is None:
            keep = "Enter: that holder, or " if holder is not None else ""
            text = line(f"Customer ({keep}a name, a contact, an id, or new)")
            if not text and holder is not None:
                self.customer = holder
            elif text.lower() == "new":
                self._new_customer()
            elif text:
                self._find_customer(text)
            if holder not in (None, self.customer) and self.customer is not None and not self._changes_hands(holder):
                self.customer = None

    def _changes_hands(self, holder: str | None) -> bool:
        who = "the new customer" if self.customer == "new" else self.customer
        prose(f"So far {holder} has the machine; from now on {who} would.", style="yellow")
        return yes("Has it changed hands?")

    def _find_customer(self, text: str) -> None:
        from counterfoil.answers.search import search

        if re.fullmatch(r"[Cc]\d+", text):
            try:
                found = [self.archive.store.customer(text).id]
            except RecordUnknown as error:
                prose(error.what, style="yellow")
                return
        else:
            answer = search(self.archive.store, self.archive.index, text, settings=self.archive.settings, limit=_MOST)
            found = [customer.id for customer in answer.customers]
        if not found:
            say("Nobody like that is on record. Type it another way, or new.")
            return
        for number, ref in enumerate(found, 1):
            prose(holder_line(self.archive, ref), first=f"  {number}  ")
        chosen = choice(len(found), "that customer", "another")
        if chosen is not None:
            self.customer = found[chosen - 1]

    def _new_customer(self) -> None:
        self.customer = "new"
        for kind in (Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER):
            self._value(kind, must=kind is Kind.CUSTOMER_NAME)
        for kind in (Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER):
            if kind not in self.values:
                continue
            normal = entering.check_typed(self.archive, kind, self.values[kind]).fact.normal
            for ref in self.archive.store.find_contacts(kind, normal):
                prose(f"On record with this {_LABELS[kind].lower()}: {holder_line(self.archive, ref)}", style="yellow")
                if yes("Is it this customer?"):
                    self.customer = ref
                    return

    # --- firmware, codes, dates ---------------------------------------------------------------------

    def _firmware(self) -> None:
        from counterfoil.answers.lists_firmware import latest_firmware

        last = None if self.machine is None else latest_firmware(self.machine)
        noted = "" if last is None else f" (last noted: {last.written}, {last.noted})"
        machine = None if self.machine is None else self.machine.id
        if self.before is None:
            self.before = self._version(
                f"Firmware before the update{noted}",
                lambda text: entering.firmware_backwards(self.archive, machine, text, None),
            )
        if self.after is None:
            self.after = self._version(
                "Firmware after the update, once the machine says that it has finished",
                lambda text: entering.firmware_backwards(self.archive, machine, self.before, text),
            )

    def _version(self, prompt: str, against: Callable[[str], Sequence[str]]) -> str | None:
        while text := line(prompt):
            try:
                wrong = [sentence for sentence in against(text) if sentence not in self.accepted]
            except UsageProblem as error:
                prose(error.what, style="yellow")
                continue
            if self._kept(wrong):
                return text
        return None

    def _kept(self, wrong: Sequence[str]) -> bool:
        """Say what speaks against a value; tell whether the person keeps it."""
        for sentence in wrong:
            prose(sentence, style="yellow")
        if wrong and not yes("Keep it all the same?"):
            return False
        self.accepted.update(wrong)
        return True

    def _rest(self) -> None:
        for kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
            self._value(kind)
        if not {Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE}.isdisjoint(self.values):
            maker = self.archive.patterns.maker(self._maker() or "")
            self._pick(Kind.UPGRADE_NAME, [u.name for u in maker.upgrades] if maker is not None else ())
        if self.machine is None or self.machine.latest(Kind.PURCHASE_DATE) is None:
            self._value(Kind.PURCHASE_DATE)

    # --- one value ----------------------------------------------------------------------------------

    def _maker(self) -> str | None:
        noted = None if self.machine is None else self.machine.latest(Kind.MAKER)
        return self.values.get(Kind.MAKER) or (None if noted is None else noted.fact.value)

    def _value(self, kind: Kind, *, must: bool = False) -> None:
        """Ask for a value that nobody gave yet, until it stands its checks or the person keeps it."""
        while kind not in self.values:
            text = needed(_LABELS[kind]) if must else line(_LABELS[kind])
            if not text:
                return
            value = self._checked(kind, text)
            if value is not None:
                self.values[kind] = value

    def _checked(self, kind: Kind, text: str) -> str | None:
        """Check a value at once; return it, what was taken in its place, or None to have it typed again."""
        try:
            checked = entering.check_typed(self.archive, kind, text, maker=self._maker())
        except SettlementRefused as error:
            prose(error.what, style="yellow")
            return None
        meant = [*checked.fact.readings, *checked.meant] if len(checked.fact.readings) > 1 else list(checked.meant)
        for sentence in checked.odd:
            prose(sentence, style="yellow")
        if meant and (checked.odd or not checked.fact.evidence):
            other = self._meant(checked.fact, meant)
            if other is not None:
                return other
        taken = self._on_others(checked.fact)
        if (checked.odd or taken) and not yes("Keep what you typed?"):
            return None
        self.accepted.update(checked.odd)
        return text

    def _on_others(self, fact: Fact) -> bool:
        """Say at once where a key or code is on another machine already; before the end it is asked about again."""
        if fact.kind not in SECRET_KINDS:
            return False
        own = None if self.machine is None else self.machine.id
        hits = self.archive.store.find_code(fact.normal, endings=False, near=False)
        others = {hit.machine for hit in hits if hit.noted.fact.kind is fact.kind} - {own, None}
        for ref in sorted(str(other) for other in others):
            prose(f"On another machine already: {machine_line(self.archive, ref)}", style="yellow")
        return bool(others)

    def _meant(self, fact: Fact, meant: Sequence[str]) -> str | None:
        """Offer what may have been meant."""
        say("Perhaps meant:" if fact.kind is not Kind.PURCHASE_DATE else "Which day is it?")
        for number, other in enumerate(meant, 1):
            say(f"  {number}  {other}")
        chosen = choice(len(meant), "take that", "what was typed")
        return None if chosen is None else meant[chosen - 1]

    def _pick(self, kind: Kind, known: Sequence[str]) -> None:
        """Ask for a name; those that the maker files know can be taken by their number."""
        if kind in self.values:
            return
        for number, name in enumerate(known, 1):
            say(f"  {number}  {name}")
        while text := line(_LABELS[kind] + (" (number or name)" if known else "")):
            if text.isdecimal() and 1 <= int(text) <= len(known):
                self.values[kind] = known[int(text) - 1]
                return
            lowered = {name.casefold(): name for name in known}
            near = get_close_matches(text.casefold(), lowered, n=1, cutoff=0.7)
            if near and near[0] != text.casefold():
                say(f"The maker files have: {lowered[near[0]]}")
                if yes("Is that meant?"):
                    text = lowered[near[0]]
            self.values[kind] = text
            return

    # --- the end --------------------------------------------------------------------------------------

    def _confirmed(self) -> bool:
        """Show all of it, with what speaks against it, and ask once."""
        from counterfoil.answers.masking import mask

        against = entering.objections(
            self.archive,
            customer=self.customer,
            values=tuple(self.values.items()),
            firmware_before=self.before,
            firmware_after=self.after,
        )
        say()
        whose = "new" if self.customer in (None, "new") else holder_line(self.archive, self.customer)
        machine = "new" if self.machine is None else machine_line(self.archive, self.machine.id)
        shown = [(_LABELS[k], mask(v) if k in SECRET_KINDS else v) for k, v in self.values.items()]
        stages = [("Firmware before", self.before or ""), ("Firmware after", self.after or "")]
        pairs([("Customer", whose), ("Machine", machine), *shown, *stages])
        fresh = [sentence for sentence in against if sentence not in self.accepted]
        for sentence in fresh:
            prose(sentence, style="yellow")
        if not yes("Enter it all the same?" if fresh else "Enter it?"):
            return False
        self.accepted.update(fresh)
        return True


def _which(kinds: Sequence[Kind]) -> Kind:
    """Ask which identifier it is."""
    letters = {"m": Kind.MACHINE_ID, "s": Kind.SERIAL_NUMBER}
    while (text := line("Is it the machine ID (m) or the serial number (s)?").lower()) not in letters:
        say("Type m or s: the machine shows its machine ID; the serial number is on the type plate.")
    return letters[text] if letters[text] in kinds else kinds[0]
