"""Forwards inside the text: the styles of many mail programs in eleven languages, and what is none.

The wording of the mail programs is common practice, no source; it was written down from memory.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from in_bounds import done_in_bounds

from counterfoil.documents.forwards import Piece, split_forwards
from counterfoil.documents.html import html_rows
from counterfoil.documents.text import plain_rows
from counterfoil.documents.words import FIELDS, _tables
from counterfoil.model import Mailbox
from counterfoil.settings import Limits

LIMITS = Limits()
SENDER = Mailbox("Kestrelle Upgrades", "noreply@kestrelle.example")
TO = Mailbox("Marit Solvang", "marit@solvang.example")
TEXT = "Machine ID: HG-482913-K"
MOMENT = datetime(2025, 3, 4, 10, 12, tzinfo=UTC)

STANDARD = "Tue, 4 Mar 2025 10:12:00 +0000"
WEB = "---------- Forwarded message ---------"
# Separator over a forward, From, Date or Sent, To, Subject, and the date as the program prints it.
DASHED = {
    "en web": (WEB, "From", "Date", "To", "Subject", "Tue, Mar 4, 2025 at 10:12 AM"),
    "en": ("-------- Forwarded Message --------", "From", "Date", "To", "Subject", STANDARD),
    "en old": ("-----Original Message-----", "From", "Sent", "To", "Subject", "Tuesday, March 4, 2025 10:12 AM"),
    "de": ("-------- Weitergeleitete Nachricht --------", "Von", "Datum", "An", "Betreff", STANDARD),
    "de web": (WEB, "Von", "Date", "To", "Subject", "Di., 4. März 2025 um 10:12 Uhr"),
    "de old": ("-----Ursprüngliche Nachricht-----", "Von", "Gesendet", "An", "Betreff", "Dienstag, 4. März 2025 10:12"),
    "fr": ("-------- Message transféré --------", "De ", "Date ", "Pour ", "Sujet ", STANDARD),
    "fr web": (WEB, "De", "Date", "À", "Objet", "mar. 4 mars 2025 à 10:12"),
    "fr old": ("-----Message d'origine-----", "De ", "Envoyé ", "À ", "Objet ", "mardi 4 mars 2025 10:12"),
    "nl": ("-------- Doorgestuurd bericht --------", "Van", "Datum", "Aan", "Onderwerp", STANDARD),
    "nl web": (WEB, "Van", "Date", "To", "Subject", "di 4 mrt 2025 om 10:12"),
    "nl old": ("-----Oorspronkelijk bericht-----", "Van", "Verzonden", "Aan", "Onderwerp", "di 4 maart 2025 10:12"),
    "es": ("-------- Mensaje reenviado --------", "De", "Fecha", "Para", "Asunto", STANDARD),
    "es web": (WEB, "De", "Date", "To", "Subject", "El mar, 4 mar 2025 a las 10:12"),
    "es old": ("-----Mensaje original-----", "De", "Enviado el", "Para", "Asunto", "martes, 4 de marzo de 2025 10:12"),
    "it": ("-------- Messaggio inoltrato --------", "Da", "Data", "A", "Oggetto", STANDARD),
    "it web": (WEB, "Da", "Date", "To", "Subject", "mar 4 mar 2025 alle ore 10:12"),
    "it old": ("-----Messaggio originale-----", "Da", "Inviato", "A", "Oggetto", "martedì 4 marzo 2025 10:12"),
    "sv": ("-------- Vidarebefordrat meddelande --------", "Från", "Datum", "Till", "Ämne", STANDARD),
    "sv web": (WEB, "Från", "Date", "To", "Subject", "tis 4 mars 2025 kl 10:12"),
    "sv old": ("-----Ursprungligt meddelande-----", "Från", "Skickat", "Till", "Ämne", "den 4 mars 2025 10:12"),
    "da": ("-------- Videresendt besked --------", "Fra", "Dato", "Til", "Emne", "den 4. mar. 2025 kl. 10.12"),
    "da old": ("-----Oprindelig meddelelse-----", "Fra", "Sendt", "Til", "Emne", "4. marts 2025 10:12"),
    "nb": ("-------- Videresendt melding --------", "Fra", "Dato", "Til", "Emne", "tir. 4. mars 2025 kl. 10:12"),
    "nb old": ("-----Opprinnelig melding-----", "Fra", "Sendt", "Til", "Emne", "tirsdag 4. mars 2025 10:12"),
    "pt": ("-------- Mensagem encaminhada --------", "De", "Data", "Para", "Assunto", "4 de março de 2025 às 10:12"),
    "pt old": ("-----Mensagem original-----", "De", "Enviada em", "Para", "Assunto", "terça, 4 de março de 2025 10:12"),
    "fi": ("----- Välitetty viesti -----", "Lähettäjä", "Pvm", "Vastaanottaja", "Aihe", "4. maaliskuuta 2025 10:12"),
    "pl": ("-------- Wiadomość przekazana --------", "Od", "Data", "Do", "Temat", "4 marca 2025 10:12"),
    "cs": ("-------- Přeposlaná zpráva --------", "Od", "Datum", "Komu", "Předmět", "4. března 2025 10:12"),
    "cs old": ("-----Původní zpráva-----", "Odesílatel", "Odesláno", "Komu", "Předmět", "úterý 4. března 2025 10:12"),
    "ja": ("-------- 転送されたメッセージ --------", "差出人", "日付", "宛先", "件名", "2025年3月4日(火) 10:12"),
    "ja web": (WEB, "差出人", "Date", "To", "Subject", "2025年3月4日(火) 10:12"),
    "ja old": ("-----Original Message-----", "差出人", "送信日時", "宛先", "件名", "2025年3月4日 10:12"),
}  # fmt: skip

BEGIN = {
    "en": ("Begin forwarded message:", "From", "Subject", "Date", "To", "4 March 2025 at 10:12:00 GMT"),
    "de": ("Anfang der weitergeleiteten Nachricht:", "Von", "Betreff", "Datum", "An", "4. März 2025 um 11:12:00 MEZ"),
    "fr": ("Début du message réexpédié :", "De", "Objet", "Date", "À", "4 mars 2025 à 11:12:00 UTC+1"),
    "nl": ("Begin doorgestuurd bericht:", "Van", "Onderwerp", "Datum", "Aan", "4 maart 2025 om 11:12:00 CET"),
    "es": ("Inicio del mensaje reenviado:", "De", "Asunto", "Fecha", "Para", "4 de marzo de 2025, 11:12:00 CET"),
    "it": ("Inizio messaggio inoltrato:", "Da", "Oggetto", "Data", "A", "4 marzo 2025 alle ore 11:12:00 CET"),
    "sv": ("Vidarebefordrat brev:", "Från", "Ämne", "Datum", "Till", "4 mars 2025 11:12:00 CET"),
    "da": ("Start på videresendt besked:", "Fra", "Emne", "Dato", "Til", "4. marts 2025 kl. 11.12.00 CET"),
    "nb": ("Start på videresendt melding:", "Fra", "Emne", "Dato", "Til", "4. mars 2025 kl. 11:12:00 CET"),
    "pt": ("Início da mensagem reencaminhada:", "De", "Assunto", "Data", "Para", "4 de março de 2025, 10:12:00 WET"),
}


def split(text: str, limits: Limits = LIMITS) -> list[Piece]:
    """Take a plain text apart."""
    return split_forwards(plain_rows(text), limits)


def words(piece: Piece) -> str:
    """Return the text of a piece without empty lines at its ends."""
    return "\n".join(row.text for row in piece.rows).strip()


def check(pieces: list[Piece], above: str = "Please keep this.", moment: datetime | None = MOMENT) -> None:
    """Check a text with one forward: the text above, the four fields, the text inside."""
    assert len(pieces) == 2
    assert words(pieces[0]) == above
    envelope = pieces[1].envelope
    assert envelope is not None
    assert (envelope.sender, envelope.to, envelope.subject) == (SENDER, (TO,), "Your code")
    assert envelope.date == moment
    assert words(pieces[1]) == TEXT


@pytest.mark.parametrize("style", DASHED)
def test_separator_and_header_block(style: str) -> None:
    """A separator line and a header block are recognised in every language, with all their fields."""
    line, sender, date, to, subject, when = DASHED[style]
    check(
        split(
            f"Please keep this.\n\n{line}\n{sender}: Kestrelle Upgrades <noreply@kestrelle.example>\n{date}: {when}\n"
            f"{subject}: Your code\n{to}: Marit Solvang <marit@solvang.example>\n\n\n{TEXT}\n"
        )
    )


@pytest.mark.parametrize("language", BEGIN)
@pytest.mark.parametrize("mark", ["> ", ">> ", "> > ", ""])
def test_quoted_header_block(language: str, mark: str) -> None:
    """A line that announces a forward, whose header block and text are quoted to any depth, is recognised."""
    line, sender, subject, date, to, when = BEGIN[language]
    block = (
        f"{sender}: Kestrelle Upgrades <noreply@kestrelle.example>\n{subject}: Your code\n{date}: {when}\n"
        f"{to}: Marit Solvang <marit@solvang.example>\n\n{TEXT}"
    )
    quoted = "\n".join(f"{mark}{row}".rstrip() for row in block.split("\n"))
    check(split(f"Please keep this.\n\n{line}\n\n{quoted}\n"))


@pytest.mark.parametrize("rule", ["________________________________\n", "-----\n", ""])
@pytest.mark.parametrize("bold", ["", "*", "**"])
def test_header_block_alone(rule: str, bold: str) -> None:
    """A header block without a separator, under a rule or not, its words set in bold by stars or not, is a forward."""
    check(
        split(
            f"Please keep this.\n\n{rule}{bold}From:{bold} Kestrelle Upgrades <noreply@kestrelle.example>\n"
            f"{bold}Sent:{bold} 04 March 2025 10:12\n{bold}To:{bold} Marit Solvang <marit@solvang.example>\n"
            f"{bold}Subject:{bold} Your code\n\n{TEXT}\n"
        )
    )


@pytest.mark.parametrize(
    "sender",
    [
        "Kestrelle Upgrades <noreply@kestrelle.example>",
        '"Kestrelle Upgrades" <noreply@kestrelle.example>',
        "Kestrelle Upgrades [mailto:noreply@kestrelle.example]",
        "Kestrelle Upgrades <mailto:noreply@kestrelle.example>",
        "Kestrelle Upgrades <noreply@kestrelle.example<mailto:noreply@kestrelle.example>>",
        "Kestrelle Upgrades (noreply@kestrelle.example)",
        "Kestrelle Upgrades\n<noreply@kestrelle.example>",
        "Kestrelle Upgrades <noreply@kestrelle.example\n>",
        "Kestrelle Upgrades\n[mailto:noreply@kestrelle.example]",
        "\n  Kestrelle Upgrades <noreply@kestrelle.example>",
    ],
)
def test_ways_to_write_an_address(sender: str) -> None:
    """Addresses are read in every way programs print them, also wrapped over two lines."""
    check(
        split(
            f"Please keep this.\n\n-----Original Message-----\nFrom: {sender}\nSent: 04 March 2025 10:12\n"
            f"To: Marit Solvang <marit@solvang.example>\nSubject: Your code\n\n{TEXT}\n"
        )
    )


def test_several_recipients() -> None:
    """Recipients parted by semicolons or commas, wrapped, family name first, or by name alone, are all read."""
    envelope = split(
        "-----Original Message-----\nFrom: noreply@kestrelle.example\nSent: 04 March 2025 10:12\n"
        "To: Solvang, Marit <marit@solvang.example>; 'ola@solvang.example';\n Workshop Desk\n"
        "Cc: a@one.example, B <b@two.example>\nSubject: Your code\n\nText\n"
    )[1].envelope
    assert envelope is not None
    assert envelope.sender == Mailbox("", "noreply@kestrelle.example")
    assert envelope.to == (
        Mailbox("Solvang, Marit", "marit@solvang.example"),
        Mailbox("", "ola@solvang.example"),
        Mailbox("Workshop Desk", ""),
    )
    assert envelope.cc == (Mailbox("", "a@one.example"), Mailbox("B", "b@two.example"))


def test_names_without_addresses() -> None:
    """A full header block whose names have no addresses, as inside a company, is a forward."""
    pieces = split("Hi\n\nFrom: Upgrades\nSent: 04 March 2025 10:12\nTo: Marit Solvang\nSubject: Your code\n\nText\n")
    assert pieces[1].envelope is not None
    assert pieces[1].envelope.sender == Mailbox("Upgrades", "")


def test_forward_of_a_forward() -> None:
    """A forward in a forward gives one piece each, outermost first, quoted or not."""
    head = "From: c@three.example\nSent: 4 March 2025\nTo: b@two.example\nSubject: C"
    inner = f"-----Original Message-----\n{head}\n\nInner"
    head = "From: b@two.example\nSubject: B\nDate: 5 March 2025\nTo: a@one.example"
    middle = f"Begin forwarded message:\n\n{head}\n\nMiddle\n{inner}"
    quoted = "\n".join(f"> {row}" for row in middle.split("\n"))
    for text in (middle, quoted):
        pieces = split(f"Outer\n\n{text}\n")
        assert [words(piece) for piece in pieces] == ["Outer", "Middle", "Inner"]
        assert [p.envelope.subject for p in pieces[1:] if p.envelope] == ["B", "C"]


def test_depth_is_bounded() -> None:
    """Forwards are unwrapped to the depth of the limits; deeper ones stay in the text of the last."""
    blocks = [
        f"-----Original Message-----\nFrom: p{n + 1}@one.example\nTo: p{n}@one.example\nSubject: S\n\nText\n\n"
        for n in range(15)
    ]
    pieces = split("Top\n\n" + "".join(blocks))
    assert len(pieces) == LIMITS.forward_depth + 1
    assert "Original Message" in words(pieces[-1])


def test_forwards_side_by_side() -> None:
    """The same sender's mails to the same person stand beside each other; a forward's own sender had got the inner."""

    def block(sender: str, to: str, day: int) -> str:
        head = f"From: {sender}@one.example\nSent: {day} March 2025\nTo: {to}@one.example\nSubject: {sender}{day}"
        return f"-----Original Message-----\n{head}\n\nText {day}\n\n"

    def parents(*blocks: str) -> list[int | None]:
        return [piece.parent for piece in split("Top\n\n" + "".join(blocks))]

    assert parents(block("maker", "a", 4), block("maker", "a", 3)) == [None, 0, 0]
    assert parents(block("a", "b", 4), block("maker", "a", 3)) == [None, 0, 1]
    assert parents(block("a", "b", 4), block("maker", "a", 3), block("maker", "a", 2)) == [None, 0, 1, 1]
    assert parents(block("maker", "a", 4), block("maker", "b", 3)) == [None, 0, 1]
    assert parents(block("maker", "a", 4), block("maker", "b", 9)) == [None, 0, 0]
    assert parents(block("a", "b", 4), block("maker", "a", 9)) == [None, 0, 1]


def test_side_by_side_in_quotes() -> None:
    """A second forward after the end of a quoted one stands beside it; what is unquoted between is the sender's."""
    one = "Begin forwarded message:\n\n> From: m@one.example\n> Date: 4 March 2025\n> Subject: A\n>\n> Text A\n"
    pieces = split(f"Top\n\n{one}\nand\n\n{one.replace('A', 'B')}\nBye\n")
    assert [piece.parent for piece in pieces] == [None, 0, 0]
    assert words(pieces[0]).split() == ["Top", "and", "Bye"]
    assert [words(piece) for piece in pieces[1:]] == ["Text A", "Text B"]


