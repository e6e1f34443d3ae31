"""A customer list as shops save it: encodings, delimiters, headings, and rows that are broken."""

from __future__ import annotations

import codecs
from pathlib import Path

import pytest
from conftest import SAMPLES
from customer_lists import make_list

from counterfoil.errors import SourceUnreadable, UsageProblem
from counterfoil.model import CustomerList
from counterfoil.sources.customer_list import read_customer_list

TEXT = "Name;E-Mail;Ort\r\nÖlwin Größler;oelwin@post.example;Bandhöfen\r\nRuna Fjordal;runa@post.example;Å\r\n"


def read(folder: Path, data: bytes | str, **options: str) -> CustomerList:
    """Read bytes, or text as UTF-8, as a list."""
    path = folder / "list.csv"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    mapping = [(field, options.pop(field)) for field in list(options) if field not in ("encoding", "delimiter")]
    return read_customer_list(path, mapping=mapping, **options)


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (TEXT.encode("utf-8"), "utf-8"),
        (codecs.BOM_UTF8 + TEXT.encode("utf-8"), "utf-8"),
        (TEXT.encode("utf-16"), "utf-16"),
        (codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"), "utf-16"),
        (TEXT.encode("utf-32"), "utf-32"),
        (TEXT.encode("utf-16-le"), "utf-16-le"),
        (TEXT.encode("utf-16-be"), "utf-16-be"),
        (TEXT.encode("windows-1252"), "windows-1252"),
    ],
)
def test_the_encoding_is_found_out(tmp_path: Path, data: bytes, encoding: str) -> None:
    """UTF-8, UTF-16 and UTF-32, with a byte order mark and without, and Windows-1252 give the same names."""
    found = read(tmp_path, data)
    assert found.encoding == encoding
    assert [row.names[0] for row in found.rows] == ["Ölwin Größler", "Runa Fjordal"]
    assert found.bad == ()


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_the_delimiter_is_found_out(tmp_path: Path, sign: str) -> None:
    """Comma, semicolon, tab and bar are told apart, though values hold the others."""
    found = read(tmp_path, TEXT.replace(";", sign).replace("Bandhöfen", '"Am Kai 2, Haus | 3; links"'))
    assert found.delimiter == sign
    assert found.rows[0].emails == ("oelwin@post.example",)


def test_encoding_and_delimiter_can_be_named(tmp_path: Path) -> None:
    """What is named comes before what is found out; a name that is none is refused."""
    assert read(tmp_path, "name;x\nA B;1\n", delimiter="tab", name="name;x").rows[0].names == ("A B;1",)
    assert read(tmp_path, "name\nŁucja Krosno\n".encode("cp1250"), encoding="cp1250").rows[0].names == ("Łucja Krosno",)
    for name in ("utf-99", "rot13", "utf\0-8"):
        with pytest.raises(UsageProblem, match="no encoding"):
            read(tmp_path, TEXT, encoding=name)
    for name in ("idna", "undefined", "punycode"):
        with pytest.raises(UsageProblem, match="No file is written"):
            read(tmp_path, TEXT, encoding=name)
    with pytest.raises(UsageProblem, match="no delimiter"):
        read(tmp_path, TEXT, delimiter="::")


@pytest.mark.parametrize(
    "header",
    [
        "Full name,E-mail,Phone,Street,Postcode,Town,Country",
        "Kunde,E-Mail-Adresse,Telefon,Straße,PLZ,Ort,Land",
        "Nom complet,Courriel,Téléphone,Rue,Code postal,Ville,Pays",
        "Naam,E-mailadres,Telefoon,Straat,Postcode,Plaats,Land",
        "Nombre completo,Correo electrónico,Teléfono,Calle,Código postal,Ciudad,País",
        "Nome completo,E-mail,Telefono,Via,CAP,Città,Paese",
        "Namn,E-post,Telefon,Gatuadress,Postnummer,Postort,Land",
    ],
)
def test_headings_of_seven_languages_are_recognised(tmp_path: Path, header: str) -> None:
    """The same row under headings in each language of the vocabulary is read the same."""
    found = read(tmp_path, f"{header}\nIlse Aldermoor,ilse@post.example,020 7946 0101,Lane 3,99901,Orlop,UK\n")
    (row,) = found.rows
    assert (row.names, row.emails, row.phones) == (("Ilse Aldermoor",), ("ilse@post.example",), ("020 7946 0101",))
    assert (row.addresses, row.region) == (("Lane 3, 99901 Orlop, UK",), "GB")
    assert found.left_out == ()


