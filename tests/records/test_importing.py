"""A customer list into the records: who is new, known, or a question; nothing doubled, nothing merged by a guess."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, dump, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import CustomerList, Kind, ListRow, Question
from counterfoil.records.importing import ImportReport, import_customers
from counterfoil.records.listed import Listed
from counterfoil.records.people import People
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Give new records."""
    return Store(tmp_path / "records.db", create=True)


def row(
    line: int, name: str, email: str = "", phone: str = "", address: str = "", region: str | None = None
) -> ListRow:
    """Return a row of a list."""
    names, emails, phones, addresses = (((v,) if v else ()) for v in (name, email, phone, address))
    return ListRow(line, names, emails, phones, addresses, region)


def bring(store: Store, rows: Iterable[ListRow], write: bool = True, **more: object) -> ImportReport:
    """Import rows."""
    listed = CustomerList("list.csv", "utf-8", ",", {}, (), tuple(rows), ())
    return import_customers(store, SETTINGS, listed, write=write, who="Ada", why="start", **more)  # type: ignore[arg-type]


ILSE = row(2, "Ilse Aldermoor", "ilse@post.example", "020 7946 0101", "Lane 3, Orlop")


def test_a_dry_run_says_all_and_writes_nothing(store: Store) -> None:
    """Without writing, the report is the one a writing import gives, and no row of any table changes."""
    rows = [ILSE, row(3, "Runa Fjordal", "no address"), row(4, "Ilse Aldermor", phone="020 7946 0102")]
    before = dump(store)
    dry = bring(store, rows, write=False)
    assert (dump(store), store.journal(), dry.journal) == (before, [], None)
    done = bring(store, rows)
    assert ([n.line for n in dry.new], dry.questions, dry.bad) == ([2], done.questions, done.bad)


def test_values_go_through_the_normal_forms(store: Store) -> None:
    """Telephone numbers become E.164 by the row's country, else the shop's; e-mail addresses lower case; the line of
    the list stands as evidence."""
    bring(store, [ILSE, row(3, "Odile Chantrelle", "ODILE@Post.Example", "(202) 555-0143", region="US")])
    ilse, odile = store.customers()
    assert {n.fact.kind: n.fact.normal for n in ilse.facts}[Kind.PHONE_NUMBER] == "+442079460101"
    assert {n.fact.kind: n.fact.normal for n in odile.facts}[Kind.PHONE_NUMBER] == "+12025550143"
    assert store.find_contacts(Kind.EMAIL_ADDRESS, "odile@post.example") == [odile.id]
    assert odile.facts[0].fact.evidence == ("line 3 of the list",)


def test_a_known_customer_gets_what_they_lack(store: Store) -> None:
    """The same contact under an agreeing name adds the other contacts to that customer, and makes nobody new."""
    take(store, MARIT)
    report = bring(store, [row(2, "SOLVANG Marit", "marit@post.example", "020 7946 0103")])
    assert [(m.line, m.into, m.added) for m in report.merged] == [(2, "C1", ("020 7946 0103",))]
    (marit,) = store.customers()
    assert marit.values(Kind.PHONE_NUMBER) == ("020 7946 0103",)
    assert marit.values(Kind.CUSTOMER_NAME) == ("Marit Solvang",)


@pytest.mark.parametrize(
    ("other", "said"),
    [
        (row(2, "Jon Solvang", "marit@post.example"), "not under the name"),
        (row(2, "Marit Solvang", phone="020 7946 0104"), "no contact agrees"),
        (row(2, "M. Solvang", "m@other.example"), "no contact agrees"),
        (row(2, "Marita Solvang", "m@other.example"), "no contact agrees"),
        (row(2, "Nils Solvang", "n@other.example", address="Quay 1, Bandhafen"), "same postal address"),
    ],
)
def test_a_doubtful_row_is_a_question(store: Store, other: ListRow, said: str) -> None:
    """A row that is like a customer, and not surely them, is listed with the candidate; it makes and merges nothing."""
    take(store, values(MARIT, postal_address="Quay 1, Bandhafen"))
    before = dump(store)
    report = bring(store, [other])
    (asked,) = report.questions
    assert said in asked.question.sentence
    assert [c.ref for c in asked.question.candidates] == ["C1"]
    assert asked.question.candidates[0].evidence
    assert (dump(store), report.journal) == (before, None)


