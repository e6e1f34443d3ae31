"""The lists the shop works from, each counted by hand for an archive of a few machines."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from answers_world import MAKER, MARIT, MARIT_SWAPPED, MODEL, Desk, fact

from counterfoil.answers.guides import EntryGuide, UpgradeGuide
from counterfoil.answers.lists import Listing, Part, harmless
from counterfoil.answers.lists_firmware import CAUTION, firmware, latest_firmware, versions
from counterfoil.answers.lists_gaps import keys, proof, weeks
from counterfoil.answers.lists_upgrades import upgrades
from counterfoil.errors import UsageProblem
from counterfoil.model import Kind
from counterfoil.records.bench import record
from counterfoil.records.handover import hand_over
from counterfoil.records.settling import settle

NAMES = ("Ada Birkeland", "Bero Castello", "Cosima Dahlgren", "Dorian Eberly", "Esme Fairholt", "Finn Garstang")
GUIDES = (
    EntryGuide(
        MAKER,
        upgrades=(
            UpgradeGuide("Stitch Pack 2", ("Stichpaket 2",), key_prefix="SP"),
            UpgradeGuide("Broderie Étoilée", needs_firmware="2.60", key_prefix="BE"),
        ),
    ),
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Give empty records."""
    return Desk(tmp_path)


def machine(desk: Desk, number: int, version: str | None = None, **more: str | None) -> str:
    """File a confirmation for another machine of another customer; return the machine's id."""
    codes = {
        Kind.CUSTOMER_NAME: NAMES[number],
        Kind.EMAIL_ADDRESS: f"{NAMES[number].split()[0].lower()}@post.example",
        Kind.MACHINE_ID: f"VM-{number + 3}{number * 7919 + 50111:05}-C",
        Kind.SERIAL_NUMBER: f"70{number}-{number * 31 + 11}-{number * 977 + 1203:04}",
        Kind.PRODUCT_KEY: f"SP{number}X-8{number}Q{number * 3}-Z{number}9K",
        Kind.ACTIVATION_CODE: f"{number}KA{number * 5}-UV{number}G-9{number}L1-{number * 7}TT{number}",
    }
    changed = {Kind(kind): value for kind, value in more.items()} | {Kind.FIRMWARE_VERSION: version}
    found = MARIT | codes | {k: v for k, v in changed.items() if v is not None}
    ref = desk.confirm({k: v for k, v in found.items() if k not in changed or changed[k] is not None})
    filed = desk.store.message(ref).machine
    assert filed is not None, desk.decision
    return filed


def column(listing: Listing, name: str, part: int = 0) -> list[object]:
    """Return a column of a part."""
    return [row[name] for row in listing.parts[part].rows]


# --- firmware -----------------------------------------------------------------------------------------


def test_below_a_version_is_compared_as_versions(desk: Desk) -> None:
    """2.9 is below 2.10 and 2.10a is not; a machine without a version is listed apart, and none is lost."""
    for number, version in enumerate(("2.9", "2.10", None, "V2.1", "2.40")):
        machine(desk, number, version)
    found = firmware(desk.store, model=MODEL, below="2.10a")
    assert column(found, "firmware") == ["V2.1", "2.9", "2.10"]
    assert column(found, "machine", 1) == ["M3"]
    assert [part.group for part in found.parts] == ["below 2.10a", "not known"]
    everything = firmware(desk.store, model=MODEL)
    assert sum(len(part.rows) for part in everything.parts) == 5


def test_contacts_are_those_of_the_present_holder(desk: Desk) -> None:
    """After a handover the new holder is written to; a machine in nobody's hands stays in the list and is counted."""
    machine(desk, 0, "2.9")
    machine(desk, 1, "2.9")
    values = [fact(Kind.CUSTOMER_NAME, "Gus Harrow"), fact(Kind.EMAIL_ADDRESS, "gus@post.example")]
    today = date(2025, 1, 1)
    hand_over(desk.store, desk.settings, "M1", "new", on=today, facts=values, who="kim", why="sold")
    hand_over(desk.store, desk.settings, "M2", "nobody", on=today, who="kim", why="traded in")
    found = firmware(desk.store, model=MODEL, below="2.10")
    assert column(found, "email") == ["gus@post.example", ""]
    assert column(found, "name") == ["Gus Harrow", ""]
    assert found.notes == ("1 machine of these is in nobody's hands.", CAUTION)


