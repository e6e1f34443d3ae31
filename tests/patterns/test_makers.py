"""Maker files: what they may say, and what reading makes of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from pattern_layouts import CUSTOMER, direct, forwarded, text_document
from pattern_makers import CODE, KEY, MAKER, SETTINGS, patterns

from counterfoil.errors import PatternFaulty
from counterfoil.model import CODE_KINDS, SOLD_SINCE, Check, Kind, Mailbox, Reading
from counterfoil.patterns import Patterns
from counterfoil.patterns.makers import parse_maker
from counterfoil.patterns.shapes import make_shape
from counterfoil.settings import Settings

INNER = Mailbox("Velotta", "service@mail.velotta.example")


def read(folder: Path, text: str, inner: Mailbox = INNER) -> Reading:
    """Read a forwarded text with the test maker known."""
    return patterns(folder).read(forwarded(text_document(text, "forward:1", 1), inner=inner), SETTINGS)


def test_a_maker_file_is_read_whole() -> None:
    """Every table of the format arrives where it belongs."""
    maker = parse_maker("velotta.toml", MAKER.encode())
    assert maker.names == ("Velotta", "Velotta Nähsysteme")
    assert maker.enter == (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    assert maker.shapes[Kind.PRODUCT_KEY].check("VK220441711") is Check.PASSED
    assert maker.shapes[Kind.PRODUCT_KEY].printed("VK220441711") == KEY
    assert maker.upgrade("MONOGRAMM-PAKET") is maker.upgrades[0]
    assert maker.upgrades[0].needs_firmware == "2.10"
    assert maker.sends_from("a@mail.velotta.example") and not maker.sends_from("a@notvelotta.example")
    assert len(maker.proofs) == 2


def test_a_maker_file_says_what_is_done_around_the_codes() -> None:
    """Menus for saving and updating, the place in the manual, and the maker's own steps are read; none is needed."""
    text = """
maker = "Velotta"
where_save = "Memory"
where_update = "Version"
manual = "chapter 9"
before = ["Take the hoop off."]
after = ["Compare the list.", "Switch it off."]
[[upgrades]]
name = "Motifs"
steps = ["Load the pack."]
"""
    maker = parse_maker("velotta.toml", text.encode())
    assert (maker.where_save, maker.where_update, maker.manual) == ("Memory", "Version", "chapter 9")
    assert (maker.before, maker.after) == (("Take the hoop off.",), ("Compare the list.", "Switch it off."))
    assert maker.upgrades[0].steps == ("Load the pack.",)
    plain = parse_maker("velotta.toml", MAKER.encode())
    assert (plain.where_save, plain.before, plain.upgrades[0].steps) == ("", (), ())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("maker = ", "is not a TOML file"),
        ('also = ["X"]', "lacks `maker`"),
        ('maker = "X"\nowner = "Y"', "keys nobody knows: owner"),
        ('maker = "X"\nmodels = "Y"', "not a list of texts"),
        ('maker = "X"\nmodels = ["Y", { name = "Z" }]', "lacks `since`"),
        ('maker = "X"\nmodels = [{ name = "Z", since = "03/2021" }]', "no year, month or day"),
        ('maker = "X"\nmodels = [{ name = "Z", since = "2021-13" }]', "no year, month or day"),
        ('maker = "X"\nmodels = [{ name = "Z", since = "2021", until = "2022" }]', "keys nobody knows: until"),
        ('maker = "X"\nbefore = "Take the hoop off."', "not a list of texts"),
        ('maker = "X"\n[codes.colour]\nshape = "####"', "no kind of fact"),
        ('maker = "X"\n[codes.model]\nshape = "####"', "no code"),
        ('maker = "X"\n[codes.machine_id]\nshape = "##"', "at least 4 characters"),
        ('maker = "X"\n[codes.machine_id]\nshape = "##?##"', "cannot stand in a shape"),
        ('maker = "X"\n[codes.machine_id]\nshape = "####"\ncheck = "sum"', "no check `sum`"),
        ('maker = "X"\n[codes.machine_id]\nshape = "####"\ncheck_from = 9', "behind the end"),
        ('maker = "X"\n[codes.machine_id]\nshape = "****"\nalphabet = "AAb"', "different capital letters"),
        ('maker = "X"\n[[upgrades]]\nalso = ["Y"]', "lacks `name`"),
        ('maker = "X"\n[proofs]\nfound = [{ text = "a", kind = "model" }]', "lacks `value`"),
    ],
)
def test_a_faulty_file_is_named_with_its_fault(tmp_path: Path, text: str, says: str) -> None:
    """A wrong maker file raises PatternFaulty with the file's name and what is wrong."""
    (tmp_path / "x.toml").write_text(text, encoding="utf-8")
    with pytest.raises(PatternFaulty, match=says) as raised:
        Patterns.load(tmp_path)
    assert "x.toml" in raised.value.what


