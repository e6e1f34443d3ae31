"""Pages and pieces of pictures drawn in a reading process: what is asked of it, and the pictures that come back."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from counterfoil.model import Box, PagePicture
from counterfoil.sandbox.wire import FrameBroken, Json


@dataclass(frozen=True, slots=True)
class Drawing:
    """A page to be drawn: the document's name, its page from 1, boxes whose place is wanted, boxes painted over.

    ``hide_pictures``: see :func:`counterfoil.documents.render.page_picture`.
    """

    document: str
    page: int
    frames: tuple[Box, ...]
    hidden: tuple[Box, ...]
    hide_pictures: bool


def drawing_json(drawing: Drawing) -> Json:
    """Return what is asked as JSON."""
    return {
        "document": drawing.document,
        "page": drawing.page,
        "frames": [_corners(box) for box in drawing.frames],
        "hidden": [_corners(box) for box in drawing.hidden],
        "hide_pictures": drawing.hide_pictures,
    }


def drawing_of(value: Json) -> Drawing:
    """Return what is asked in JSON. It comes from the run itself and is not doubted."""
    frames, hidden = (tuple(Box(*corners) for corners in value[name]) for name in ("frames", "hidden"))
    return Drawing(value["document"], value["page"], frames, hidden, value["hide_pictures"])


def picture_json(picture: PagePicture) -> Json:
    """Return a picture as JSON."""
    png = base64.b64encode(picture.png).decode("ascii")
    return {"png": png, "width": picture.width, "height": picture.height, "frames": picture.frames}


def picture_of(value: Any) -> PagePicture:
    """Return the picture in JSON.

    Raises:
        FrameBroken: it is none.
    """
    try:
        png = base64.b64decode(value["png"], validate=True)
        frames = tuple((float(a), float(b), float(c), float(d)) for a, b, c, d in value["frames"])
        return PagePicture(png, int(value["width"]), int(value["height"]), frames)
    except (KeyError, TypeError, ValueError, OverflowError, binascii.Error) as error:
        raise FrameBroken("no picture") from error


def crops_json(pieces: Sequence[bytes | None]) -> Json:
    """Return pieces of pictures (PNG) as JSON."""
    return {"crops": [None if piece is None else base64.b64encode(piece).decode("ascii") for piece in pieces]}


def crops_of(value: Any, count: int) -> list[bytes | None]:
    """Return the pieces in JSON.

    Raises:
        FrameBroken: they are not as many as were asked for, or none.
    """
    try:
        pieces = [None if piece is None else base64.b64decode(piece, validate=True) for piece in value]
    except (TypeError, ValueError, binascii.Error) as error:
        raise FrameBroken("no pictures") from error
    if len(pieces) != count:
        raise FrameBroken("pictures are missing")
    return pieces


def _corners(box: Box) -> Sequence[float]:
    return [box.x0, box.y0, box.x1, box.y1]
