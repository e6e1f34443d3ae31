"""PDF documents in the layouts that makers use, and those that nobody can read as they are."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence

from glyphs import draw_text
from reportlab.lib.pagesizes import A4
from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.pdfgen.canvas import Canvas
from world import Confirmation

Rows = Sequence[tuple[str, str]]
LEFT, RIGHT, TOP = 56.0, A4[0] - 56.0, A4[1] - 150.0
FONT, BOLD = "Helvetica", "Helvetica-Bold"


def _canvas(buffer: io.BytesIO, title: str, encrypt: StandardEncryption | None = None) -> Canvas:
    # Without compression the bytes do not depend on the zlib that Python was built with.
    canvas = Canvas(buffer, pagesize=A4, invariant=1, pageCompression=0, encrypt=encrypt)
    canvas.setTitle(title)
    return canvas


def _head(canvas: Canvas, maker: str, title: str) -> None:
    canvas.setFont(BOLD, 20)
    canvas.drawString(LEFT, A4[1] - 72, maker)
    canvas.setFont(BOLD, 13)
    canvas.drawString(LEFT, A4[1] - 112, title)
    canvas.line(LEFT, A4[1] - 122, RIGHT, A4[1] - 122)
    canvas.setFont(FONT, 10)


def _lines(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        canvas.drawString(LEFT, TOP - 20 * number, f"{label}: {value}")


def _columns(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        canvas.drawString(LEFT, TOP - 22 * number, label)
        canvas.drawString(LEFT + 175, TOP - 22 * number, value)


def _two(canvas: Canvas, rows: Rows) -> None:
    half = (len(rows) + 1) // 2
    canvas.setFont(FONT, 8)
    for column, part in enumerate((rows[:half], rows[half:])):
        left = LEFT - 20 + column * 270
        for number, (label, value) in enumerate(part):
            canvas.drawString(left, TOP - 24 * number, label)
            canvas.drawString(left + 105, TOP - 24 * number, value)


def _under(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        y = TOP - 36 * number
        canvas.setFont(FONT, 8)
        canvas.drawString(LEFT, y, label)
        canvas.setFont(BOLD, 11)
        canvas.drawString(LEFT, y - 14, value)


def _right(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        canvas.drawString(LEFT, TOP - 22 * number, label)
        canvas.drawRightString(RIGHT, TOP - 22 * number, value)


def _ruled(canvas: Canvas, rows: Rows) -> None:
    middle = LEFT + 160
    for number, (label, value) in enumerate(rows):
        y = TOP - 24 * number
        canvas.rect(LEFT, y - 8, RIGHT - LEFT, 24)
        canvas.drawString(LEFT + 6, y, label)
        canvas.drawString(middle + 6, y, value)
    canvas.line(middle, TOP + 16, middle, TOP - 24 * len(rows) + 16)


def _broken(canvas: Canvas, rows: Rows) -> None:
    y = TOP
    for label, value in rows:
        canvas.drawString(LEFT, y, label)
        cut = value.rfind("-", 0, len(value) * 2 // 3 + 1) + 1
        if len(value) > 18 and value.count("-") > 2 and " " not in value:
            canvas.drawString(LEFT + 175, y, value[:cut])
            y -= 14
            value = value[cut:]
        canvas.drawString(LEFT + 175, y, value)
        y -= 24


def _spaced(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        canvas.drawString(LEFT, TOP - 24 * number, label.upper(), charSpace=2.4)
        canvas.drawString(LEFT + 250, TOP - 24 * number, value)


def _labels_first(canvas: Canvas, rows: Rows) -> None:
    for number, (label, _value) in enumerate(rows):
        canvas.drawString(LEFT, TOP - 22 * number, f"{label}:")
    for number, (_label, value) in enumerate(rows):
        canvas.drawString(LEFT + 175, TOP - 22 * number, value)


def _dotted(canvas: Canvas, rows: Rows) -> None:
    for number, (label, value) in enumerate(rows):
        y = TOP - 22 * number
        canvas.drawString(LEFT, y, label)
        end = LEFT + canvas.stringWidth(label, FONT, 10) + 8
        dots = int((LEFT + 200 - end) / canvas.stringWidth(".", FONT, 10))
        canvas.drawString(end, y, "." * dots)
        canvas.drawString(LEFT + 210, y, value)


def _grid(canvas: Canvas, rows: Rows) -> None:
    """Three labels in a row, their values in the row below."""
    canvas.setFont(FONT, 9)
    for number, (label, value) in enumerate(rows):
        x, y = LEFT + (number % 3) * 168, TOP - (number // 3) * 44
        canvas.drawString(x, y, label)
        canvas.drawString(x, y - 13, value)


_LAYOUTS: dict[str, Callable[[Canvas, Rows], None]] = {
    "lines": _lines,
    "columns": _columns,
    "two": _two,
    "under": _under,
    "right": _right,
    "ruled": _ruled,
    "broken": _broken,
    "spaced": _spaced,
    "labels-first": _labels_first,
    "dotted": _dotted,
    "grid": _grid,
}


def paper(confirmation: Confirmation, layout: str, password: str = "") -> bytes:
    """Return the confirmation as a PDF in one of the layouts; ``pages`` puts a letter and terms before it."""
    buffer = io.BytesIO()
    title, maker = confirmation.say("title"), confirmation.machine.maker.name
    encrypt = StandardEncryption(password, ownerPassword=password + "-owner", strength=40) if password else None
    canvas = _canvas(buffer, title, encrypt)
    if layout == "pages":
        _head(canvas, maker, title)
        canvas.drawString(LEFT, TOP, confirmation.say("greeting"))
        canvas.drawString(LEFT, TOP - 28, confirmation.say("opening"))
        canvas.showPage()
        _head(canvas, maker, "2 / 3")
        for number in range(18):
            canvas.drawString(LEFT, TOP - 18 * number, f"{number + 1}. {confirmation.say('closing')}")
        canvas.showPage()
        layout = "columns"
    _head(canvas, maker, title)
    _LAYOUTS[layout](canvas, confirmation.rows)
    canvas.setFont(FONT, 8)
    canvas.drawString(LEFT, 70, confirmation.say("closing"))
    canvas.save()
    return buffer.getvalue()


def sheet(heading: str, title: str, lines: Sequence[str | tuple[str, ...]]) -> bytes:
    """Return any other document: lines of text, or tuples that stand in columns."""
    buffer = io.BytesIO()
    canvas = _canvas(buffer, title)
    _head(canvas, heading, title)
    for number, line in enumerate(lines):
        cells = (line,) if isinstance(line, str) else line
        for column, cell in enumerate(cells):
            canvas.drawString(LEFT + column * 130, TOP - 18 * number, cell)
    canvas.save()
    return buffer.getvalue()


def damaged(pdf: bytes) -> bytes:
    """Return a PDF cut short and with its object numbers gone: what a broken transfer leaves."""
    return pdf[: len(pdf) // 3].replace(b" obj", b" o\0j").replace(b"stream", b"str\0am")


def scanned(lines: Sequence[str]) -> bytes:
    """Return a PDF with one page that is a picture of text, as a flat-bed scanner makes it."""
    width, height, raster = draw_text(lines, scale=3)
    content = f"q 480 0 0 {480 * height / width:.1f} 56 400 cm /Im0 Do Q".encode()
    image = (
        f"<< /Type /XObject /Subtype /Image /Width {width} /Height {height} /ColorSpace /DeviceGray"
        f" /BitsPerComponent 1 /Length {len(raster)} >>"
    ).encode()
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R"
        b" /Resources << /XObject << /Im0 5 0 R >> >> >>",
        f"<< /Length {len(content)} >>".encode() + b"\nstream\n" + content + b"\nendstream",
        image + b"\nstream\n" + raster + b"\nendstream",
    ]
    out, places = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"), []
    for number, item in enumerate(objects, start=1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + item + b"\nendobj\n"
    start = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode()
    out += b"".join(f"{p:010d} 00000 n \n".encode() for p in places)
    out += f"trailer\n<< /Size {len(objects) + 1} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()
    return bytes(out)