def test_two_files_for_one_maker_are_refused(tmp_path: Path) -> None:
    """The same maker in two files is a fault: nobody could tell which one counts."""
    with pytest.raises(PatternFaulty, match="both describe"):
        patterns(tmp_path, ("again.toml", 'maker = "VELOTTA"'))


def test_a_folder_that_is_not_there_gives_no_makers(tmp_path: Path) -> None:
    """Without maker files the vocabulary alone is loaded."""
    assert Patterns.load(tmp_path / "none").makers == ()


@pytest.mark.parametrize(
    "spelling", ["VK-2204-4171-1", "vk 2204 4171 1", "VK22044171.1", "VK2204–4171–1", "VK220441711"]
)
def test_separators_and_case_do_not_matter(tmp_path: Path, spelling: str) -> None:
    """A code in a maker's shape is found with any separators, or none, in any case."""
    chosen = read(tmp_path, f"Hello, the product key was {spelling}, I think.").chosen[Kind.PRODUCT_KEY]
    assert (chosen.normal, chosen.check) == ("VK220441711", Check.PASSED)
    assert chosen.odds >= Settings().filing_odds


def test_a_failed_check_digit_outweighs_everything(tmp_path: Path) -> None:
    """A labelled code with a wrong check digit is told, as FAILED, with odds below 0."""
    chosen = read(tmp_path, "Product key: VK-2204-4171-2").chosen[Kind.PRODUCT_KEY]
    assert chosen.check is Check.FAILED and chosen.odds < 0


def test_a_code_in_the_wrong_shape_is_not_certain(tmp_path: Path) -> None:
    """Where the maker is known, a labelled code of another shape stays far below the bound."""
    chosen = read(tmp_path, "Product key: 8821-4471-0").chosen[Kind.PRODUCT_KEY]
    assert chosen.odds < 2


def test_a_longer_code_does_not_contain_the_shape(tmp_path: Path) -> None:
    """Part of a longer code is never taken for the maker's code."""
    reading = read(tmp_path, f"Reference {KEY}-88 and X-{KEY} and {KEY}77.")
    assert not [f for f in reading.facts if f.kind in CODE_KINDS]


def test_a_shape_without_check_digit_in_prose_is_not_certain(tmp_path: Path) -> None:
    """A value in running text without a check digit stays below the bound; behind its label it passes."""
    assert read(tmp_path, "I think my machine ID is VT-204417-R today.").chosen[Kind.MACHINE_ID].odds < 4.6
    assert read(tmp_path, "Machine ID: VT-204417-R").chosen[Kind.MACHINE_ID].odds >= 6


def test_a_code_without_a_label_is_found_by_shape_and_check_digit(tmp_path: Path) -> None:
    """Shape and check digit suffice without a label, also when nothing names the maker."""
    reading = read(tmp_path, f"Here you are: {KEY} and {CODE}.", inner=Mailbox("", "somebody@post.example"))
    assert reading.chosen[Kind.PRODUCT_KEY].odds >= Settings().filing_odds
    assert reading.chosen[Kind.ACTIVATION_CODE].normal == "9F3K77ABM2X5"


