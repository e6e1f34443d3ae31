"""A page of a document as a picture."""

from __future__ import annotations

from dataclasses import dataclass

Edges = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class PagePicture:
    """A page as a picture: PNG bytes, its size in pixels, and where the boxes asked for lie in it.

    Each of ``frames`` is left, top, right, bottom as shares of the picture's width and height, from its top left.
    """

    png: bytes
    width: int
    height: int
    frames: tuple[Edges, ...]
