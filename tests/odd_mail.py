"""Confirmations sent in odd ways: what programs, gateways and people make of one mail. Invented people and codes.

Each case says what must come of it: filed to the person with all four codes, open with a question, or aside.
"""

from __future__ import annotations

import base64
import binascii
import quopri
import sys
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pikepdf
from msg_files import Tree, Value, file_inside, message_inside, msg, tree
from reportlab.pdfgen.canvas import Canvas

sys.path.append(str(Path(__file__).parent.parent / "samples"))
from makers import VESTERLYNG, draw_code

SYLLABLES = (
    "bal",
    "dor",
    "fen",
    "gis",
    "hut",
    "jom",
    "kar",
    "lev",
    "mun",
    "nok",
    "pel",
    "ris",
    "sov",
    "tam",
    "vig",
    "zul",
)
TEXT = "Content-Type: text/plain; charset=utf-8\n"
CODES = ("serial_number", "machine_id", "product_key", "activation_code")
FILED, OPEN, ASIDE = "filed", "open", "aside"


class Person:
    """Somebody with a machine and its codes, the same for the same seed."""

    def __init__(self, seed: str) -> None:
        number = zlib.crc32(seed.encode())
        drawn = [SYLLABLES[number >> 4 * n & 15] for n in range(6)]
        self.given, self.family = "".join(drawn[:3]).capitalize(), "".join(drawn[3:]).capitalize()
        self.name, self.email = f"{self.given} {self.family}", f"{self.given}.{self.family}@letterbox.example".lower()
        prefixes = {"product_key": "EM"}
        self.codes = {k: draw_code(VESTERLYNG.shapes[k], f"odd {seed} {k}", prefixes.get(k, "")) for k in CODES}
        self.seed = number

    def fields(self, *, named: bool = True) -> list[tuple[str, str]]:
        """Return labels and values; without ``named`` nothing says who the customer is."""
        who = [("Customer", self.name), ("E-mail", self.email)] if named else []
        return [
            *who,
            ("Manufacturer", "Vesterlyng"),
            ("Model", "Brise 300"),
            ("Serial number", self.codes["serial_number"]),
            ("Machine ID", self.codes["machine_id"]),
            ("Upgrade", "Embroidery Module Plus"),
            ("Product key", self.codes["product_key"]),
            ("Activation code", self.codes["activation_code"]),
        ]

    def text(self, *, named: bool = True) -> str:
        """Return the maker's confirmation as text."""
        rows = "".join(f"{label}: {value}\n" for label, value in self.fields(named=named))
        return f"Thank you for activating Embroidery Module Plus on your Brise 300.\n\n{rows}\nPlease keep this.\n"

    def html(self) -> str:
        """Return it as HTML."""
        rows = "".join(f"<tr><td>{label}</td><td>{value}</td></tr>" for label, value in self.fields())
        return f"<p>Thank you for activating Embroidery Module Plus.</p><table>{rows}</table>"

    def pdf(self) -> bytes:
        """Return it as a PDF."""
        return page(*(f"{label}: {value}" for label, value in self.fields()))

    def forward(self, text: str | None = None) -> str:
        """Return it forwarded inside a text."""
        head = "From: Vesterlyng Service <service@mail.vesterlyng.example>\nDate: Tuesday, 3 December 2024 08:55\n"
        head += f"Subject: Your Vesterlyng activation confirmation\nTo: {self.name} <{self.email}>\n"
        return f"---------- Forwarded message ---------\n{head}\n\n{self.text() if text is None else text}"

    def head(self, subject: str = "Fwd: Your Vesterlyng activation confirmation") -> str:
        """Return the header of a mail to the shop."""
        return (
            f"From: {self.name} <{self.email}>\nTo: Shop <support@thimblewick.example>\nSubject: {subject}\n"
            f"Date: Tue, 3 Dec 2024 09:12:00 +0100\nMessage-ID: <u{self.seed}@letterbox.example>\nMIME-Version: 1.0\n"
        )

    def from_maker(self) -> str:
        """Return the header of the maker's mail."""
        return (
            f"From: Vesterlyng Service <service@mail.vesterlyng.example>\nTo: {self.name} <{self.email}>\n"
            f"Subject: Your Vesterlyng activation confirmation\nDate: Tue, 3 Dec 2024 08:55:00 +0100\n"
            f"Message-ID: <m{self.seed}@mail.vesterlyng.example>\nMIME-Version: 1.0\n"
        )