def test_words_in_groups_of_four_are_no_code(tmp_path: Path) -> None:
    """In a shape of nothing but letters and digits, running text of the right lengths is no code, and is not masked."""
    text = """maker = "Velotta"
[codes.activation_code]
shape = "****-****-****-****"
"""
    prose = "Velotta\nDear customer, your Velottas Lina has its new stitches, keep this 2026 card."
    reading = patterns(tmp_path, ("velotta.toml", text)).read(direct(text_document(prose)), SETTINGS)
    assert [fact.value for fact in reading.facts if fact.kind is Kind.ACTIVATION_CODE] == []
    assert "your Velottas Lina" in reading.redacted["body"]
    coded = "Velotta\nDear customer, here it is: 7K2M-QQ4X-19ZB-LMNA"
    reading = patterns(tmp_path, ("velotta.toml", text)).read(direct(text_document(coded)), SETTINGS)
    assert [fact.value for fact in reading.facts if fact.kind is Kind.ACTIVATION_CODE] == ["7K2M-QQ4X-19ZB-LMNA"]


def test_another_makers_failing_check_says_nothing(tmp_path: Path) -> None:
    """Of a maker not recognised, a code that only happens to have the shape is read by its label."""
    reading = read(tmp_path, "Activation code: 9F3K-77AB-M2XW", inner=Mailbox("", "service@other.example"))
    chosen = reading.chosen[Kind.ACTIVATION_CODE]
    assert chosen.check is Check.NONE and chosen.odds >= 4.6


def test_a_code_broken_anywhere_is_joined_by_its_shape(tmp_path: Path) -> None:
    """Where the maker's shape needs the rest, a code broken in mid-group is joined from the next line."""
    chosen = read(tmp_path, "Activation code: 9F3K-77\n                 AB-M2X5").chosen[Kind.ACTIVATION_CODE]
    assert (chosen.normal, chosen.check) == ("9F3K77ABM2X5", Check.PASSED)


def test_a_code_wrapped_in_a_sentence_is_joined_if_its_check_digit_is_right(tmp_path: Path) -> None:
    """A code broken by the line end of running text is joined from the next line's first word, never on trust."""
    text = "Hello, the product key on my card was VK-2204-\n4171-{} and it worked."
    chosen = read(tmp_path, text.format("1")).chosen[Kind.PRODUCT_KEY]
    assert (chosen.normal, chosen.check) == ("VK220441711", Check.PASSED)
    assert read(tmp_path, text.format("2")).chosen[Kind.PRODUCT_KEY].odds < 4.6


def test_a_makers_own_label_counts_in_its_mail(tmp_path: Path) -> None:
    """A label of the maker file names the code in that maker's messages."""
    assert read(tmp_path, f"Stitch code: {CODE}").chosen[Kind.ACTIVATION_CODE].odds >= 7
    vague = 'maker = "Plain"\nsenders = ["plain.example"]\n[labels.en]\nactivation_code = ["Code"]\n'
    message = forwarded(text_document("Code: 9F3K-77AB-M2XW"), inner=Mailbox("", "a@plain.example"))
    reading = patterns(tmp_path, ("plain.toml", vague)).read(message, SETTINGS)
    assert reading.chosen[Kind.ACTIVATION_CODE].odds >= 4.6