def test_many_forwards_are_bounded() -> None:
    """A list of hundreds of forwards costs no more than some dozens; the rest stays text."""
    block = "-----Original Message-----\nFrom: a@one.example\nTo: b@one.example\nSubject: S\n\nText\n\n"
    pieces = split("Top\n\n" + block * 300)
    assert 40 <= len(pieces) < 50
    assert sum(words(piece).count("Text") for piece in pieces) == 300


def test_text_under_a_quoted_forward_is_the_senders() -> None:
    """What stands unquoted under a quoted forward belongs to the text above it."""
    quoted = "> From: a@one.example\n> Date: 4 March 2025\n> Subject: S\n>\n> Inner\n"
    pieces = split(f"Above\n\nBegin forwarded message:\n\n{quoted}\nMy number is 01632 960123\n")
    assert words(pieces[0]).split() == ["Above", "My", "number", "is", "01632", "960123"]
    assert words(pieces[1]) == "Inner"


def test_no_row_is_lost() -> None:
    """Every line that is no separator and no header field is in exactly one piece."""
    text = (
        "One\nTwo\n\n---------- Forwarded message ---------\nFrom: a@one.example\nSubject: S\n\nThree\n\nFour: five\n"
    )
    assert "\n".join(words(p) for p in split(text)).split() == ["One", "Two", "Three", "Four:", "five"]


