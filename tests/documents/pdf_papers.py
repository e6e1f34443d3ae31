"""PDFs for tests, drawn with reportlab: one confirmation in the layouts that readers stumble over."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

from PIL import Image
from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

FIELDS = (
    ("Customer", "Marit Solvang"),
    ("Machine ID", "HG-482913-K"),
    ("Serial number", "8812-00731"),
    ("Product key", "SPQR-7788-ABCD-0192"),
    ("Activation code", "Z9QX-44TT-PLM2-881A"),
    ("Purchase date", "4 March 2025"),
)
Draw = Callable[[Canvas], None]


def paper(*pages: Draw, password: str | None = None) -> bytes:
    """Return a PDF of A4 pages."""
    out = BytesIO()
    lock = StandardEncryption(password, strength=128) if password else None
    canvas = Canvas(out, pagesize=(595, 842), invariant=1, encrypt=lock)
    for draw in pages:
        canvas.setFont("Helvetica", 10)
        draw(canvas)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _heights() -> list[float]:
    return [740 - 20 * number for number in range(len(FIELDS))]


def beside(c: Canvas) -> None:
    """Label and value side by side."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(60, y, f"{label}:")
        c.drawString(220, y, value)


def one_string(c: Canvas) -> None:
    """Label and value in one string."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(60, y, f"{label}: {value}")


def labels_first(c: Canvas) -> None:
    """All labels drawn before all values."""
    for (label, _), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(60, y, label)
    for (_, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(220, y, value)


def backwards(c: Canvas) -> None:
    """Drawn from the bottom up, values before labels."""
    for (label, value), y in reversed(list(zip(FIELDS, _heights(), strict=True))):
        c.drawString(220, y, value)
        c.drawString(60, y, label)


def right_aligned(c: Canvas) -> None:
    """Values set flush right."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(60, y, label)
        c.drawRightString(530, y, value)


def labels_right(c: Canvas) -> None:
    """Labels flush right against their values."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawRightString(200, y, label)
        c.drawString(215, y, value)


def leaders(c: Canvas) -> None:
    """Dots between label and value."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.drawString(60, y, label + " " + "." * 40)
        c.drawString(320, y, value)


def big_values(c: Canvas) -> None:
    """Values in larger type on the same base line."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.setFont("Helvetica", 9)
        c.drawString(60, y, label)
        c.setFont("Helvetica-Bold", 13)
        c.drawString(220, y, value)


def spaced_labels(c: Canvas) -> None:
    """Labels in letter-spaced capitals."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        text = c.beginText(60, y)
        text.setCharSpace(3)
        text.textOut(label.upper())
        c.drawText(text)
        c.drawString(300, y, value)


def ruled(c: Canvas) -> None:
    """A ruled table."""
    for (label, value), y in zip(FIELDS, _heights(), strict=True):
        c.rect(55, y - 5, 150, 20)
        c.rect(205, y - 5, 200, 20)
        c.drawString(60, y, label)
        c.drawString(210, y, value)


def tall_mark(c: Canvas) -> None:
    """A letter several lines high stands beside the table."""
    c.setFont("Helvetica-Bold", 90)
    c.drawString(470, 690, "H")
    c.setFont("Helvetica", 10)
    beside(c)


def turned_margin(c: Canvas) -> None:
    """A line turned by ninety degrees stands in the margin."""
    c.saveState()
    c.translate(30, 560)
    c.rotate(90)
    c.drawString(0, 0, "Form 27 of the registration office")
    c.restoreState()
    beside(c)


def over_label(c: Canvas) -> None:
    """A page turned by ninety degrees."""
    c.setPageRotation(90)
    beside(c)


#: Layouts in which label and value stand on one line.
SIDE_BY_SIDE: tuple[Draw, ...] = (
    beside,
    one_string,
    labels_first,
    backwards,
    right_aligned,
    labels_right,
    leaders,
    big_values,
    spaced_labels,
    ruled,
    tall_mark,
    turned_margin,
    over_label,
)


def under(c: Canvas) -> None:
    """Values under their labels."""
    for number, (label, value) in enumerate(FIELDS):
        c.setFont("Helvetica", 8)
        c.drawString(60, 760 - 40 * number, label)
        c.setFont("Helvetica", 11)
        c.drawString(60, 746 - 40 * number, value)


def two_columns(c: Canvas) -> None:
    """Two columns of labels and values."""
    for number, (label, value) in enumerate(FIELDS):
        x, y = (60, 740 - 20 * number) if number < 3 else (320, 740 - 20 * (number - 3))
        c.drawString(x, y, label)
        c.drawString(x + 100, y, value)


def broken_code(c: Canvas) -> None:
    """A code broken after its hyphen at a line end."""
    c.drawString(60, 700, "Activation code")
    c.drawString(220, 700, "Z9QX-44TT-")
    c.drawString(220, 688, "PLM2-881A")


def letters(c: Canvas) -> None:
    """A code drawn letter by letter with wide spacing."""
    c.drawString(60, 700, "Code")
    for number, char in enumerate("AB12-CD34"):
        c.drawString(200 + 11 * number, 700, char)


def form(c: Canvas) -> None:
    """A form: the value is in a field."""
    c.drawString(60, 700, "Machine ID")
    c.acroForm.textfield(name="id", value="HG-482913-K", x=200, y=694, width=160, height=18, fontSize=10)


def photo(c: Canvas) -> None:
    """A scan: one picture over the whole page."""
    c.drawImage(ImageReader(Image.new("L", (120, 160), 200)), 0, 0, 595, 842)


def blank(c: Canvas) -> None:
    """Nothing at all."""
    c.setFont("Helvetica", 10)