def test_the_firmware_noted_last_counts(desk: Desk) -> None:
    """An update noted at the bench takes a machine off the list; letters behind the numbers are kept."""
    machine(desk, 0, "2.9")
    ident = [fact(Kind.SERIAL_NUMBER, desk.store.machine("M1").values(Kind.SERIAL_NUMBER)[0])]
    record(
        desk.store,
        desk.settings,
        customer=None,
        facts=ident,
        firmware_before="2.9",
        firmware_after="2.10b",
        who="kim",
        why="",
    )
    latest = latest_firmware(desk.store.machine("M1"))
    assert latest is not None and (latest.written, latest.source) == ("2.10b", "J1")
    assert firmware(desk.store, model=MODEL, below="2.10b").rows == ()
    assert column(firmware(desk.store, model=MODEL, below="2.10c"), "noted_in") == ["J1"]


def test_a_model_is_named_whole(desk: Desk) -> None:
    """Corvina 70 is not Corvina 700; case, accents and the maker in front do not matter; unknown models are told."""
    machine(desk, 0, "2.9")
    machine(desk, 1, "2.9", model="Corvina 70")
    machine(desk, 2, "2.9", model=None)
    for name in ("corvina 700", "CORVINA700", f"{MAKER} Corvina 700"):
        found = firmware(desk.store, model=name, below="3")
        assert column(found, "machine") == ["M1"], name
        assert found.notes == ("Not looked at, as no model is on record: 1 machine (M3).", CAUTION)
    nothing = firmware(desk.store, model="Corvina 7", below="3")
    assert nothing.rows == ()
    assert nothing.empty == (
        f"No machine of Corvina 7 is on record. Models on record: {MAKER}, {MAKER} Corvina 70, {MAKER} Corvina 700."
    )


def test_an_empty_answer_is_a_sentence(desk: Desk) -> None:
    """Nothing below the version, or nothing on record at all, is said."""
    assert firmware(desk.store).empty == "No machine of all makers and models is on record."
    machine(desk, 0, "2.9")
    found = firmware(desk.store, model=MODEL, below="2.9")
    assert found.empty == f"No {MODEL} on record has firmware below 2.9."
    assert found.to_json()["notes"] == [found.empty]


@pytest.mark.parametrize(
    ("model", "below", "said"), [(None, "2.10", "one model"), (MODEL, "new", "no firmware version")]
)
def test_wrong_questions_about_firmware(desk: Desk, model: str | None, below: str, said: str) -> None:
    """Versions are compared within one model only, and with a version."""
    with pytest.raises(UsageProblem, match=said):
        firmware(desk.store, model=model, below=below)


def test_machines_by_version(desk: Desk) -> None:
    """Machines are counted by model and version in the order of versions, those not known last; 2.10 is V2.10."""
    for number, version in enumerate(("2.10", "2.9", None, "V2.10")):
        machine(desk, number, version)
    found = versions(desk.store)
    assert list(zip(column(found, "firmware"), column(found, "machines"), strict=True)) == [
        ("2.9", 1),
        ("2.10", 2),
        ("not known", 1),
    ]
    assert found.chart is not None
    assert found.chart.names[0] == f"{MAKER} {MODEL}: 2.9"
    one = firmware(desk.store, model=MODEL, below="2.10").chart
    assert one is not None
    assert one.to_json()["2.10"] == {"below 2.10": 0, "2.10 or newer": 2, "not known": 0}
    assert one.to_json()["not known"] == {"below 2.10": 0, "2.10 or newer": 0, "not known": 1}


# --- upgrades -----------------------------------------------------------------------------------------


