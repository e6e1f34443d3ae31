"""`merge`, `split`, `handover`, `holder`, `undo`, `conflicts`, and the journal by record, person and day."""

from __future__ import annotations

import json
from datetime import UTC, datetime

from cli_world import Desk, _tidy, desk, empty

__all__ = ["_tidy", "desk", "empty"]


def _customers(desk: Desk) -> list[dict[str, object]]:
    return [record for record in desk("export").lines() if record["record"] == "customer"]


def test_merge_says_so_and_undo_brings_the_export_back(desk: Desk) -> None:
    """After a merge the second id leads to the first in every command and says so; undo restores the export."""
    before = desk("export").out
    names = desk("customer", "C2", "--json").json()["names"]
    done = desk("merge", "C1", "C2", "--sure", "--who", "kim", "--why", "one person", "--json").json()
    assert (done["customer"], done["merged"]) == ("C1", "C2")
    shown = desk("customer", "C2")
    assert shown.out.startswith("C1  ")
    assert "merged into it: C2" in shown.out
    assert shown.err == "C2 was merged into C1.\n"
    profile = desk("customer", "c2", "--json").json()
    assert profile["id"] == "C1" and profile["merged"] == ["C2"]
    assert set(names) <= set(profile["names"])  # type: ignore[call-overload]
    found = desk("search", "C2", "--json").json()["customers"]
    assert isinstance(found, list) and found[0]["id"] == "C1"
    assert "C2" not in [c["id"] for c in _customers(desk)]
    assert desk("merge", "C1", "C2", "--sure").code == 13
    undone = desk("undo", str(done["journal"]), "--who", "kim")
    assert undone.code == 0
    assert desk("export").out == before


def test_split_and_handover(desk: Desk) -> None:
    """A message split off makes a new customer; a machine handed over shows both holders; both can be undone."""
    before = desk("export").out
    merged = desk("merge", "C1", "C2", "--sure", "--json").json()
    records = [json.loads(line) for line in before.splitlines()]
    theirs = [r["id"] for r in records if r["record"] == "message" and r["customer"] == "C2"]
    every = [r["id"] for r in records if r["record"] == "message" and r["customer"] in ("C1", "C2")]
    assert desk("split", "C1", *every).code == 13
    parted = desk("split", "C1", *theirs, "--why", "two people", "--json").json()
    (names,) = [r["names"] for r in records if r["id"] == "C2" and r["record"] == "customer"]
    assert desk("customer", str(parted["to"]), "--json").json()["names"] == names
    machine = str(next(c for c in _customers(desk) if c["id"] == "C1")["machines"][0])  # type: ignore[index]
    handed = desk("handover", machine, "--to", "new", "--set", "customer_name=Runa Aldermoor", "--json").json()
    holders = desk("machine", machine, "--json").json()["holders"]
    assert isinstance(holders, list)
    assert [h["customer"] for h in holders][-2:] == ["C1", handed["customer"]]
    assert desk("restore", machine, "--json").json()["customer"] == handed["customer"]
    nobody = desk("handover", machine, "--to", "nobody", "--json").json()
    assert nobody["customer"] is None
    assert desk("restore", machine, "--json").json()["customer"] is None
    corrected = desk("holder", machine, "C1", "--from", "2019-05-01", "--json").json()
    assert corrected["from"] == "2019-05-01"
    journals = [str(done["journal"]) for done in (corrected, nobody, handed, parted, merged)]
    assert desk("undo", *journals).code == 0
    assert desk("export").out == before


def test_the_journal_answers_by_record_person_and_day(desk: Desk) -> None:
    """The lines of a merged customer, of one person and of one day; one line in full with its hash."""
    desk("merge", "C1", "C2", "--sure", "--who", "kim", "--why", "one person")
    desk("handover", "M3", "--to", "nobody", "--who", "ada")
    today = datetime.now(UTC).date().isoformat()
    assert [line["action"] for line in desk("journal", "C2", "--json").lines()] == ["merge"]
    assert [line["who"] for line in desk("journal", "--by", "Ada", "--json").lines()] == ["ada"]
    assert len(desk("journal", "--day", today, "--json").lines()) == 2
    assert desk("journal", "--until", "2020-01-01").out == "Nothing in the journal answers to that.\n"
    assert desk("journal", "--day", today, "--since", today).code == 2
    (line,) = desk("journal", "J2", "--json").lines()
    shown = desk("journal", "J2").out
    assert str(line["hash"]) in shown
    assert "holder: " in shown and "→ nothing" in shown


def test_conflicts_of_the_samples(desk: Desk) -> None:
    """The filed samples contradict themselves nowhere; what a person files knowingly is listed and needs no look."""
    assert desk("conflicts").out == "Nothing on record contradicts itself.\n"
    issued = desk.message("hetty-code-issued-again.eml")
    desk("triage", "settle", issued, "--customer", "C1", "--sure", "--who", "kim")
    listed = desk("conflicts", "--json")
    assert listed.code == 0
    found = listed.json()["conflicts"]
    assert isinstance(found, list) and len(found) == 1
    conflict = found[0]
    assert (conflict["code"], conflict["accepted_by"]) == ("code_conflict", "J1")


def test_verify_names_the_first_broken_line(desk: Desk) -> None:
    """A line of the journal changed in the file is found by `verify`, which names it and leaves with 6."""
    from sqlcipher3 import dbapi2

    desk("merge", "C1", "C2", "--sure", "--who", "kim")
    assert desk("verify").code == 0
    records = dbapi2.connect(str(desk.folder / "records.db"))
    records.execute("DROP TRIGGER journal_no_update")
    records.execute("UPDATE journal SET who = 'eve' WHERE id = 1")
    records.commit()
    records.close()
    outcome = desk("verify")
    assert outcome.code == 6
    assert "J1 is not as it was written." in outcome.out.replace("\n", " ")