@dataclass(frozen=True, slots=True)
class Case:
    """A mail, how its file ends, what must come of it, and whose codes may be read in it."""

    data: bytes
    wanted: str
    people: tuple[Person, ...]
    ending: str = "eml"


def page(*rows: str) -> bytes:
    """Return a PDF of one page."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(595, 842), invariant=1)
    for number, row in enumerate(rows):
        canvas.drawString(60, 780 - 22 * number, row)
    canvas.save()
    return out.getvalue()


def holding(outer: bytes, *files: tuple[str, bytes], mark: bool = False) -> bytes:
    """Return a PDF with files inside, in its tree of names or behind a mark on its first page."""
    pdf = pikepdf.open(BytesIO(outer))
    for name, data in files:
        spec = pikepdf.AttachedFileSpec(pdf, data, filename=name)
        if mark:
            note = pikepdf.Dictionary(Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.FileAttachment, FS=spec.obj)
            note.Rect = pikepdf.Array([10, 10, 30, 30])
            pdf.pages[0].obj.Annots = pikepdf.Array([pdf.make_indirect(note)])
        else:
            pdf.attachments[name] = spec
    out = BytesIO()
    pdf.save(out, static_id=True)
    return out.getvalue()


def program_form() -> bytes:
    """Return a PDF whose pages a program makes when it is opened."""
    pdf = pikepdf.open(BytesIO(page("Please wait... your viewer may not be able to show this form.")))
    pdf.Root.AcroForm = pikepdf.Dictionary(XFA=pdf.make_stream(b"<xdp:xdp/>"), Fields=pikepdf.Array())
    pdf.Root.NeedsRendering = True
    out = BytesIO()
    pdf.save(out, static_id=True)
    return out.getvalue()


def packed(*files: tuple[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return a zip file."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", how) as made:
        for name, data in files:
            made.writestr(zipfile.ZipInfo(name), data, how)
    return out.getvalue()


def uuencoded(name: str, data: bytes) -> str:
    """Return a file as POSIX uuencode writes it."""
    rows = "".join(binascii.b2a_uu(data[at : at + 45]).decode() for at in range(0, len(data), 45))
    return f"begin 644 {name}\n{rows}`\nend\n"


def part(data: bytes | str, kind: str, more: str = "", encoding: str = "base64") -> bytes:
    """Return a part."""
    raw = data.encode() if isinstance(data, str) else data
    raw = base64.encodebytes(raw) if encoding == "base64" else raw
    return f"Content-Type: {kind}\nContent-Transfer-Encoding: {encoding}\n{more}\n".encode() + raw


def multi(head: str, *parts: bytes, kind: str = "mixed") -> bytes:
    """Return a message of parts."""
    boundary = f"=_{zlib.crc32(b''.join(parts)):08x}"
    body = b"".join(f"--{boundary}\n".encode() + piece + b"\n" for piece in parts)
    return (
        f'{head}Content-Type: multipart/{kind}; boundary="{boundary}"\n\n'.encode()
        + body
        + b"--%b--\n" % (boundary.encode())
    )


def beside(person: Person, *files: bytes, text: str = "My Vesterlyng activation confirmation") -> bytes:
    """Return a mail with a short text and files."""
    return multi(person.head(), part(text, "text/plain"), *files)


def outlook(person: Person, *attached: Tree, text: str | None = None) -> bytes:
    """Return a forward as an Outlook message file."""
    properties: dict[int, Value] = {
        0x0037: "Fwd: Your activation confirmation",
        0x0C1A: person.name,
        0x5D01: person.email,
        0x0E06: datetime(2024, 12, 3, 9, tzinfo=UTC),
        0x1000: person.forward() if text is None else text,
    }
    return msg(properties, to=[("Shop", "support@thimblewick.example")], attachments=attached)


def _flowed(p: Person, *, delsp: bool) -> bytes:
    code = p.codes["activation_code"]
    at = 9 if delsp else code.index("-", 8) + 1
    text = p.text().replace(code, f"{code[:at]} \n{code[at:]}")
    kind = "text/plain; charset=utf-8; format=flowed" + ("; delsp=yes" if delsp else "")
    return f"{p.head()}Content-Type: {kind}\n\nHi\n\n{p.forward(text)}".encode()


def _soft_breaks(p: Person) -> bytes:
    text = quopri.encodestring(p.forward().encode()).decode()
    for code in p.codes.values():
        text = text.replace(code, f"{code[:5]}= \n{code[5:]}")
    return f"{p.head()}{TEXT}Content-Transfer-Encoding: quoted-printable\n\n{text}".encode()


def _japanese(p: Person) -> bytes:
    words = base64.b64encode("Fwd: アクティベーションの確認".encode("iso-2022-jp")).decode()
    head = p.head(f"=?iso-2022-jp?b?{words}?=") + "Content-Type: text/plain; charset=iso-2022-jp\n\n"
    return head.encode() + f"よろしくお願いします。\n\n{p.forward()}".encode("iso-2022-jp")


def _quoted(p: Person, other: Person, *, named: bool, writer: Person) -> bytes:
    quote = "\n".join(f"> {row}" for row in other.text(named=named).split("\n"))
    head = f"On Tue, 3 Dec 2024 at 09:12, {writer.name} <{writer.email}> wrote:"
    return f"{p.head('Re: activation')}{TEXT}\nIs this yours?\n\n{head}\n{quote}\n".encode()


def _mbox(p: Person) -> bytes:
    log = part(b"From a@b.example Tue Mar  3 10:00:00 2026\nFrom x\n", "text/plain; name=log.txt")
    text = part(f"Keep.\n\nFrom here on it is good.\n{p.forward()}", "text/plain; charset=utf-8", "", "8bit")
    one = multi(p.head(), text, log, part(p.pdf(), "application/pdf; name=a.pdf"))
    return b"From - Tue Dec  3 09:12:00 2024\n" + one.replace(b"\nFrom here", b"\n>From here") + b"\n"


def _two_authors(p: Person, head: str, before: str = "") -> bytes:
    return f"{before}{head}{TEXT}\nHi\n\n{p.text(named=False)}".encode()


def _wide(p: Person) -> bytes:
    wide = {number: number + 0xFEE0 for number in range(0x30, 0x5B) if chr(number).isalnum()}
    return f"{p.head()}{TEXT}\n{p.forward(p.text().translate(wide))}".encode()


def _clear_pgp(p: Person) -> bytes:
    signature = f"-----BEGIN PGP SIGNATURE-----\n\n{f'{chr(10)}'.join(['iQEz' * 16] * 4)}\n=abcd\n"
    text = f"-----BEGIN PGP SIGNED MESSAGE-----\nHash: SHA512\n\n- {p.forward()}\n{signature}"
    return f"{p.head()}{TEXT}\n{text}-----END PGP SIGNATURE-----\n".encode()


def _partial(p: Person) -> bytes:
    kind = 'Content-Type: message/partial; id="a@b"; number=1; total=2'
    return f"{p.head()}{kind}\n\n{p.head()}\n{p.forward()[:500]}".encode()


def _elsewhere(p: Person) -> bytes:
    kind = b'message/external-body; access-type=URL; URL="https://x.example/c.pdf"'
    return beside(p, b"Content-Type: %b\n\nContent-Type: application/pdf\n\n" % kind)


def _utf7(p: Person) -> bytes:
    head = f"{p.head()}Content-Type: text/plain; charset=utf-7\n\n"
    return head.encode() + f"Grüße +- €\n\n{p.forward()}".encode("utf-7")


def _calendar(p: Person) -> str:
    said = p.text().replace(",", "\\,").replace("\n", "\\n")
    folded = "\r\n ".join(said[at : at + 60] for at in range(0, len(said), 60))
    return f"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDESCRIPTION;LANGUAGE=en:{folded}\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"


def _inside_msg(p: Person) -> bytes:
    inner: dict[int, Value] = {
        0x0037: "Your Vesterlyng activation confirmation",
        0x0C1A: "Vesterlyng Service",
        0x5D01: "service@mail.vesterlyng.example",
        0x1000: "See the PDF.",
    }
    held = tree(inner, to=[(p.name, p.email)], attachments=[file_inside("c.pdf", p.pdf())], header=24)
    return outlook(p, message_inside(held), text="Please keep.")


def _whole(p: Person) -> bytes:
    return multi(p.from_maker(), part("See the PDF.", "text/plain"), part(p.pdf(), "application/pdf; name=c.pdf"))


Made = Callable[[Person], bytes]
_SIGNATURE = part(b"\x30\x80", "application/octet-stream; name=smime.p7s")
#: What must be filed to the person who sent it.
_FILED: dict[str, Made] = {
    "forward": lambda p: f"{p.head()}{TEXT}\nHello\n\n{p.forward()}".encode(),
    "base64 rfc822 with a PDF": lambda p: beside(p, part(_whole(p), "message/rfc822")),
    "message in a message in a file": lambda p: beside(
        p, part(beside(p, part(_whole(p), "message/rfc822; name=d.eml")), "application/octet-stream; name=e.eml")
    ),
    "digest": lambda p: multi(p.head(), b"\n" + f"{p.from_maker()}{TEXT}\n{p.text()}".encode(), kind="digest"),
    "flowed delsp within a code": lambda p: _flowed(p, delsp=True),
    "flowed behind a hyphen": lambda p: _flowed(p, delsp=False),
    "soft breaks within codes": _soft_breaks,
    "utf-7": _utf7,
    "iso-2022-jp": _japanese,
    "lines of CR alone": lambda p: f"{p.head()}{TEXT}\nHi\n\n{p.forward()}".replace("\n", "\r").encode(),
    "clear S/MIME": lambda p: multi(
        p.head(), part(p.forward(), "text/plain"), part(b"\x30", "application/pkcs7-signature"), kind="signed"
    ),
    "signature without its type": lambda p: multi(p.head(), part(p.forward(), "text/plain"), _SIGNATURE),
    "clear PGP": _clear_pgp,
    "calendar alone": lambda p: multi(p.from_maker(), part(_calendar(p), "text/calendar; method=REQUEST")),
    "calendar beside": lambda p: multi(
        p.from_maker(), part(p.text(), "text/plain"), part("BEGIN:VCALENDAR", "text/calendar")
    ),
    "HTML table": lambda p: f"{p.from_maker()}Content-Type: text/html\n\n{p.html()}".encode(),
    "AMP of somebody else": lambda p: multi(
        p.head(), part(p.forward(), "text/plain"), part(Person("amp").html(), "text/x-amp-html"), kind="alternative"
    ),
    "zip": lambda p: beside(p, part(packed(("c.pdf", p.pdf())), "application/zip; name=c.zip")),
    "message in a zip": lambda p: beside(p, part(packed(("c.eml", _whole(p))), "application/octet-stream; name=c.zip")),
    "Outlook file in a zip": lambda p: beside(
        p, part(packed(("c.msg", outlook(p))), "application/x-zip-compressed; name=c.zip")
    ),
    "portfolio": lambda p: beside(
        p, part(holding(page("Open this in another program."), ("c.pdf", p.pdf())), "application/pdf; name=a.pdf")
    ),
    "PDF behind a mark": lambda p: beside(
        p, part(holding(page("See the pin."), ("c.pdf", p.pdf()), mark=True), "application/pdf; name=a.pdf")
    ),
    "uuencoded PDF": lambda p: f"{p.head()}{TEXT}\nAttached.\n\n{uuencoded('c.pdf', p.pdf())}\nBye\n".encode(),
    "base64 PDF in the text": lambda p: (
        f"{p.head()}{TEXT}\nAttached.\n\n{base64.encodebytes(p.pdf()).decode()}\n".encode()
    ),
    "base64 not said": lambda p: f"{p.head()}{TEXT}\n{base64.encodebytes(p.forward().encode()).decode()}".encode(),
    "wide digits and letters": _wide,
    "own text quoted": lambda p: _quoted(p, p, named=False, writer=p),
}
#: What must be asked about.
_OPEN: dict[str, Made] = {
    "piece of a message": _partial,
    "content elsewhere": _elsewhere,
    "opaque S/MIME": lambda p: multi(p.head(), part(b"\x30\x80", "application/pkcs7-mime; name=smime.p7m")),
    "encrypted PGP": lambda p: (
        f"{p.head()}{TEXT}\n-----BEGIN PGP MESSAGE-----\n\n{'hQEMA' * 12}\n=aBcd\n-----END PGP MESSAGE-----\n".encode()
    ),
    "one of two PDFs damaged": lambda p: beside(
        p, part(p.pdf(), "application/pdf; name=a.pdf"), part(b"%PDF-1.4\n\0\1", "application/pdf; name=b.pdf")
    ),
    "form of a program": lambda p: beside(p, part(program_form(), "application/pdf; name=a.pdf")),
    "winmail.dat beside a PDF": lambda p: beside(
        p,
        part(p.pdf(), "application/pdf; name=a.pdf"),
        part(b"\x78\x9f\x3e\x22" + b"\1" * 300, "application/ms-tnef; name=winmail.dat"),
    ),
    "empty PDF": lambda p: beside(p, part("", "application/pdf; name=c.pdf"), text="It is attached."),
    "zip of zips": lambda p: beside(
        p, part(packed(("b.zip", packed(("c.pdf", p.pdf())))), "application/zip; name=c.zip")
    ),
    "office file": lambda p: beside(
        p, part(packed(("word/document.xml", b"<w/>")), "application/vnd.openxmlformats; name=c.docx")
    ),
    "two authors": lambda p: _two_authors(p, p.head(), f"From: Ada <{Person('author').email}>\n"),
    "two authors in one field": lambda p: _two_authors(p, p.head().replace(">\n", f">, {Person('author').email}\n", 1)),
}
_TWO: dict[str, Callable[[Person, Person], bytes]] = {
    "another's codes quoted": lambda p, o: _quoted(p, o, named=False, writer=o),
    "two PDFs in a stored zip": lambda p, o: beside(
        p, part(packed(("a.pdf", p.pdf()), ("b.pdf", o.pdf()), how=zipfile.ZIP_STORED), "application/zip; name=c.zip")
    ),
    "another's PDF inside the PDF": lambda p, o: beside(
        p, part(holding(p.pdf(), ("c.pdf", o.pdf())), "application/pdf; name=a.pdf")
    ),
    "two forwards": lambda p, o: f"{p.head()}{TEXT}\nBoth\n\n{p.forward()}\n\n{o.forward()}".encode(),
    "PDF of one, text of another": lambda p, o: multi(
        p.head(), part(p.forward(), "text/plain"), part(o.pdf(), "application/pdf; name=c.pdf")
    ),
    "HTML of one, text of another": lambda p, o: multi(
        p.head(), part(p.text(), "text/plain"), part(o.html(), "text/html"), kind="alternative"
    ),
}


def cases() -> dict[str, Case]:
    """Return all cases by name."""
    found = {name: Case(make(p := Person(name)), FILED, (p,)) for name, make in _FILED.items()}
    found |= {name: Case(make(p := Person(name)), OPEN, (p,)) for name, make in _OPEN.items()}
    for name, make in _TWO.items():
        p, other = Person(name), Person(f"{name} too")
        found[name] = Case(make(p, other), OPEN, (p, other))
    for name, ending, one in (("mbox", "mbox", _mbox), ("PDF in an Outlook file in one", "msg", _inside_msg)):
        found[name] = Case(one(p := Person(name)), FILED, (p,), ending)
    p = Person("zip of an Outlook file")
    found["zip of an Outlook file"] = Case(packed(("a.msg", outlook(p))), FILED, (p,), "zip")
    p, other = Person("named"), Person("named too")
    found["a named customer's codes quoted"] = Case(_quoted(p, other, named=True, writer=other), FILED, (other,))
    return found