def test_field_that_starts_the_text_is_text() -> None:
    """A label under the header block that is a header word too (Date) stays in the text."""
    pieces = split(
        "---------- Forwarded message ---------\nFrom: a@one.example\nDate: 4 March 2025\nSubject: S\n"
        "To: <b@two.example>\n\nDate: 3 March 2025\nMachine ID: HG-1\n"
    )
    assert words(pieces[1]) == "Date: 3 March 2025\nMachine ID: HG-1"


def test_separator_without_a_header_block() -> None:
    """A clear separator with no header block under it parts the text; the envelope is empty."""
    pieces = split("Hi\n\n---------- Forwarded message ----------\n\nMachine ID: HG-1\n")
    assert words(pieces[1]) == "Machine ID: HG-1"
    assert pieces[1].envelope is not None
    assert pieces[1].envelope.sender is None


@pytest.mark.parametrize(
    "text",
    [
        "Hello,\n\nOn Tue, 4 Mar 2025 at 10:12, Marit <marit@solvang.example> wrote:\n> My machine stopped.\n> Marit\n",
        "Hallo,\n\nAm 04.03.2025 um 10:12 schrieb Marit:\n> Meine Maschine\n",
        "Le mar. 4 mars 2025 à 10:12, Marit <marit@solvang.example> a écrit :\n> Ma machine\n",
        "From: Harbour Street 1\nTo: Mill Lane 2\nDate: 4 March 2025\nParcel 00340434161094042557\n",
        "From: noreply@kestrelle.example\n\nis the address they wrote from.",
        "Date: 4 March 2025\nSubject: embroidery\nThe course starts at ten.",
        "-----Original Message-----",
        "Product key: AB12\n----------\nTotal: 5",
        "I sent it to: support@thread.example\nfrom: my phone",
    ],
)
def test_what_is_no_forward(text: str) -> None:
    """Quotes under "... wrote:", forms, labels and rules are no forwards: the text stays in one piece."""
    pieces = split(text)
    assert len(pieces) == 1
    assert words(pieces[0]) == "\n".join(row.rstrip() for row in text.split("\n")).strip()