def test_makers_are_recognised_by_sender_label_and_name(tmp_path: Path) -> None:
    """The sender's domain, a label, a name in text or subject each give the maker, with its place."""
    by_sender = read(tmp_path, "Hello").chosen[Kind.MAKER]
    assert (by_sender.normal, by_sender.place.document) == ("Velotta", "headers:1")
    other = Mailbox("", "a@post.example")
    by_label = read(tmp_path, "Manufacturer: velotta nähsysteme", inner=other).chosen[Kind.MAKER]
    assert (by_label.value, by_label.normal, by_label.place.document) == ("velotta nähsysteme", "Velotta", "forward:1")
    by_name = read(tmp_path, "My Velotta is back", inner=other).chosen[Kind.MAKER]
    assert (by_name.normal, by_name.place.span) == ("Velotta", (3, 10))
    message = direct(text_document("See below"), subject="Fwd: VELOTTA codes", sender=CUSTOMER)
    assert patterns(tmp_path).read(message, SETTINGS).chosen[Kind.MAKER].place.document == "headers:0"


def test_models_and_upgrades_have_their_canonical_names(tmp_path: Path) -> None:
    """The longest model name wins; an upgrade's name in another language gives the name of the file."""
    reading = read(tmp_path, "Your Velotta Corda 310 S now has the Monogramm-Paket.")
    assert reading.chosen[Kind.MODEL].normal == "Corda 310 S"
    assert (reading.chosen[Kind.UPGRADE_NAME].value, reading.chosen[Kind.UPGRADE_NAME].normal) == (
        "Monogramm-Paket",
        "Monogram Pack",
    )
    labelled = read(tmp_path, "Model: Velotta Corda 310\nWorks with Corda 310 S, too.")
    assert labelled.chosen[Kind.MODEL].normal == "Corda 310" and Kind.MODEL not in labelled.conflicts


def test_luhn_counts_over_the_alphabet_of_the_shape() -> None:
    """Luhn is over digits where the checked part has only digits, else over the shape's alphabet (Luhn mod N)."""
    digits = make_shape(Kind.MACHINE_ID, "X", "AB-####", check_name="luhn", check_from=2)
    assert digits.check_alphabet == "0123456789"
    letters = make_shape(Kind.MACHINE_ID, "X", "****", alphabet="ABCDEF0123", check_name="luhn")
    assert letters.check_alphabet == "ABCDEF0123"


def test_proofs_of_a_maker_run_and_failures_are_told(tmp_path: Path) -> None:
    """The good file stands its proofs; a proof that does not hold is reported with the file's name."""
    assert patterns(tmp_path).check_proofs() == []
    bad = (
        MAKER.replace('value = "VT-204417-R"', 'value = "VT-204417-S"')
        .replace("Velotta", "Other")
        .replace("velotta", "o")
    )
    bad = bad.replace('text = "Order VT-2044"', 'text = "Machine ID: VT-204417-R"')
    failures = patterns(tmp_path, ("other.toml", bad)).check_proofs()
    assert [f.source.endswith("other.toml") for f in failures] == [True, True]
    assert "was expected" in failures[0].what and "was found in it" in failures[1].what


def test_a_model_is_read_with_since_when_it_is_sold(tmp_path: Path) -> None:
    """Where a maker file says since when a model is sold, the model read or typed carries that among its evidence; of
    other models nothing is said."""
    dated = 'maker = "Sold"\nmodels = ["Corda 9", { name = "Corda 10", since = "2021-03" }]\n'
    known = patterns(tmp_path, ("sold.toml", dated))
    maker = next(maker for maker in known.makers if maker.name == "Sold")
    assert (maker.models, dict(maker.since)) == (("Corda 9", "Corda 10"), {"Corda 10": "2021-03"})
    for model, said in (("Corda 10", [f"{SOLD_SINCE}2021-03"]), ("Corda 9", [])):
        text = f"Manufacturer: Sold\nModel: {model}\nMachine ID: QQ-204417\nActivation code: 9F3K-77AB-M2X5\n"
        read_fact = known.read(forwarded(text_document(text, "forward:1", 1)), SETTINGS).chosen[Kind.MODEL]
        typed = known.make_fact(Kind.MODEL, model.upper(), maker="sold")
        for fact in (read_fact, typed):
            assert fact.normal == model
            assert [words for words in fact.evidence if words.startswith(SOLD_SINCE)] == said
