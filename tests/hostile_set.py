"""A set of hostile mails and files, each made in a few lines, the same for every run.

Every case is a message, or a file that holds messages, by the ending of its name.
"""

from __future__ import annotations

import base64
import io
import struct
import zipfile
import zlib
from collections.abc import Callable

from hostile_cut import lengths_in_each_other, object_stream_bomb, object_stream_flood, undrawn_form_bomb
from hostile_files import (
    bombs_inside,
    files_in_circles,
    flate_bomb,
    mail,
    many_operators,
    page_of,
    pdf,
    recursive_forms,
    stream,
)

HEAD = (
    b"From: Marit Solvang <marit@letterbox.example>\r\nTo: desk@naht.example\r\nSubject: My confirmation\r\n"
    b"Date: Tue, 03 Mar 2026 10:00:00 +0000\r\nMIME-Version: 1.0\r\n"
)
CATALOGUE = b"<< /Type /Catalog /Pages 2 0 R >>"
PAGE = b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] >>"


def text(body: bytes, kind: bytes = b"text/plain; charset=utf-8", more: bytes = b"") -> bytes:
    """Return a message of one part."""
    return HEAD + more + b"Content-Type: " + kind + b"\r\n\r\n" + body


def paper(data: bytes) -> bytes:
    """Return a message with a PDF."""
    return mail(("confirmation.pdf", data))


def attached(name: str, kind: str, data: bytes) -> bytes:
    """Return a message with a file."""
    lines = base64.encodebytes(data)
    head = (
        f'--b\r\nContent-Type: {kind}; name="{name}"\r\nContent-Disposition: attachment; filename="{name}"\r\n'
        "Content-Transfer-Encoding: base64\r\n\r\n"
    )
    body = b"--b\r\nContent-Type: text/plain\r\n\r\nSee the file.\r\n" + head.encode() + lines + b"\r\n--b--\r\n"
    return text(body, b"multipart/mixed; boundary=b")


