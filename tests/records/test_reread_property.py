"""Reading anew between decisions, as a state machine: whatever was settled, merged, split, handed over or undone,
what a person decided stands, nothing is read twice differently, and the records hold together."""

from __future__ import annotations

import shutil

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule, run_state_machine_as_test
from records_world import SETTINGS, reading
from test_state_property import BOUNDED, Desk, Mail, mails, values_of

from counterfoil.answers.verify import records_findings
from counterfoil.errors import SettlementRefused
from counterfoil.model import Kind, Message, Reading
from counterfoil.records.rereading import MessageChange, renew_messages
from counterfoil.records.undoing import undo

#: What other patterns make of a message: as it was, a value gone, another one.
VARIANTS: tuple[tuple[Kind, str | None] | None, ...] = (
    None,
    None,
    (Kind.PURCHASE_DATE, "2025-02-02"),
    (Kind.PRODUCT_KEY, None),
    (Kind.SERIAL_NUMBER, None),
    (Kind.EMAIL_ADDRESS, "other@post.example"),
    (Kind.CUSTOMER_NAME, "Marit Solvang-Lund"),
)


class Rereading(Desk):
    """The desk, with patterns that come and go."""

    may_be_asked_about = True

    @precondition(lambda self: len(self.taken) < 12)
    @rule(mail=mails)
    def arrives_again(self, mail: Mail) -> None:
        """Mail of the same people, machines and upgrades comes in between."""
        self._take(values_of(mail))

    def _reread(self, variants: list[int]) -> list[MessageChange]:
        read: list[tuple[str, Message, Reading]] = []
        for n, (values, mail) in enumerate(self.taken):
            changed = VARIANTS[variants[n % len(variants)]]
            found = {k: v for k, v in values.items() if changed is None or k is not changed[0]}
            if changed is not None and changed[1] is not None:
                found[changed[0]] = changed[1]
            read.append((f"E{n + 1}", mail, reading(found)))
        return renew_messages(self.store, SETTINGS, read, write=True, scope={}, who="kim", why="")[0]

    @rule(variants=st.lists(st.integers(0, len(VARIANTS) - 1), min_size=1, max_size=5))
    def reread(self, variants: list[int]) -> None:
        """All is read anew: whose a message is by a person's word stays, and a second reading changes nothing."""
        settled = {e.subject for e in self.store.journal() if e.action == "settle" and e.undone_by is None}
        was = {m.id: (m.customer, m.machine) for m in self.store.messages()}
        self._reread(variants)
        now = {m.id: (m.customer, m.machine) for m in self.store.messages()}
        assert {ref: now[ref] for ref in settled} == {ref: was[ref] for ref in settled}
        assert all(now[ref] == was[ref] for ref in was if was[ref][0] is not None)
        again = self._reread(variants)
        assert [change.id for change in again if change.seen] == []

    def teardown(self) -> None:
        """Whatever of it can still be undone is, and the records are whole."""
        try:
            for entry in reversed(self.store.journal()):
                if entry.undone_by is None:
                    try:
                        undo(self.store, SETTINGS, entry.id, "kim", "back")
                    except SettlementRefused:
                        continue
            self.holds_together()
            assert self.store.integrity() == []
            assert self.store.journal_break() is None
            assert [str(finding) for finding in records_findings(self.store)] == []
        finally:
            self.store.close()
            shutil.rmtree(self.folder, ignore_errors=True)


def test_reading_anew_leaves_decisions_and_whole_records() -> None:
    """After any sequence with readings anew in between, decisions stand and the records agree with themselves."""
    run_state_machine_as_test(Rereading, settings=settings(BOUNDED, max_examples=8))


@pytest.mark.long
def test_reading_anew_leaves_decisions_and_whole_records_at_length() -> None:
    """The same with more and longer sequences."""
    more = settings(BOUNDED, max_examples=25, stateful_step_count=20)
    run_state_machine_as_test(Rereading, settings=more)