def test_machines_without_the_current_upgrade(desk: Desk) -> None:
    """The last upgrade of the maker file is the current one; another is asked for by any of its names."""
    machine(desk, 0)
    machine(desk, 1, upgrade_name="broderie etoilee", product_key="BE11-5555-C3C3")
    machine(desk, 2, "2.40", maker="Ostrava Nova")
    found = upgrades(desk.store, GUIDES)
    assert column(found, "machine") == ["M1"]
    assert (column(found, "upgrade"), column(found, "has")) == (["Broderie Étoilée"], ["Stitch Pack 2"])
    assert column(found, "needs_firmware") == ["2.60"]
    assert found.notes == ("Not looked at, as no maker file lists upgrades for them: 1 machine (Ostrava Nova 1).",)
    assert column(upgrades(desk.store, GUIDES, upgrade="STICHPAKET 2"), "machine") == ["M2"]
    assert found.chart is not None
    assert found.chart.to_json()[f"{MAKER}: Broderie Étoilée"] == {"have it": 1, "not on record": 1}


def test_an_upgrade_nobody_can_name_is_listed_apart(desk: Desk) -> None:
    """Without a name the key tells; where neither does, the machine is listed apart."""
    machine(desk, 0, upgrade_name=None, product_key="BE77-1234-C3C3")
    machine(desk, 1, upgrade_name="Garden of Hems", product_key="ZZ77-1234-C3C3")
    found = upgrades(desk.store, GUIDES)
    assert found.rows == ()
    assert column(found, "machine", 1) == ["M2"]


def test_an_upgrade_for_the_board_before_was_bought(desk: Desk) -> None:
    """A machine whose board was swapped still has its upgrade."""
    desk.confirm(MARIT)
    ref = desk.confirm(MARIT_SWAPPED, day="2025-01-20")
    settle(desk.store, desk.settings, ref, customer="C1", machine="M1", sure=True, who="kim", why="")
    assert upgrades(desk.store, GUIDES, upgrade="Stitch Pack 2").rows == ()


def test_upgrades_nobody_sells(desk: Desk) -> None:
    """An unknown name is refused with the known ones; without maker files that is said."""
    with pytest.raises(UsageProblem, match="Stitch Pack 2, Broderie"):
        upgrades(desk.store, GUIDES, upgrade="Stitch Pack 3")
    assert upgrades(desk.store, ()).empty == "No machine on record is of a maker whose file lists upgrades."


# --- proof, keys, weeks -------------------------------------------------------------------------------


def test_machines_without_proof_of_purchase(desk: Desk) -> None:
    """A message that names the day or the invoice is proof; a day only said at the desk is listed apart."""
    machine(desk, 0)
    machine(desk, 1, purchase_date=None)
    machine(desk, 2, purchase_date=None, invoice_number="RE-2025-0042")
    machine(desk, 3, purchase_date=None)
    serial = desk.store.machine("M4").values(Kind.SERIAL_NUMBER)[0]
    said = [fact(Kind.SERIAL_NUMBER, serial), fact(Kind.PURCHASE_DATE, "2024-05-01")]
    record(desk.store, desk.settings, customer=None, facts=said, who="kim", why="")
    found = proof(desk.store)
    assert column(found, "machine") == ["M2"]
    assert column(found, "on_record") == ["nothing"]
    assert column(found, "machine", 1) == ["M4"]
    assert column(found, "on_record", 1) == ["purchase date 2024-05-01, said at the desk (J1)"]
    assert proof(desk.store, model="Corvina 9").empty == "No machine is on record."


