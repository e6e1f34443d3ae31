"""Pictures opened: page by page, upright by what the camera noted, never larger than is allowed.

The libraries of the extra ``images`` are imported where they are used: most runs see no picture.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from functools import cache
from importlib.util import find_spec
from io import BytesIO
from typing import TYPE_CHECKING

from counterfoil.model import Problem
from counterfoil.settings import Limits

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

#: Gives the room in memory and time that one picture takes.
Room = Callable[[], AbstractContextManager[None]]
#: What the extra brings, by the names they are imported under.
_NEEDED = ("PIL", "rapidocr", "onnxruntime", "zxingcpp", "pi_heif")
INSTALL = "pip install 'counterfoil[images]'"
_FORMATS = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "GIF", "BMP", "HEIF", "AVIF")
#: Formats whose further frames are pages; in the others they are a film or another view of the same.
_WITH_PAGES = frozenset({"TIFF"})
#: Reading text does not gain from more pixels along the longer edge than this: the reader makes them fewer itself.
MOST_ALONG_EDGE = 2_000


class PictureUnread(Exception):
    """A picture cannot be read: the problem, and a sentence."""

    def __init__(self, problem: Problem, reason: str) -> None:
        super().__init__(reason)
        self.problem, self.reason = problem, reason


@cache
def can_read() -> bool:
    """Say whether the libraries that read pictures are installed."""
    return all(find_spec(name) is not None for name in _NEEDED)


def pages_of(data: bytes, limits: Limits, room: Room) -> Iterator[tuple[Image, tuple[int, int]]]:
    """Open a picture.

    Args:
        data: the file.
        limits: pixels, and pages.
        room: gives the room that decoding a page and working on it takes.

    Yields:
        Each page in RGB, upright by its EXIF orientation, perhaps with fewer pixels than it has; and its full width
        and height, upright, in pixels.

    Raises:
        PictureUnread: it is broken, or larger than is read. Pages before the broken one have been handed out.
    """
    import pi_heif
    from PIL import Image, UnidentifiedImageError

    pi_heif.register_heif_opener()
    with warnings.catch_warnings():
        # Size is judged below; doubtful metadata is no reason to stop.
        warnings.simplefilter("ignore")
        try:
            with Image.open(BytesIO(data), formats=_registered(_FORMATS)) as opened:
                count = getattr(opened, "n_frames", 1) if opened.format in _WITH_PAGES else 1
                for number in range(min(count, limits.pictures)):
                    if count > 1:
                        opened.seek(number)
                    _refuse_large(opened.size, limits)
                    with room():
                        yield _upright(opened, first=number == 0)
                if count > limits.pictures:
                    reason = f"The picture has {count:,} pages; the first {limits.pictures} were read."
                    raise PictureUnread(Problem.TOO_LARGE, reason)
        except Image.DecompressionBombError as error:
            raise _too_large(limits) from error
        except UnidentifiedImageError as error:
            raise PictureUnread(Problem.DAMAGED, "The picture is damaged and cannot be opened.") from error
        except (PictureUnread, MemoryError):
            raise
        # Decoders raise whatever broken bytes lead to (OSError, ValueError, SyntaxError, struct.error, EOFError ...);
        # each means the same: the rest of the picture cannot be read.
        except Exception as error:
            raise PictureUnread(Problem.DAMAGED, "The picture is damaged and cannot be decoded.") from error


def _upright(opened: ImageFile, *, first: bool) -> tuple[Image, tuple[int, int]]:
    """Return the page that is open, decoded and upright, and its full size."""
    from PIL import ImageOps

    width, height = opened.size
    if first and opened.format in ("JPEG", "MPO"):
        # The decoder leaves out what would be thrown away: a phone photo takes a quarter of the time.
        opened.draft("RGB", (MOST_ALONG_EDGE, MOST_ALONG_EDGE))
    drafted = opened.size
    upright = ImageOps.exif_transpose(opened)
    turned = upright.size != drafted and upright.size == drafted[::-1]
    return _plain(upright), (height, width) if turned else (width, height)


def _registered(names: tuple[str, ...]) -> list[str]:
    from PIL import Image

    Image.init()
    return [name for name in names if name in Image.OPEN]


def _refuse_large(size: tuple[int, int], limits: Limits) -> None:
    if size[0] * size[1] > limits.picture_pixels:
        raise _too_large(limits, size)


def _too_large(limits: Limits, size: tuple[int, int] | None = None) -> PictureUnread:
    what = f"{size[0]:,} times {size[1]:,} pixels" if size else "far more pixels"
    reason = f"The picture has {what}; at most {limits.picture_pixels:,} in all are read."
    return PictureUnread(Problem.TOO_LARGE, reason)


def _plain(image: Image) -> Image:
    """Return a picture in RGB: what is transparent on white, as on paper; sixteen bits made eight."""
    from PIL import Image

    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda value: value / 256).convert("L")
    if image.has_transparency_data:
        image = image.convert("RGBA")
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image)
        image = paper
    return image.convert("RGB")
