"""The type and the paper of printed sheets: fonts, styles, sizes, and text made fit for a paragraph."""

from __future__ import annotations

from functools import cache
from importlib import resources
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, black
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from counterfoil.answers.lettering import marked
from counterfoil.errors import UsageProblem

TEXT, BOLD, MONO = "SheetText", "SheetBold", "SheetMono"
GREY = Color(0.32, 0.32, 0.32)
RULE = Color(0.62, 0.62, 0.62)
TINT = Color(0.93, 0.93, 0.93)

#: Width and height in points: ISO 216 A4, and Letter (8.5 by 11 inches, ANSI/ASME Y14.1).
PAPERS: dict[str, tuple[float, float]] = {"a4": A4, "letter": LETTER}
#: Where Letter is the usual paper (Unicode CLDR, supplemental data, paperSize); A4 everywhere else.
_LETTER_REGIONS = frozenset(["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"])
#: Paper on all sides that is left free.
MARGIN = 15 * mm
#: Where the number of a page stands, from the lower edge.
_NUMBER_HEIGHT = 11 * mm

#: Characters that are tried to fit a line.
_LONGEST_LINE = 200

_FILES = {TEXT: "DejaVuSansCondensed", BOLD: "DejaVuSansCondensed-Bold", MONO: "DejaVuSansMono-Bold"}


def usual_paper(region: str) -> str:
    """Return the name of the paper that is usual in a country.

    Args:
        region: ISO 3166-1 code.
    """
    return "letter" if region.upper() in _LETTER_REGIONS else "a4"


def paper_size(name: str) -> tuple[float, float]:
    """Return width and height of a paper in points.

    Raises:
        UsageProblem: there is no paper of this name.
    """
    size = PAPERS.get(name.lower())
    if size is None:
        raise UsageProblem(f"There is no paper {name!r}.", f"Known papers: {', '.join(PAPERS)}.")
    return size


@cache
def glyphs() -> frozenset[int]:
    """Register the type of the sheet, once; return the code points it can show."""
    folder = resources.files("counterfoil.answers") / "type"
    for name, file in _FILES.items():
        with resources.as_file(folder / f"{file}.ttf") as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))
    shown = [frozenset(pdfmetrics.getFont(name).face.charToGlyph) for name in (TEXT, BOLD)]
    return shown[0] & shown[1]


@cache
def style(name: str) -> ParagraphStyle:
    """Return a style by its name: body, title, head, strong, label, value, small, caution, cell, cell strong."""
    base = {"fontName": TEXT, "fontSize": 10, "leading": 13.5, "textColor": black, "splitLongWords": 1}
    special: dict[str, dict[str, object]] = {
        "body": {},
        "title": {"fontName": BOLD, "fontSize": 19, "leading": 23},
        "head": {"fontName": BOLD, "fontSize": 12, "leading": 16},
        "strong": {"fontName": BOLD},
        "label": {"fontSize": 8, "leading": 12, "textColor": GREY},
        "value": {"fontSize": 9.5, "leading": 12.5},
        "small": {"fontSize": 8, "leading": 11},
        "caution": {"fontSize": 9, "leading": 11.5},
        "cell": {"fontSize": 9, "leading": 12},
        "cell strong": {"fontName": BOLD, "fontSize": 9, "leading": 12},
    }
    return ParagraphStyle(name, **(base | special[name]))


def shown(text: str) -> str:
    """Return a text on one line in letters that the type has, marked where it had to be changed."""
    return marked(" ".join(text.split()), glyphs())


def markup(text: str, most: int = 300) -> str:
    """Return a text as a paragraph takes it: in letters the type has, with the signs of markup escaped.

    Args:
        text: any text.
        most: characters that are printed; a longer text ends with an ellipsis, as no text may be longer than a page.
    """
    one_line = shown(text)
    return escape(one_line if len(one_line) <= most else f"{one_line[: most - 1].rstrip()}…")


def with_bold(text: str, part: str, most: int) -> str:
    """Return a text as a paragraph takes it, with one part of it in bold; without that where it is not in the text.

    Args:
        text: any text; where it does not begin with the part, the last place of it counts.
        part: what the eye looks for.
        most: characters that are printed.
    """
    begin = 0 if text.startswith(part) else text.rfind(part)
    if not part or begin < 0 or len(text) > most:
        return markup(text, most)
    before, after = text[:begin].rstrip(), text[begin + len(part) :]
    gap = " " if before and text[begin - 1].isspace() else ""
    rest = (" " if after[:1].isspace() else "") + markup(after, most)
    return f"{markup(before, most)}{gap}<font name='{BOLD}'>{markup(part, most)}</font>{rest}"


def fitted(text: str, font: str, points: float, room: float, *, least: float = 8.0) -> tuple[str, float]:
    """Return a text and the size in points at which it fits a line; cut with an ellipsis where none does.

    Args:
        text: what stands there.
        font: one of the fonts of the sheet.
        points: the size wanted.
        room: the width there is, in points.
        least: the smallest size.
    """
    text = text[:_LONGEST_LINE]
    width = pdfmetrics.stringWidth(text, font, 1.0)
    size = max(least, min(points, room / width if width else points))
    if width * size <= room:
        return text, size
    while text and pdfmetrics.stringWidth(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text.rstrip()}…", size


class NumberedCanvas(Canvas):  # type: ignore[misc]  # reportlab has no types
    """A canvas that knows the number of pages when it writes their numbers."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._pages: list[dict[str, object]] = []

    def showPage(self) -> None:  # noqa: N802 - the name is reportlab's
        """Keep the page until the number of pages is known."""
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Write the pages kept, each with its number."""
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self.setFont(TEXT, 8)
            self.setFillColor(GREY)
            self.drawRightString(self._pagesize[0] - MARGIN, _NUMBER_HEIGHT, f"Page {number} of {len(self._pages)}")
            super().showPage()
        super().save()