def test_keys_seen_twice(desk: Desk) -> None:
    """A key on two machines is one number with both, masked; with an open message that asks about it; else nothing."""
    assert keys(desk.store).empty == "No product key or activation code is on more than one machine."
    machine(desk, 0, product_key="SP2B-8XQ0-ZZ12")
    machine(desk, 1)
    assert keys(desk.store).rows == ()
    asked = desk.confirm(MARIT, day="2024-03-01")
    found = keys(desk.store)
    assert column(found, "source") == ["E1", f"{asked} (open)"]
    assert column(found, "machine") == ["M1", ""]
    assert found.notes[-1].endswith(f"counterfoil triage show {asked}")
    settle(desk.store, desk.settings, asked, customer="new", sure=True, who="kim", why="")
    found = keys(desk.store)
    assert column(found, "machine") == ["M1", "M3"]
    assert column(found, "number") == [1, 1]
    assert column(found, "code") == ["••••-••••-ZZ12"] * 2
    assert "8XQ0" not in json.dumps(found.to_json()) + found.to_csv()


def test_the_same_key_for_the_same_machine_is_no_second_time(desk: Desk) -> None:
    """A second delivery of a confirmation, and a new board's code for the same key, are not in the list."""
    desk.confirm(MARIT)
    ref = desk.confirm(MARIT_SWAPPED, day="2025-01-20")
    settle(desk.store, desk.settings, ref, customer="C1", machine="M1", sure=True, who="kim", why="")
    assert keys(desk.store).rows == ()


def test_messages_per_week(desk: Desk) -> None:
    """Each week is a row, empty ones too, and a group of bars; without any message that is said."""
    empty = weeks(desk.store, today=date(2024, 1, 31), number=2)
    assert empty.notes == ("No message was received in these weeks.",)
    machine(desk, 0)
    found = weeks(desk.store, today=date(2024, 1, 31), number=3)
    assert [(row["week"], row["from"], row["came_in"], row["filed"]) for row in found.rows] == [
        ("2024-W03", "2024-01-15", 1, 1),
        ("2024-W04", "2024-01-22", 0, 0),
        ("2024-W05", "2024-01-29", 0, 0),
    ]
    assert found.chart is not None
    assert found.chart.to_json()["2024-W03"] == {"filed": 1, "open": 0, "aside": 0}


# --- CSV ----------------------------------------------------------------------------------------------


def read(text: str, delimiter: str = ",") -> list[list[str]]:
    """Read CSV with the standard library."""
    return list(csv.reader(io.StringIO(text), delimiter=delimiter))


def test_csv_has_all_rows_and_their_group(desk: Desk) -> None:
    """The mailing has every machine, the group in its last column, and headings a merge can use."""
    machine(desk, 0, "2.9")
    machine(desk, 1)
    rows = read(firmware(desk.store, model=MODEL, below="2.10").to_csv())
    assert rows[0][:5] == ["customer", "name", "email", "phone", "address"]
    assert [(row[1], row[-1]) for row in rows[1:]] == [(NAMES[0], "below 2.10"), (NAMES[1], "not known")]
    assert read(firmware(desk.store).to_csv(";"), ";")[0] == rows[0]


@pytest.mark.parametrize(
    "text", ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "＝1", " =1", "\t=1", "\r=1", "\n=1"]
)
def test_no_cell_is_a_formula(text: str) -> None:
    """What a spreadsheet would take for a formula (list of OWASP, CSV Injection) begins with an apostrophe."""
    assert harmless(text).startswith("'")


@pytest.mark.parametrize(("value", "cell"), [("+447700900231", "+447700900231"), (None, ""), (0, "0"), ("a\nb", "a b")])
def test_plain_cells_stay(value: str | int | None, cell: str) -> None:
    """Telephone numbers, nothing, numbers and text over two lines stay readable."""
    assert harmless(value) == cell


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_any_text_survives_the_csv(delimiter: str) -> None:
    """Quotes, delimiters and letters of any script come back from the file as they were."""
    texts: Sequence[str] = ['a "b"', "x,y;z|w", "Ægir Ølund", "北区", "'quoted"]
    listing = Listing("x", ("a", "b"), (), (Part("", "t", tuple({"a": t, "b": n} for n, t in enumerate(texts))),), "")
    assert [row[0] for row in read(listing.to_csv(delimiter), delimiter)[1:]] == list(texts)