def test_given_and_family_name_make_one_name(tmp_path: Path) -> None:
    """Two columns of a name are joined, also where the family name's column is headed with “Name” alone."""
    for header in ("Name;Vorname", "Nachname;Vorname", "Surname;First name", "Apellidos;Nombre"):
        assert read(tmp_path, f"{header}\nAldermoor;Ilse\n").rows[0].names == ("Ilse Aldermoor",)
    assert read(tmp_path, "Nombre;Correo\nBelen Estrellado;\n").rows[0].names == ("Belen Estrellado",)


def test_columns_can_be_named_and_the_rest_is_said(tmp_path: Path) -> None:
    """A heading nobody foresaw is taken when named; what is not taken is listed; a heading not there is refused."""
    text = "Wer;Post;Schuhgröße\nIlse Aldermoor;ilse@post.example;38\n"
    found = read(tmp_path, text, name="Wer", email="post")
    assert found.columns == {"name": ("Wer",), "email": ("Post",)}
    assert found.left_out == ("Schuhgröße",)
    with pytest.raises(UsageProblem, match="No column"):
        read(tmp_path, text)
    with pytest.raises(UsageProblem, match="“Wem”"):
        read(tmp_path, text, name="Wem")
    with pytest.raises(UsageProblem, match="nothing that a column can hold"):
        read(tmp_path, text, shoe="Schuhgröße")


def test_several_values_of_a_kind_are_kept(tmp_path: Path) -> None:
    """Numbered columns, and several values in a cell, all count; the apostrophe against formulas is taken off."""
    found = read(tmp_path, "name,email,email 2,phone\n'=Ilse,a@x.example; b@x.example,c@x.example,01632 960001\n")
    assert found.rows[0].emails == ("a@x.example", "b@x.example", "c@x.example")
    assert found.rows[0].names == ("=Ilse",)


def test_an_open_quote_costs_one_row(tmp_path: Path) -> None:
    """A quote that is never closed, or a stray one, is a bad row of its own; the rows after it are kept."""
    rows = "".join(f"Ilse {n},i{n}@x.example\n" for n in range(40))
    found = read(tmp_path, f'name,email\n"Runa,r@x.example\n{rows}Ru"na,"r@x".example\n')
    assert [row.line for row in found.bad] == [2, 43]
    assert len(found.rows) == 40


def test_a_value_may_run_over_lines(tmp_path: Path) -> None:
    """An address of three lines in quotes is one value, and the lines after it are numbered on."""
    found = read(tmp_path, 'name,address\nIlse Aldermoor,"Lane 3\nHouse 4\n99901 Orlop"\n,\nRuna,x,y\n')
    assert found.rows[0].addresses == ("Lane 3, House 4, 99901 Orlop",)
    assert [(row.line, row.reason) for row in found.bad] == [(6, "It has 3 fields, the header has 2.")]


def test_the_sample_list_is_read_whole() -> None:
    """Of the lines of the sample list none is bad, and every country is known."""
    found = read_customer_list(SAMPLES / "customers.csv")
    assert found.bad == ()
    assert found.left_out == ("language",)
    assert len(found.rows) > 50
    assert {row.country for row in found.rows} == {""}


def test_broken_bytes_cost_their_row_only(tmp_path: Path) -> None:
    """In a file that is UTF-8 but for some bytes, the rows with those bytes are bad and all others kept."""
    made = make_list(300, 30)
    found = read(tmp_path, made.text.encode("utf-8", errors="surrogateescape"), name="Kundin")
    assert found.encoding == "utf-8"
    assert {row.line for row in found.bad} < set(made.bad)
    assert any("bytes" in row.reason for row in found.bad)


def test_a_file_that_is_no_list_is_refused(tmp_path: Path) -> None:
    """An empty file and one that is not there are said to be so."""
    with pytest.raises(SourceUnreadable, match="no rows"):
        read(tmp_path, "\n\n")
    with pytest.raises(SourceUnreadable, match="cannot be read"):
        read_customer_list(tmp_path / "none.csv")
    for begin in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        with pytest.raises(SourceUnreadable, match="spreadsheet"):
            read(tmp_path, begin + bytes(100))


def test_odd_rows_cost_themselves_only(tmp_path: Path) -> None:
    """Zero bytes, a field of hundreds of thousands of characters, too few and too many fields are bad rows with a
    reason; quotes behind a blank and the end sign of older systems are taken as meant."""
    rows = ["Il\0se,a", "Ilse," + '"' + "x" * 300_000 + '"', "Ilse", "Ilse,a,b", '"Runa Holt", "r@x.example"']
    found = read(tmp_path, "name,email\n" + "\n".join(rows) + "\n\x1a")
    assert [(row.line, row.reason) for row in found.bad] == [
        (2, "It holds zero bytes."),
        (3, "It has a field that is too long."),
        (4, "It has one field, the header has 2."),
        (5, "It has 3 fields, the header has 2."),
    ]
    assert [(row.line, row.names, row.emails) for row in found.rows] == [(6, ("Runa Holt",), ("r@x.example",))]