def test_a_line_wrapped_after_quoting_stays_in_the_quote() -> None:
    """The end of a wrapped line has no quote mark: it stays where it belongs, between the quoted lines."""
    text = (
        "Hi\n\n> From: A <a@b.example>\n> Date: 3 March 2025\n> Subject: Code\n>\n> Code: AB12-\nCD34\n> Bye\n\nMine\n"
    )
    pieces = split(text)
    assert words(pieces[1]) == "Code: AB12-\nCD34\nBye"
    assert "Mine" in words(pieces[0])


HTML_BLOCKS = {
    "lines in one paragraph": (
        "<p>Please keep this.</p><hr><p><b>From:</b> Kestrelle Upgrades &lt;noreply@kestrelle.example&gt;<br>"
        "<b>Sent:</b> Tuesday, 4 March 2025 10:12<br><b>To:</b> Marit Solvang &lt;marit@solvang.example&gt;<br>"
        f"<b>Subject:</b> Your code</p><p>{TEXT}</p>"
    ),
    "quote": (
        "<div>Please keep this.</div><blockquote type=cite><div>Begin forwarded message:</div><br><div><b>From: </b>"
        'Kestrelle Upgrades &lt;<a href="mailto:x">noreply@kestrelle.example</a>&gt;</div><div><b>Subject: </b>'
        "Your code</div><div><b>Date: </b>4 March 2025 at 10:12:00 GMT</div><div><b>To: </b>Marit Solvang"
        f" &lt;marit@solvang.example&gt;</div><br><div>{TEXT}</div></blockquote>"
    ),
    "web": (
        '<div dir="ltr">Please keep this.<br><br><div class="quote"><div dir="ltr">---------- Forwarded message'
        " ---------<br>From: <strong>Kestrelle Upgrades</strong> <span>&lt;noreply@kestrelle.example&gt;</span><br>"
        "Date: Tue, Mar 4, 2025 at 10:12\u202fAM<br>Subject: Your code<br>To: Marit Solvang"
        f" &lt;marit@solvang.example&gt;<br></div><br><br>{TEXT}</div></div>"
    ),
    "table": (
        "<p>Please keep this.</p>-------- Forwarded Message --------<table><tr><th>Subject:</th><td>Your code</td>"
        "</tr><tr><th>Date:</th><td>Tue, 4 Mar 2025 10:12:00 +0000</td></tr><tr><th>From:</th><td>Kestrelle Upgrades"
        " &lt;noreply@kestrelle.example&gt;</td></tr><tr><th>To:</th><td>Marit Solvang"
        f" &lt;marit@solvang.example&gt;</td></tr></table><br>{TEXT}"
    ),
    "a paragraph a line": (
        "<p>Please keep this.</p><p>From: Kestrelle Upgrades &lt;noreply@kestrelle.example&gt;</p><p>Sent: 4 March"
        " 2025 10:12</p><p>To: Marit Solvang &lt;marit@solvang.example&gt;</p><p>Subject: Your code</p>"
        f"<p>{TEXT}</p>"
    ),
}