def test_a_father_and_a_son_of_one_name_are_two(store: Store) -> None:
    """ "Sr." behind a name makes it another person's than "Jr.", at the same address too: a person is asked."""
    bring(store, [row(2, "Hans Berg Sr.", "hans@post.example", address="Lane 3, Orlop")])
    report = bring(store, [row(2, "Hans Berg Jr.", "hans@post.example", address="Lane 3, Orlop")])
    assert [named.line for named in report.questions] == [2]
    assert len(store.customers()) == 1


def test_a_short_name_is_a_question(store: Store) -> None:
    """A row under the short form of a known given name, or of one earlier in the list, is a question, not somebody new
    beside them."""
    bring(store, [row(2, "Elizabeth Aldermoor", "e@post.example")])
    report = bring(
        store, [row(2, "Liz Aldermoor", "liz@post.example"), row(3, "William Fjordal"), row(4, "Bill Fjordal")]
    )
    assert [(q.line, q.question.candidates[0].ref) for q in report.questions] == [(2, "C1"), (4, "line 3")]


def test_look_alikes_in_the_list_itself_are_questions(store: Store) -> None:
    """A row like an earlier row of the same list is a question, too; one with its contact and name is the same."""
    again = row(4, "Ilse Aldermoor", "ilse@post.example", "020 7946 0109")
    report = bring(store, [ILSE, row(3, "Ilse Aldermoor", "other@post.example"), again])
    assert [q.line for q in report.questions] == [3]
    assert report.questions[0].question.candidates[0].ref == "line 2"
    assert [(m.line, m.into) for m in report.merged] == [(4, "line 2")]
    assert len(store.customers()) == 1


def test_a_person_answers_a_question(store: Store) -> None:
    """An answer files the row to the customer named, with its name as a further one, or makes a new one; repeating the
    import with the same answers changes nothing."""
    take(store, MARIT)
    rows = [row(2, "M. Solvang", "m@other.example"), row(3, "Marita Solvang", "r@other.example")]
    answers = {2: "C1", 3: "new"}
    report = bring(store, rows, answers=answers)
    assert (report.merged[0].into, report.new[0].customer, report.questions) == ("C1", "C2", [])
    assert store.customer("C1").values(Kind.CUSTOMER_NAME) == ("Marit Solvang", "M. Solvang")
    again = bring(store, rows, answers=answers)
    assert (again.changes, again.same, again.journal) == (False, 2, None)
    with pytest.raises(RecordUnknown):
        bring(store, rows, answers={2: "C9"})
    with pytest.raises(UsageProblem):
        bring(store, rows, answers={7: "new"})


def test_rows_vouched_for_as_distinct_are(store: Store) -> None:
    """Where a person vouches that all rows are different people, those alike make a profile each, those on record are
    still asked about, and the second import changes nothing."""
    take(store, MARIT)
    rows = [
        ILSE, row(3, "Ilse Aldermoor", "other@post.example"), row(4, "Jan Aldermoor", "ilse@post.example"),
        row(5, "Marit Solvang", phone="020 7946 0104"),
    ]  # fmt: skip
    report = bring(store, rows, distinct=True)
    assert ([n.line for n in report.new], [q.line for q in report.questions]) == ([2, 3, 4], [5])
    again = bring(store, rows, distinct=True)
    assert (again.changes, again.same) == (False, 3)


