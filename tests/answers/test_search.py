"""The one box."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from search_world import MARIT, SECRETS, Shop

from counterfoil.answers.search import SearchAnswer, Wanted, resolve, search
from counterfoil.answers.search_text import take_apart
from counterfoil.errors import NeedsALook, RecordUnknown
from counterfoil.index import Index
from counterfoil.model import IndexEntry
from counterfoil.patterns.normal import normal_code


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """One shop for all tests; a search changes nothing."""
    made = Shop(tmp_path_factory.mktemp("shop"))
    yield made
    made.store.close()


def ask(shop: Shop, text: str, limit: int = 10) -> SearchAnswer:
    """Search the shop."""
    return search(shop.store, shop.index, text, settings=shop.settings, limit=limit)


def ids(answer: SearchAnswer) -> tuple[list[str], list[str], list[str]]:
    """Return the ids of customers, machines and messages, in order."""
    return [c.id for c in answer.customers], [m.id for m in answer.machines], [m.id for m in answer.messages]


@pytest.mark.parametrize(
    ("text", "customers", "machines", "understood"),
    [
        ("C1", ["C1"], ["M1"], "reference"),
        ("c3", ["C3"], ["M3"], "reference"),
        ("M2", ["C2"], ["M2"], "reference"),
        ("E1", ["C1"], ["M1"], "reference"),
        ("marit@solvang.example", ["C1"], ["M1"], "e-mail"),
        ("Marit Solvang <MARIT@Solvang.example>", ["C1"], ["M1"], "e-mail"),
        ("01632 960555", ["C3"], ["M3"], "telephone"),
        ("+44 1632 960 555", ["C3"], ["M3"], "telephone"),
        ("(01632) 960-555", ["C3"], ["M3"], "telephone"),
        ("0044 1632 960555", ["C3"], ["M3"], "telephone"),
        ("+44 20 7946 0123", ["C1", "C2"], ["M1", "M2"], "telephone"),
        ("VM-204817-K", ["C1"], ["M1"], "code of 9"),
        ("vm 204817 k", ["C1"], ["M1"], "code of 9"),
        ("7K5SUV6G99L144TT", ["C1"], ["M1"], "code of 16"),
        ("817K", ["C1"], ["M1"], "last 4 characters"),
        ("44tt", ["C1"], ["M1"], "last 4 characters"),
        ("700551203", ["C1"], ["M1"], "code of 9"),
        ("NW 4410 8826 35", ["C4"], ["M3"], "code of 12"),
        ("marit", ["C1"], ["M1"], "name"),
        ("solv", ["C1", "C2"], ["M1", "M2"], "name"),
        ("SOLVANG Marit", ["C1"], ["M1"], "name"),
        ("Bruckwald", ["C3"], ["M3"], "name"),
        ("Corvina", ["C1", "C2"], ["M1", "M2"], "model"),
        ("vellamar corvina 500", ["C2"], ["M2"], "model"),
        ("solvang corvina 500", ["C2"], ["M2"], "name and a maker or model"),
    ],
)
def test_it_finds_out_what_it_was_given(
    shop: Shop, text: str, customers: list[str], machines: list[str], understood: str
) -> None:
    """References, addresses, numbers, codes whole or by their end, names and models each find their own, and say so."""
    answer = ask(shop, text)
    assert ids(answer)[:2] == (customers, machines)
    assert understood in answer.understood
    assert answer.understood.startswith("Taken as ") and answer.understood.endswith(".")


def test_words_find_messages_with_snippets(shop: Shop) -> None:
    """Words find messages, the words marked in a snippet; nobody is taken for found by words alone."""
    answer = ask(shop, "hoop library")
    assert ids(answer) == ([], [], ["E5", "E1"])
    assert "\x02hoop\x03 \x02library\x03" in answer.messages[0].snippet
    assert "words" in answer.understood


def test_the_query_language_is_passed_on(shop: Shop) -> None:
    """Fields, dates, phrases and beginnings restrict the messages."""
    assert ids(ask(shop, "hoop date:2025-11")) == ([], [], ["E5"])
    assert ids(ask(shop, '"quilting set"')) == ([], [], ["E2"])
    assert ids(ask(shop, "subject:freischaltung")) == ([], [], ["E3"])
    assert ids(ask(shop, "thread*")) == ([], [], ["E4"])


def test_words_that_no_message_has_all_of_find_some(shop: Shop) -> None:
    """Where no message has all the words, those that have some are shown, and it is said."""
    answer = ask(shop, "hoop threader")
    assert set(ids(answer)[2]) == {"E1", "E4", "E5", "E6"}
    assert "no message has all" in answer.understood


def test_open_messages_are_found_by_the_name_in_them(shop: Shop) -> None:
    """A message that belongs to nobody yet is found by sender and words."""
    assert ids(ask(shop, "Gansewinkel")) == ([], [], ["E6"])
    assert ids(ask(shop, "fenja@ganse.example"))[2] == ["E6"]
    assert ask(shop, "Gansewinkel").messages[0].standing == "open"


def test_messages_of_what_was_found_are_listed_newest_first(shop: Shop) -> None:
    """With a customer or machine come their messages, the newest first."""
    assert ids(ask(shop, "C1"))[2] == ["E5", "E1"]
    assert ids(ask(shop, "VM-204817-K"))[2][:2] == ["E1", "E5"]
    assert ids(ask(shop, "+44 1632 960555"))[2] == ["E3"]


def test_the_limit_holds_in_every_group(shop: Shop) -> None:
    """No group is longer than asked for."""
    answer = ask(shop, "solvang", limit=1)
    assert [len(group) for group in ids(answer)] == [1, 1, 1]


def test_a_former_holder_is_marked(shop: Shop) -> None:
    """Who had a machine finds it, marked as former; its holder is the present one."""
    answer = ask(shop, "Ilse Brückwald")
    (machine,) = answer.machines
    assert (machine.id, machine.customer, machine.former, machine.certain) == ("M3", "C4", True, False)
    assert answer.customers[0].machines == ()


def test_a_code_with_slips_finds_what_is_near(shop: Shop) -> None:
    """Wrong characters are forgiven, and said in words, for codes that are no secret."""
    answer = ask(shop, "VM-2O4817-X")
    assert ids(answer)[:2] == (["C1"], ["M1"])
    assert "nearly the same" in answer.machines[0].why
    assert "character 4 is 0, not O" in answer.machines[0].why
    assert not answer.machines[0].certain and not answer.customers[0].certain


def test_a_secret_code_with_slips_is_not_spelt_out(shop: Shop) -> None:
    """Of a product key near the one typed, it is not said which characters differ."""
    answer = ask(shop, "SP2B-8XO0-ZZ13")
    assert [m.id for m in answer.machines] == ["M1"]
    assert "character" not in answer.machines[0].why.replace("characters", "")


def test_a_code_nobody_has(shop: Shop) -> None:
    """A code that is nowhere gives empty groups and says so."""
    answer = ask(shop, "QQ-999999-Q")
    assert ids(answer) == ([], [], [])
    assert "a code that nobody has" in answer.understood


@pytest.mark.parametrize("text", ["", "   ", "?!", "zzz yyy"])
def test_nothing_is_found_for_nothing(shop: Shop, text: str) -> None:
    """Empty input and words nobody wrote find nothing."""
    assert ids(ask(shop, text)) == ([], [], [])
    assert ask(shop, text).understood.endswith(".")


QUESTIONS = ["C1", "M1", "E6", "marit", "hoop", "please help code", "sp2b8xq0zz12", "1CKX", "P0PPYS331CKX", "ZZ12 hoop",
             "fenja", "subject:help", "SP2B-8XQ0-ZZ13", *SECRETS, *(s[:-1] + "9" for s in SECRETS)]  # fmt: skip


@pytest.mark.parametrize("text", QUESTIONS)
def test_secret_codes_are_always_masked(shop: Shop, text: str) -> None:
    """Whatever is asked, no product key or activation code is in the answer, as written or in normal form."""
    answer = ask(shop, text)
    shown = json.dumps(answer.to_json(), ensure_ascii=False) + "".join(m.snippet for m in answer.messages)
    for secret in SECRETS:
        assert secret not in shown
        assert normal_code(secret) not in normal_code(shown)


def test_the_contract_holds(shop: Shop) -> None:
    """The JSON has the keys of the machine-readable contract, and can be written as JSON."""
    found = json.loads(json.dumps(ask(shop, "marit solvang").to_json()))
    assert list(found) == ["understood", "customers", "machines", "messages"]
    assert {"id", "name"} <= set(found["customers"][0])
    assert {"id", "maker", "model", "customer"} <= set(found["machines"][0])
    assert {"id", "subject", "received"} <= set(found["messages"][0])
    assert found["customers"][0]["name"] == "Marit Solvang"
    assert found["machines"][0] | {"why": ""} == {
        "id": "M1", "maker": "Vellamar", "model": "Corvina 700", "customer": "C1", "serial_number": "700551203",
        "machine_id": "VM-204817-K", "former": False, "why": "", "certain": True,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "wanted", "expected"),
    [
        ("C1", "customer", "C1"),
        ("m1", "machine", "M1"),
        ("E2", "message", "E2"),
        ("C1", "machine", "M1"),
        ("M3", "customer", "C4"),
        ("E2", "machine", "M2"),
        ("marit", "machine", "M1"),
        ("odile@solvang.example", "customer", "C2"),
        ("01632960555", "customer", "C3"),
        ("817k", "machine", "M1"),
        ("teun", "machine", "M3"),
        ("solvang corvina 500", "customer", "C2"),
        ("solvang corvina 500", "machine", "M2"),
    ],
)
def test_one_record_is_resolved(shop: Shop, text: str, wanted: Wanted, expected: str) -> None:
    """An id, or a text that exactly one record answers to for certain, gives that record."""
    assert resolve(shop.store, shop.index, text, wanted, settings=shop.settings) == expected


@pytest.mark.parametrize(
    ("text", "wanted", "candidates"),
    [
        ("solvang", "customer", ["C1", "C2"]),
        ("solvang", "machine", ["M1", "M2"]),
        ("+44 20 7946 0123", "customer", ["C1", "C2"]),
        ("corvina", "machine", ["M1", "M2"]),
        ("VM-204817-X", "machine", ["M1"]),
        ("NW441088", "machine", ["M3"]),
        ("8i7K", "machine", ["M1"]),
        ("marid@solvang.example", "customer", ["C1"]),
        ("solvang.example", "customer", ["C1", "C2"]),
        ("01632 960556", "customer", ["C3"]),
        ("Zolfank", "customer", ["C1", "C2"]),
        ("etude 12 2019", "machine", ["M3"]),
        ("vellamar corvena 500", "machine", ["M2"]),
        ("VM-204817-X", "customer", ["C1"]),
        ("Marid Solvang", "customer", ["C1"]),
        ("marit hoop", "customer", ["C1"]),
        ("Ilse Brückwald", "machine", ["M3"]),
        ("solvang etüde 12", "machine", ["M1", "M2", "M3"]),
    ],
)
def test_several_or_merely_alike_needs_a_look(shop: Shop, text: str, wanted: Wanted, candidates: list[str]) -> None:
    """Several records, or one that is only alike or was held before, are named with their ids, never chosen from."""
    with pytest.raises(NeedsALook) as caught:
        resolve(shop.store, shop.index, text, wanted, settings=shop.settings)
    assert [c.ref for c in caught.value.candidates] == candidates
    for candidate in caught.value.candidates:
        assert candidate.ref in str(caught.value)
        assert candidate.label in str(caught.value)


def test_one_of_several_never_passes_for_the_only_one(shop: Shop) -> None:
    """A limit of one candidate does not make one of two customers the answer."""
    with pytest.raises(NeedsALook):
        resolve(shop.store, shop.index, "solvang", "customer", settings=shop.settings, limit=1)


@pytest.mark.parametrize("text", ["C99", "QQ-999999-Q", "hoop library", "nobody@nowhere.example", "", "J1"])
def test_nothing_is_resolved_to_nothing(shop: Shop, text: str) -> None:
    """Where no customer answers it is said; words in messages make no customer."""
    with pytest.raises(RecordUnknown):
        resolve(shop.store, shop.index, text, "customer", settings=shop.settings)


@pytest.mark.parametrize("text", ["", "hoop "])
def test_an_unknown_code_is_not_repeated(shop: Shop, text: str) -> None:
    """The message for a code that nobody has does not print the code typed: it may be a key."""
    with pytest.raises(RecordUnknown) as caught:
        resolve(shop.store, shop.index, f"{text}SP2B-8XQ0-QQQQ-77", "customer", settings=shop.settings)
    assert "SP2B" not in str(caught.value)


def test_a_damaged_index_is_built_anew(tmp_path: Path) -> None:
    """A search over a damaged index answers all the same."""
    shop = Shop(tmp_path)
    segment = next((tmp_path / "index").glob("*.seg"))
    segment.write_bytes(segment.read_bytes()[:100])
    shop.index = type(shop.index)(tmp_path / "index")
    assert ids(ask(shop, "hoop library"))[2] == ["E5", "E1"]
    assert shop.index.check() == []
    shop.store.close()


def test_an_index_behind_the_records_catches_up(tmp_path: Path) -> None:
    """Messages that came after the last catch-up, or an index that was deleted, are found all the same."""
    shop = Shop(tmp_path)
    shop.write(MARIT, "Bobbin", "The bobbin winder is loud.", "2025-12-24", "C1", "M1")
    assert ids(ask(shop, "bobbin winder"))[2] == ["E7"]
    shutil.rmtree(tmp_path / "index")
    assert ids(ask(shop, "bobbin winder"))[2] == ["E7"]
    shop.store.close()


def test_an_index_somebody_writes_to_is_asked_as_it_is(tmp_path: Path) -> None:
    """While another run writes to the index, what is in it is searched, and that the newest is missing is said."""
    shop = Shop(tmp_path)
    shop.write(MARIT, "Bobbin", "The bobbin winder and the hoop library are loud.", "2025-12-24", "C1", "M1")
    answers: list[SearchAnswer] = []

    def fetch(after: int, limit: int) -> list[IndexEntry]:
        answers.append(ask(shop, "hoop library"))
        return shop.store.index_entries(after, limit)

    assert Index(tmp_path / "index").catch_up(fetch) == 1
    assert ids(answers[0])[2] == ["E5", "E1"]
    assert "not in the full-text index yet" in answers[0].understood
    assert "E7" in ids(ask(shop, "hoop library"))[2]
    shop.store.close()


#: Words that are something to a query, a database, a shell or a terminal.
SIGNS = (
    "'", '"', '""', "\\", "%", "_", "*", "?", "[", "]", "(", ")", "{", "}", "~", "^", "|", "&", ";", "--", "/*", "`",
    "$(x)", "AND", "OR", "NOT", "TO", "NEAR", "date:", "date:[", "date:99999", "subject:(", "body:*", "maker:",
    "lang:xx", "id:1", "'; DROP TABLE fact; --", "1 OR 1=1", "%00", "\x00", "\x1b[31m", "\u202e", "\ufeff", "\ud800",
    "\U0001f9f5", "\u0130", "ß", "ﬁ", "½", "٣٤", "Ⅷ", "a\u0301", "@", "@@", "a@", "@b", "a@b", "+", "+44", "0044",
    "(0)", "C0", "C1", "M999999999", "E1E1", "kilo", "double", "triple", "x", "ray", "march", "0000", "9999-99-99",
    "2025-13-41", "31.02.2025", "march 0", "marit", "solvang", "corvina", "817K", "VM-204817-K", "7K5S", "hoop",
)  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(max_size=40), st.lists(st.sampled_from(SIGNS), max_size=8).map(" ".join),
                 st.lists(st.sampled_from(SIGNS), max_size=6).map("".join)))  # fmt: skip
def test_no_input_raises(shop: Shop, text: str) -> None:
    """Whatever is typed gives an answer with a plain sentence, in JSON too, and never a code."""
    answer = ask(shop, text)
    assert answer.understood.endswith(".") and answer.understood.isprintable()
    shown = json.dumps(answer.to_json())
    assert not any(secret in shown for secret in SECRETS)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.sampled_from(SIGNS), max_size=6).map(" ".join), st.sampled_from(["customer", "machine", "message"]))
def test_no_reference_raises(shop: Shop, text: str, wanted: Wanted) -> None:
    """As a reference it gives one record, names candidates, or says that there is none."""
    try:
        found = resolve(shop.store, shop.index, text, wanted, settings=shop.settings)
    except NeedsALook as error:
        assert error.candidates
    except RecordUnknown as error:
        assert str(error)
    else:
        assert found[0] == {"customer": "C", "machine": "M", "message": "E"}[wanted]


@pytest.mark.parametrize(
    "text", ["x" * 1_000_000, "ab12 " * 100_000, "(" * 10_000, '"' * 9_999, "solvang* " * 2_000, "\x00" * 5_000,
             "kilo " * 50_000, "1" * 100_000, "2025-01-01 " * 9_000, "a@b.example " * 5_000, "NOT " * 4_000]
)  # fmt: skip
def test_no_length_raises(shop: Shop, text: str) -> None:
    """A text of any length gives an answer."""
    assert ask(shop, text).understood.endswith(".")


def test_signs_of_a_query_by_accident(shop: Shop) -> None:
    """Where a query finds nothing, its words are taken as they are: quotes around a name, a star behind a number."""
    assert ids(ask(shop, '"Marit Solvang"'))[0] == ["C1"]
    assert ids(ask(shop, "VM-204817-K*"))[1] == ["M1"]
    assert ids(ask(shop, "sender:817K"))[1] == ["M1"]
    assert "tablets" not in ask(shop, "hoop NOT library").understood


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("AB12 CD34", ["AB12CD34", "AB12", "CD34"]),
        ("activated with K4TZ-9QWX", ["WITHK4TZ9QWX", "K4TZ9QWX"]),
        ("kltz", ["KLTZ"]),
        ("sewing machine", []),
        ("12", []),
    ],
)
def test_stretches_that_may_be_codes(text: str, codes: list[str]) -> None:
    """Groups of a code may stand apart; words of a sentence are no codes; the longest stretch comes first."""
    typed = take_apart(text, "GB", lambda ref: False)
    assert [code.normal for code in typed.codes] == codes