@pytest.mark.parametrize("style", HTML_BLOCKS)
def test_forwards_in_html(style: str) -> None:
    """Header blocks in HTML are recognised: as lines, quotes, tables, paragraphs."""
    check(split_forwards(html_rows(HTML_BLOCKS[style])[0], LIMITS))


def test_text_under_an_html_quote_is_the_senders() -> None:
    """What follows a block quote with a forward in it belongs to the text above."""
    html = "<p>Above</p><blockquote>From: a@one.example<br>Date: 4 March 2025<br>Subject: S<br><br>Inner</blockquote>"
    html += "<p>Below</p>"
    pieces = split_forwards(html_rows(html)[0], LIMITS)
    assert [words(p).split() for p in pieces] == [["Above", "Below"], ["Inner"]]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2025-03-04 10:12", MOMENT),
        ("04.03.2025 10:12", MOMENT),
        ("3/14/2025 10:12 PM", datetime(2025, 3, 14, 22, 12, tzinfo=UTC)),
        ("3/3/2025 12:05 AM", datetime(2025, 3, 3, 0, 5, tzinfo=UTC)),
        ("4 Mar 2025 10:12 -0500", datetime(2025, 3, 4, 10, 12, tzinfo=timezone(timedelta(hours=-5)))),
        ("3/4/2025 10:12", None),
        ("yesterday", None),
        ("31 February 2025", None),
        ("", None),
    ],
)
def test_dates(text: str, moment: datetime | None) -> None:
    """Dates with one reading are read; a day and month that could be swapped, in English, are not guessed."""
    envelope = split(f"-----Original Message-----\nFrom: a@one.example\nSent: {text}\nSubject: S\n\nText\n")[1].envelope
    assert envelope is not None
    assert envelope.date == moment