def _zip(*entries: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in entries:
            file.writestr(name, data)
    return out.getvalue()


# --- PDF -------------------------------------------------------------------------------------------------------------


def many_pages(count: int = 20_000) -> bytes:
    """Return a PDF of very many pages."""
    kids = b" ".join(b"%d 0 R" % number for number in range(3, count + 3))
    return pdf(CATALOGUE, b"<< /Type /Pages /Kids [%b] /Count %d >>" % (kids, count), *[PAGE] * count)


def deep_page_tree(depth: int = 20_000) -> bytes:
    """Return a PDF whose one page hangs under very many nodes."""
    nodes = [b"<< /Type /Pages /Kids [%d 0 R] /Count 1 >>" % (number + 3) for number in range(depth)]
    return pdf(CATALOGUE, *nodes, PAGE)


def page_tree_loop() -> bytes:
    """Return a PDF whose page tree holds itself."""
    return pdf(CATALOGUE, b"<< /Type /Pages /Kids [2 0 R 3 0 R] /Count 100000 /Parent 2 0 R >>", PAGE)


def xref_loop() -> bytes:
    """Return a PDF whose cross-reference table names itself as the one before."""
    whole = pdf(CATALOGUE, b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>", PAGE)
    at = whole.rindex(b"xref\n0")
    return whole.replace(b"/Root 1 0 R", b"/Root 1 0 R /Prev %d" % at)


def object_stream_loop() -> bytes:
    """Return a PDF with an object stream that extends itself and holds itself."""
    inner = b"2 0 6 10 << /Type /Pages /Kids [3 0 R] /Count 1 >> 6 0 R"
    more = b"/Type /ObjStm /N 2 /First 9 /Extends 4 0 R"
    return pdf(CATALOGUE, b"4 0 R", PAGE, stream(inner, more))


def deep_arrays(depth: int = 500_000) -> bytes:
    """Return a PDF with arrays inside arrays."""
    return page_of(stream(b"BT ET"), b"/X " + b"[" * depth + b"]" * depth)


def deep_operands(depth: int = 200_000) -> bytes:
    """Return a PDF whose page content nests arrays and dictionaries."""
    return page_of(stream(b"[" * depth + b"<<" * depth))


def to_unicode_bomb() -> bytes:
    """Return a PDF whose font maps every code to a long text, again and again."""
    ranges = b"1 beginbfrange <0000> <ffff> <%b> endbfrange\n" % (b"0041" * 500)
    cmap = zlib.compress(b"begincmap\n" + ranges * 20_000 + b"endcmap", 9)
    font = b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /ToUnicode 7 0 R >>"
    made = stream(cmap, b"/Filter /FlateDecode")
    return page_of(stream(b"BT /F2 9 Tf (abc) Tj ET"), b"/Font << /F2 6 0 R >>", font, made)


def many_rectangles(count: int = 1_000_000) -> bytes:
    """Return a PDF whose page draws a million rectangles."""
    return page_of(stream(zlib.compress(b"1 1 2 2 re f\n" * count, 9), b"/Filter /FlateDecode"))


def filter_chain(count: int = 400) -> bytes:
    """Return a PDF whose content is packed very many times over."""
    data = b"BT /F1 9 Tf (x) Tj ET"
    for _ in range(count):
        data = zlib.compress(data)
    return page_of(stream(data, b"/Filter [" + b"/FlateDecode " * count + b"]"))


def huge_image() -> bytes:
    """Return a PDF with a picture of 3,600 million pixels in a few bytes."""
    image = b"/Type /XObject /Subtype /Image /Width 60000 /Height 60000 /ColorSpace /DeviceRGB /BitsPerComponent 8"
    data = stream(zlib.compress(b"\0" * 1_000_000), image + b" /Filter /FlateDecode")
    return page_of(stream(b"600 0 0 800 0 0 cm /I Do"), b"/XObject << /I 6 0 R >>", data)


def huge_page() -> bytes:
    """Return a PDF with a page of two hundred kilometres."""
    page = PAGE.replace(b"[0 0 595 842]", b"[0 0 567000000 567000000]")
    return pdf(CATALOGUE, b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>", page)


def script() -> bytes:
    """Return a PDF that wants to run a script and open an address."""
    action = b"/OpenAction << /S /JavaScript /JS (while\\(1\\){}) >> /AA << /O << /S /URI /URI (http://x.example) >> >>"
    return page_of(stream(b"BT ET")).replace(b"/Type /Catalog", b"/Type /Catalog " + action)


def false_lock() -> bytes:
    """Return a PDF that says it is encrypted, in a way that is none."""
    lock = b"/Encrypt << /Filter /Standard /V 4 /R 4 /Length -1 /O () /U () /P 99999999999999 >> /ID [<00>]"
    return page_of(stream(b"BT ET")).replace(b"/Root", lock + b" /Root")


def false_lengths() -> bytes:
    """Return a PDF whose streams and table state impossible lengths."""
    whole = page_of(stream(b"BT /F1 9 Tf (x) Tj ET"))
    return whole.replace(b"/Length ", b"/Length -").replace(b"/Size ", b"/Size 99999999")


# --- MIME ------------------------------------------------------------------------------------------------------------


def deep_multiparts(depth: int = 2_000) -> bytes:
    """Return parts inside parts."""
    head = b"".join(b"--b%d\r\nContent-Type: multipart/mixed; boundary=b%d\r\n\r\n" % (n, n + 1) for n in range(depth))
    return text(head + b"--b%d\r\n\r\nMachine ID: AB-1234\r\n" % depth, b"multipart/mixed; boundary=b0")


def deep_messages(depth: int = 500) -> bytes:
    """Return messages inside messages."""
    return (HEAD + b"Content-Type: message/rfc822\r\n\r\n") * depth + text(b"Machine ID: AB-1234\r\n")


def many_parts(count: int = 10_000) -> bytes:
    """Return a message of very many parts."""
    return text(b"--b\r\n\r\nx\r\n" * count + b"--b--\r\n", b"multipart/mixed; boundary=b")


def open_boundaries(count: int = 200_000) -> bytes:
    """Return lines that are nearly boundaries."""
    return text(b"--b\n--b-\n--bb\n" * count, b"multipart/mixed; boundary=b")


def long_header(size: int = 5_000_000) -> bytes:
    """Return a header line of megabytes."""
    return HEAD + b"X-Long: " + b"a" * size + b"\r\n\r\nMachine ID: AB-1234\r\n"


def folded_header(count: int = 200_000) -> bytes:
    """Return a subject folded over very many lines."""
    return HEAD.replace(b"My confirmation", b"My" + b"\r\n x" * count) + b"\r\nHello\r\n"


def many_headers(count: int = 100_000) -> bytes:
    """Return very many header fields."""
    return HEAD + b"".join(b"X-%d: y\r\n" % n for n in range(count)) + b"\r\nHello\r\n"


def many_addresses(count: int = 100_000) -> bytes:
    """Return a message to a hundred thousand."""
    return text(
        b"Hello\r\n", more=b"Cc: " + b", ".join(b"P %d <p%d@x.example>" % (n, n) for n in range(count)) + b"\r\n"
    )


def nested_comments(depth: int = 100_000) -> bytes:
    """Return an address with comments inside comments."""
    return text(b"Hello\r\n", more=b"Cc: " + b"(" * depth + b"a@b.example" + b")" * depth + b"\r\n")


def encoded_words(count: int = 50_000) -> bytes:
    """Return a flood of encoded words."""
    return text(b"Hello\r\n", more=b"Cc: " + b" =?utf-8?q?a=C3=A9?=" * count + b" <a@b.example>\r\n")


def broken_words(count: int = 50_000) -> bytes:
    """Return encoded words that never end."""
    return HEAD.replace(b"My confirmation", b"=?utf-8?b?" * count) + b"\r\nHello\r\n"


def injected_headers() -> bytes:
    """Return encoded words, names and parameters that hold line ends and header fields."""
    word = b"=?utf-8?q?My=0D=0ABcc:_all@x.example=0D=0A=0D=0AMachine_ID:_AB-1234?="
    name = b"=?utf-8?q?a=0D=0AX: y.pdf?="
    kind = b'text/plain; name="' + name + b'"'
    return text(b"Hello\r\n", kind).replace(b"My confirmation", word)


def parameter_flood(count: int = 20_000) -> bytes:
    """Return a parameter in very many pieces (RFC 2231)."""
    pieces = b"".join(b";\r\n name*%d*=a%%C3%%A9" % n for n in range(count))
    return text(b"Hello\r\n", b"text/plain" + pieces)


def names_as_paths() -> bytes:
    """Return files whose names lead elsewhere, are very long, or hold control characters."""
    names = ("../../../../etc/x.pdf", "C:\\\\windows\\\\x.pdf", "a\\x00.pdf", "x" * 10_000 + ".pdf", "CON", "‮fdp.exe")
    parts = b"".join(
        b'--b\r\nContent-Type: application/pdf; name="%b"\r\n\r\n%%PDF-1.4 x\r\n' % name.encode() for name in names
    )
    return text(parts + b"--b--\r\n", b"multipart/mixed; boundary=b")


CHARSETS = (
    "utf-7", "idna", "punycode", "undefined", "unicode_escape", "zlib", "rot13", "base64", "utf-16",
    "utf-32", "x" * 5000,
)  # fmt: skip


def odd_charsets() -> bytes:
    """Return parts in charsets that are none, or are codecs for something else."""
    body = b"\xff\xfeMachine ID: AB-1234 +AGE- \\u0041\r\n"
    parts = b"".join(b"--b\r\nContent-Type: text/plain; charset=%b\r\n\r\n%b" % (n.encode(), body) for n in CHARSETS)
    return text(parts + b"--b--\r\n", b"multipart/mixed; boundary=b")


def soft_breaks(count: int = 1_000_000) -> bytes:
    """Return a quoted-printable text of nothing but soft line breaks."""
    return text(b"=\r\n" * count, more=b"Content-Transfer-Encoding: quoted-printable\r\n")


def broken_base64(size: int = 4_000_000) -> bytes:
    """Return base64 with signs in it that are none."""
    return text(b"QUJD*=" * (size // 6), more=b"Content-Transfer-Encoding: base64\r\n")


def uuencoded(count: int = 100_000) -> bytes:
    """Return text that begins a file again and again."""
    return text(b"begin 644 x.pdf\r\n" * count, more=b"Content-Transfer-Encoding: x-uuencode\r\n")


# --- texts -----------------------------------------------------------------------------------------------------------

HTML = b"text/html; charset=utf-8"
SEPARATOR = b"-----Original Message-----\nFrom: a@b.example\nTo: c@d.example\nDate: 3 March 2026\nSubject: x\n\n"


def deep_quotes() -> bytes:
    """Return forwards in ever deeper quotes."""
    return text(b"".join(b">" * depth + b" " + SEPARATOR[:40] + b"\n" for depth in range(0, 5_000, 5)))


def deep_html(depth: int = 100_000) -> bytes:
    """Return elements inside elements."""
    return text(b"<div><table><tr><td>" * (depth // 4) + b"Machine ID: AB-1234", HTML)


def wide_cells() -> bytes:
    """Return cells that span a thousand million columns."""
    return text(b"<table>" + b"<tr><td colspan=999999999 rowspan=99999999>x</td></tr>" * 5_000, HTML)


def many_attributes(count: int = 500_000) -> bytes:
    """Return an element with very many attributes, and a style with very many properties."""
    more = b"<p style='" + b"color:red;" * count + b"'>x</p>"
    return text(b"<p " + b" ".join(b"a%d=1" % n for n in range(count)) + b">x</p>" + more, HTML)


def style_flood(count: int = 20_000) -> bytes:
    """Return a style sheet with very many rules over very many elements."""
    return text(b"<style>" + b".a b c, p > q {display:none}" * count + b"</style>" + b"<p class=a>x" * count, HTML)


def endless_marks() -> bytes:
    """Return comments, scripts and entities that never end."""
    return text(b"<!--" * 100_000 + b"<script>" * 100_000 + b"&#x41" * 100_000 + b"<![CDATA[" * 100_000, HTML)


# --- files -----------------------------------------------------------------------------------------------------------


def pixel_bomb() -> bytes:
    """Return a PNG of 3,600 million pixels in a few bytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = zlib.compress(b"\0" * 30_000_000, 9)
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def tiff_loop() -> bytes:
    """Return a TIFF whose directory is followed by itself."""
    return b"II*\0" + struct.pack("<IHHHIII", 8, 1, 256, 4, 1, 60_000, 8) + b"\0" * 64


def jpeg_endless() -> bytes:
    """Return a JPEG of segments without length and no picture."""
    return b"\xff\xd8" + b"\xff\xe0\x00\x02" * 200_000


def compound_loop() -> bytes:
    """Return an Outlook file whose allocation table chains into itself."""
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 16 + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + b"\0" * 6
    head += struct.pack("<IIIIIIIIII", 0, 1, 0, 0, 4096, 0, 1, 0, 0, 0) + b"\0" * 436
    return (head + struct.pack("<128I", *[0] * 128) * 40)[: 512 * 41]


def zip_bomb() -> bytes:
    """Return a zip whose messages unpack to a thousand times their size, each beyond what a message may have."""
    return _zip(*((f"{n}.eml", HEAD + b"\r\n" + b"\0" * 60_000_000) for n in range(3)))


def zip_of_many(count: int = 20_000) -> bytes:
    """Return a zip of very many messages."""
    return _zip(*((f"{n}.eml", b"") for n in range(count)))


def zip_paths() -> bytes:
    """Return a zip whose names lead elsewhere."""
    return _zip(("../../x.eml", b""), ("/etc/x.eml", b""), ("a\\..\\..\\x.eml", b""), ("x" * 5_000 + ".eml", b""))


def zip_in_zip(depth: int = 12) -> bytes:
    """Return zips inside zips."""
    data = _zip(("a.eml", text(b"Hello")))
    for _ in range(depth):
        data = _zip(("a.zip", data))
    return data


def zip_damaged() -> bytes:
    """Return a zip whose directory lies about its entries."""
    data = bytearray(_zip(("a.eml", text(b"Hello" * 500))))
    at = data.rindex(b"PK\x01\x02")
    data[at + 20 : at + 28] = struct.pack("<II", 5, 4_000_000_000)
    return bytes(data)


Make = Callable[[], bytes]
#: What ends its reader or keeps it busy for a second or more.
HEAVY: dict[str, Make] = {
    "a page that unpacks to a gigabyte.eml": lambda: paper(flate_bomb()),
    "two million operators.eml": lambda: paper(many_operators()),
    "forms that draw each other.eml": lambda: paper(recursive_forms()),
    "a map of codes that swells.eml": lambda: paper(to_unicode_bomb()),
    "a million rectangles.eml": lambda: paper(many_rectangles()),
    "arrays inside arrays.eml": lambda: paper(deep_arrays()),
    "an object stream of a gigabyte.eml": lambda: paper(object_stream_bomb()),
    "an object of 30 million numbers.eml": lambda: paper(object_stream_flood()),
    "a form of a gigabyte that is not drawn.eml": lambda: paper(undrawn_form_bomb()),
    "operands inside operands.eml": lambda: paper(deep_operands()),
    "a page under 20,000 nodes.eml": lambda: paper(deep_page_tree()),
    "20,000 pages.eml": lambda: paper(many_pages()),
    "line ends of all kinds.eml": lambda: text(b"\r\n\r\n\n\r\x0b\x0c\x1c\x85" * 100_000),
    "messages that unpack to a thousand times their size.zip": zip_bomb,
    "a zip attached that unpacks to a thousand times its size.eml": lambda: attached(
        "a.zip", "application/zip", zip_bomb()
    ),
    "files inside a PDF that unpack to gigabytes.eml": lambda: paper(bombs_inside()),
}
LIGHT: dict[str, Make] = {
    "a page tree that holds itself.eml": lambda: paper(page_tree_loop()),
    "a table that names itself.eml": lambda: paper(xref_loop()),
    "an object stream that holds itself.eml": lambda: paper(object_stream_loop()),
    "packed 400 times.eml": lambda: paper(filter_chain()),
    "a huge picture on a page.eml": lambda: paper(huge_image()),
    "a huge page.eml": lambda: paper(huge_page()),
    "lengths in each other.eml": lambda: paper(lengths_in_each_other()),
    "a script in a PDF.eml": lambda: paper(script()),
    "a lock that is none.eml": lambda: paper(false_lock()),
    "impossible lengths.eml": lambda: paper(false_lengths()),
    "a PDF of nothing.eml": lambda: paper(b"%PDF-1.7\n"),
    "a PDF behind 5 KB.eml": lambda: paper(b"x" * 5_000 + page_of(stream(b"BT ET"))),
    "2,000 parts in each other.eml": deep_multiparts,
    "500 messages in each other.eml": deep_messages,
    "10,000 parts.eml": many_parts,
    "nearly boundaries.eml": open_boundaries,
    "a header of 5 MB.eml": long_header,
    "a subject of 200,000 lines.eml": folded_header,
    "100,000 headers.eml": many_headers,
    "100,000 addresses.eml": many_addresses,
    "comments in comments.eml": nested_comments,
    "50,000 encoded words.eml": encoded_words,
    "encoded words without end.eml": broken_words,
    "headers injected.eml": injected_headers,
    "a parameter in 20,000 pieces.eml": parameter_flood,
    "names that are paths.eml": names_as_paths,
    "odd charsets.eml": odd_charsets,
    "soft breaks.eml": soft_breaks,
    "broken base64.eml": broken_base64,
    "files begun and not ended.eml": uuencoded,
    "files begun in base64.eml": lambda: text(b"begin-base64 644 a\n" + (b"A" * 76 + b"\nB\n") * 50_000),
    "files inside that hold each other.eml": lambda: paper(files_in_circles()),
    "zero bytes.eml": lambda: text(b"Machine ID: \0AB-1234\0" + b"\0" * 2_000_000),
    "no header.eml": lambda: b"\n" * 100_000 + b"Machine ID: AB-1234",
    "no text at all.eml": lambda: bytes(range(256)) * 4_000,
    "100,000 elements in each other.eml": deep_html,
    "cells without end.eml": wide_cells,
    "20,000 rules of style.eml": style_flood,
    "marks without end.eml": endless_marks,
    "2,000 forwards.eml": lambda: text(SEPARATOR * 2_000),
    "quotes 5,000 deep.eml": deep_quotes,
    "a line of spaces.eml": lambda: text(b"From:" + b" " * 200_000 + b"x\n" + b"\t" * 200_000 + b"x"),
    "a code without end.eml": lambda: text(b"Activation code: " + b"A1B2-" * 200_000),
    "a picture of 3,600 million pixels.eml": lambda: attached("card.png", "image/png", pixel_bomb()),
    "a TIFF that follows itself.eml": lambda: attached("scan.tif", "image/tiff", tiff_loop()),
    "a JPEG without a picture.eml": lambda: attached("card.jpg", "image/jpeg", jpeg_endless()),
    "an Outlook file that chains itself.eml": lambda: attached("a.msg", "application/vnd.ms-outlook", compound_loop()),
    "an Outlook file that chains itself.msg": compound_loop,
    "winmail.dat of nothing.eml": lambda: attached("winmail.dat", "application/ms-tnef", b"x\x9f>\"" + b"\xff" * 999),
    "a zip attached.eml": lambda: attached("a.zip", "application/zip", zip_in_zip()),
    "20,000 empty messages.zip": zip_of_many,
    "names that lead elsewhere.zip": zip_paths,
    "zips in zips.zip": zip_in_zip,
    "a directory that lies.zip": zip_damaged,
    "100,000 From lines.mbox": lambda: b"From a@b.example Tue Mar  3 10:00:00 2026\n" * 100_000,
    "500,000 attributes.eml": many_attributes,
}  # fmt: skip
