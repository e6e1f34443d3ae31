"""The piece of a picture from which a value was read, cut out for a person to look at."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from io import BytesIO
from typing import TYPE_CHECKING

from counterfoil.documents.attachments import attachments
from counterfoil.documents.picture_open import PictureUnread, Room, can_read, pages_of
from counterfoil.model import BY_EYE, Box, Fact
from counterfoil.settings import Limits

if TYPE_CHECKING:
    from PIL.Image import Image

#: What is shown around a value, in shares of its height: the line above and below tell what it belongs to.
_AROUND = 1.5
#: Kinds of documents with what stands in the pictures of a PDF: read by us, or by the program that scanned it.
_OF_PDF = ("scan", "layer")
#: A value is shown at least this many pixels high.
_LEAST_HEIGHT = 60


def crops(
    message: bytes, facts: Sequence[Fact], limits: Limits, room: Room, passwords: Sequence[str] = ()
) -> list[bytes | None]:
    """Cut out where values were read by eye.

    Args:
        message: the message's bytes.
        facts: values with their places.
        limits: what opening a picture may cost; no more values are shown than pictures are read.
        room: gives the room that opening one takes.
        passwords: tried on locked PDFs.

    Returns:
        For each value a picture (PNG), turned as it was read; None where it was not read by eye, or where it cannot
        be told for certain from which of several files of one name.
    """
    if not can_read() or not any(fact.by_eye for fact in facts):
        return [None] * len(facts)
    files = attachments(message, limits)
    shown: list[bytes | None] = []
    for fact in facts[: limits.pictures]:
        with room():
            shown.append(_crop(files, fact, limits, passwords))
    return [*shown, *[None] * (len(facts) - len(shown))]


def _crop(files: Sequence[tuple[str, bytes]], fact: Fact, limits: Limits, passwords: Sequence[str]) -> bytes | None:
    kind, _, label = fact.place.document.partition(":")
    box, page = fact.place.box, fact.place.page or 1
    if box is None or not fact.by_eye or kind not in ("picture", *_OF_PDF):
        return None
    of_kind = [(name, data) for name, data in files if (b"%PDF-" in data[:1024]) == (kind in _OF_PDF)]
    named = [data for name, data in of_kind if name == label]
    if not named and label.startswith("unnamed-"):
        named = [data for name, data in of_kind if not name]
    if len(named) != 1:
        return None
    opened = _page_of_pdf(named[0], page, limits, passwords) if kind in _OF_PDF else _page(named[0], page, limits)
    return None if opened is None else _cut(*opened, box, _turn(fact))


def _turn(fact: Fact) -> int:
    """Return by how many quarters the page was turned to be read."""
    line = next(line for line in fact.evidence if line.startswith(BY_EYE))
    degrees = [int(word) for word in line.split() if word.isdecimal()]
    return degrees[0] // 90 if degrees else 0


def _page_of_pdf(data: bytes, page: int, limits: Limits, passwords: Sequence[str]) -> tuple[Image, float, float] | None:
    from counterfoil.documents.pdf_pictures import drawn_pages

    for password in ("", *passwords):
        for _, image, width, height in drawn_pages(data, [page], limits, password):
            return image, width, height
    return None


def _page(data: bytes, page: int, limits: Limits) -> tuple[Image, float, float] | None:
    """Open a picture; return its page with the width and height that its boxes are measured by."""
    try:
        # The room is there already.
        for number, (image, (width, height)) in enumerate(pages_of(data, limits, nullcontext), start=1):
            if number == page:
                return image, float(width), float(height)
    except PictureUnread:
        pass
    return None


def _cut(image: Image, width: float, height: float, box: Box, turn: int) -> bytes:
    turned = image.rotate(90 * turn, expand=True)
    if turn % 2:
        width, height = height, width
    across, down = turned.width / width, turned.height / height
    around = _AROUND * (box.y1 - box.y0)
    left, right = (box.x0 - around) * across, (box.x1 + around) * across
    top, bottom = (height - box.y1 - around) * down, (height - box.y0 + around) * down
    piece = turned.crop(
        (max(0, int(left)), max(0, int(top)), min(turned.width, int(right) + 1), min(turned.height, int(bottom) + 1))
    )
    larger = _LEAST_HEIGHT / max(1.0, (box.y1 - box.y0) * down)
    if larger > 1:
        piece = piece.resize((max(1, int(piece.width * larger)), max(1, int(piece.height * larger))))
    out = BytesIO()
    piece.save(out, "PNG")
    return out.getvalue()
