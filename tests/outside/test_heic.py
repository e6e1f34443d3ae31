"""Long run over real HEIC pictures: those in the tests of pi-heif (PyPI, BSD-3-Clause), fetched as corpora.py says."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path

import pytest
from corpora import files
from PIL import Image, ImageChops

from counterfoil.documents.picture import recognise
from counterfoil.documents.picture_open import PictureUnread, pages_of
from counterfoil.model import Problem
from counterfoil.settings import Limits

pytestmark = pytest.mark.long
#: Mean difference of a colour, of 255, between a picture and the one it was compressed from.
_ALIKE = 3.0


def opened(path: Path) -> tuple[Image.Image, tuple[int, int]]:
    """Return the first page of a picture as it is handed to the reader of text, and its full size."""
    return next(iter(pages_of(path.read_bytes(), Limits(), nullcontext)))


def heic() -> list[Path]:
    """Return the HEIC pictures that are whole."""
    found = [p for p in files("pi-heif") if p.suffix in (".heic", ".heif", ".hif")]
    return [p for p in found if p.parent.name not in ("heif_corrupted", "heif_truncated")]


def test_heic_is_known_by_its_bytes_and_opened() -> None:
    """Every whole picture is recognised and opened with all its pixels, but one that has more than are read."""
    whole, too_large = 0, []
    for path in heic():
        picture = recognise(path.read_bytes())
        assert picture is not None and picture.media_type == "image/heic", path.name
        try:
            image, size = opened(path)
        except PictureUnread as error:
            too_large.append((path.name, error.problem))
            continue
        assert image.size == size and image.mode == "RGB"
        whole += 1
    assert whole >= 30
    assert too_large == [("200MP.heic", Problem.TOO_LARGE)]


def test_heic_shows_what_it_was_made_from() -> None:
    """Pictures that pi-heif has as PNG as well look like them: no colour is swapped, nothing is turned."""
    compared = 0
    for path in heic():
        source = path.parents[1] / "non_heif" / f"{path.stem}.png"
        if source.exists():
            histogram = ImageChops.difference(opened(path)[0], opened(source)[0]).convert("L").histogram()
            assert sum(n * count for n, count in enumerate(histogram)) < _ALIKE * sum(histogram), path.name
            compared += 1
    assert compared >= 8


def test_turned_heic_stands_upright() -> None:
    """A photo that the camera noted as turned by 90 degrees is handed on upright: higher than wide."""
    (path,) = (p for p in heic() if p.name == "guitar_cw90.hif")
    assert opened(path)[1] == (4672, 7008)


def test_broken_heic_is_damaged() -> None:
    """Pictures that are damaged say so; none raises anything else."""
    broken = [p for p in files("pi-heif") if p.parent.name == "heif_corrupted"]
    assert len(broken) >= 3
    for path in broken:
        with pytest.raises(PictureUnread) as failed:
            opened(path)
        assert failed.value.problem is Problem.DAMAGED