@pytest.mark.parametrize(
    ("bad", "reason"),
    [
        (ListRow(2, ()), "It has no name."),
        (row(2, "…"), "“…” is no name."),
        (row(2, "Ilse", "ilse at post"), "“ilse at post” is no e-mail address."),
        (row(2, "Ilse", "desk@shop.example"), "desk@shop.example is the shop's own address."),
        (row(2, "Ilse", phone="12"), "“12” is no telephone number."),
        (row(2, "Ilse", address="-"), "“-” is no postal address."),
        (row(2, "Il\x07se"), "“Ilse” holds characters that are no text."),
        (row(2, "I" * 301), "“IIIIIIIIIIIIIIIIIIII…” has more than 300 characters."),
        (
            ListRow(2, ("Ilse",), (), ("030 901820",), country="Nowhere"),
            "The country “Nowhere” is not known, so the telephone number 030 901820 needs its +code.",
        ),
    ],
)
def test_a_bad_row_says_why(store: Store, bad: ListRow, reason: str) -> None:
    """A row with a value that is none of its kind is left out with the reason; the row after it is taken."""
    report = bring(store, [bad, row(3, "Runa Fjordal", "runa@post.example")])
    assert [(b.line, b.reason) for b in report.bad] == [(2, reason)]
    assert [n.line for n in report.new] == [3]


def test_one_line_of_the_journal_takes_all_back(store: Store) -> None:
    """An import is one line that names the file; undoing it brings back every row as it was."""
    take(store, MARIT)
    before = dump(store)
    report = bring(store, [ILSE, row(3, "Marit Solvang", "marit@post.example", "020 7946 0103")])
    (entry,) = store.journal()
    assert (entry.id, entry.action, entry.who, entry.why) == (report.journal, "import", "Ada", "start")
    assert (entry.detail["file"], entry.detail["new"], entry.detail["merged"]) == ("list.csv", 1, [[3, "C1"]])
    undo(store, SETTINGS, entry.id, "Ada", "wrong file")
    assert dump(store) == before


def test_what_came_later_keeps_an_imported_customer(store: Store) -> None:
    """A customer to whom mail was filed after the import stays when it is undone, with what the mail says."""
    bring(store, [row(2, "Marit Solvang", "marit@post.example", "020 7946 0103")])
    assert take(store, MARIT)[1].customer == "C1"
    undo(store, SETTINGS, "J1", "Ada", "")
    (marit,) = store.customers()
    assert (marit.id, marit.values(Kind.PHONE_NUMBER)) == ("C1", ())
    assert marit.name == "Marit Solvang"


def test_an_import_is_not_undone_under_a_settlement(store: Store) -> None:
    """An import whose customer a settlement took a message away from is undone only after that settlement."""
    bring(store, [row(2, "Marit Solvang", "marit@post.example")])
    ref, _ = take(store, MARIT)
    settle(store, SETTINGS, ref, customer="new", sure=True, who="Ada", why="")
    with pytest.raises(SettlementRefused, match="rests on it"):
        undo(store, SETTINGS, "J1", "Ada", "")
    undo(store, SETTINGS, "J2", "Ada", "")
    undo(store, SETTINGS, "J1", "Ada", "")
    assert store.customer("C1").messages == (ref,)


def test_mail_is_filed_to_an_imported_customer(store: Store) -> None:
    """A confirmation with the contact and name of a row is filed to its customer: no second profile."""
    bring(store, [row(2, "Marit Solvang", "marit@post.example")])
    assert take(store, MARIT)[1].customer == "C1"
    assert len(store.customers()) == 1


def test_what_is_written_while_a_list_is_held_against_the_records_counts(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who comes on record between deciding and writing is not made twice: the rows are held against the records anew.
    Nobody who writes has to wait for the deciding."""
    find = People.find
    waiting = [another(9, customer_name="Ilse Aldermoor", email_address="ilse@post.example")]

    def meanwhile(people: People, row: Listed) -> int | Question | None:
        found = find(people, row)
        if waiting:
            desk = threading.Thread(target=take, args=(store, waiting.pop()))
            desk.start()
            desk.join(20)
            assert not desk.is_alive()
        return found

    monkeypatch.setattr(People, "find", meanwhile)
    report = bring(store, [row(2, "Ilse Aldermoor", "ilse@post.example")])
    assert (report.new, report.same, report.journal) == ([], 1, None)
    assert [c.name for c in store.customers()] == ["Ilse Aldermoor"]