def test_numbers_in_other_languages_begin_with_the_day() -> None:
    """3/4/2025 under French words is the third of April."""
    envelope = split("-----Message d'origine-----\nDe : a@one.example\nEnvoyé : 3/4/2025 10:12\nObjet : S\n\nT\n")[
        1
    ].envelope
    assert envelope is not None
    assert envelope.date == datetime(2025, 4, 3, 10, 12, tzinfo=UTC)


def test_a_word_means_one_field() -> None:
    """No word of a header block, and no month, means two things in two languages."""
    fields: dict[str, str] = {}
    months: dict[str, int] = {}
    for table in _tables().values():
        for name in FIELDS:
            for word in table.get(name, ()):
                assert fields.setdefault(str(word).casefold(), name) == name
        for number, short in enumerate(table.get("months", ())):
            for word in short:
                assert months.setdefault(word.lower(), number) == number
    assert {"from", "von", "de", "van", "da", "från", "fra"} <= fields.keys()


HOSTILE = [
    " " * 200_000,
    "> " * 100_000,
    ">" * 200_000,
    "From: " * 40_000,
    "From: a@b.example\n" * 12_000,
    "-----Original Message-----\n" * 8_000,
    "From: " + "<" * 200_000,
    "From: a@b.example\nTo: " + "a," * 100_000 + "\nSubject: s\n",
    "From: a@b.example\nSent: " + "1" * 200_000 + "\nSubject: s\n",
    "- " * 100_000,
    "_" * 200_000,
    "\n" * 200_000,
    "From:\n\n" * 30_000,
]


def split_hostile(number: str) -> None:
    """Take one of the hostile texts apart."""
    assert split(HOSTILE[int(number)])


def test_hostile_texts_are_taken_apart_within_the_bounds() -> None:
    """Two hundred thousand characters made to keep a reader busy are done with in what a reading process may take."""
    numbers = [str(number) for number in range(len(HOSTILE))]
    assert done_in_bounds("test_forwards", "split_hostile", numbers) == numbers


def test_search_stops_at_the_limit() -> None:
    """A forward beyond the characters that are searched stays in the text, nothing of it lost."""
    text = "x\n" * 40_000 + "---------- Forwarded message ---------\nFrom: a@one.example\nSubject: S\n\nInner\n"
    pieces = split(text)
    assert len(pieces) == 1
    assert words(pieces[0]).endswith("Inner")
