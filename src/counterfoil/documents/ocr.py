"""Text in pictures, by rapidocr on onnxruntime: each run of words with its four corners.

The models come with the library; nothing is fetched, and nothing is told to anybody. One model is kept in a process.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median_low
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL.Image import Image

Point = tuple[float, float]
#: A run of words this many times as high as wide stands on its side.
_TALL = 1.5
#: Runs that are asked which way is up.
_ASKED = 9
#: Pixels along the shorter edge below which no letter is large enough to be read.
_LEAST_PIXELS = 16


@dataclass(frozen=True, slots=True)
class Seen:
    """A run of words: its text, its corners in pixels from the top left (in no order), how sure it is (0 to 1)."""

    text: str
    corners: tuple[Point, ...]
    score: float


def read_picture(image: Image) -> tuple[list[Seen], int]:
    """Read the text in a picture.

    Args:
        image: in RGB.

    Returns:
        The runs of words found, and by how many quarters the picture has to be turned, against the clock, for its
        text to stand upright.
    """
    import numpy

    if min(image.size) < _LEAST_PIXELS:
        return [], 0
    # The models were trained on blue, green, red.
    pixels = numpy.ascontiguousarray(numpy.asarray(image)[:, :, ::-1])
    read = _engine()(pixels)
    if read.boxes is None or not read.txts:
        return [], 0
    seen = [
        Seen(text, tuple((float(x), float(y)) for x, y in box), float(score))
        for box, text, score in zip(read.boxes, read.txts, read.scores, strict=True)
    ]
    return seen, _turn(pixels, seen)


def _turn(pixels: Any, seen: Sequence[Seen]) -> int:
    """Return by how many quarters the picture is to be turned: most runs decide."""
    import numpy

    longest = sorted((_edges(run) for run in seen), key=lambda e: -max(e[2] - e[0], e[3] - e[1]))[:_ASKED]
    tall = median_low([(e[3] - e[1]) / max(e[2] - e[0], 1) for e in longest]) > _TALL
    upside_down = []
    for x0, y0, x1, y1 in longest:
        piece = pixels[max(y0, 0) : y1, max(x0, 0) : x1]
        if piece.size:
            piece = numpy.ascontiguousarray(numpy.rot90(piece)) if tall else piece
            found = _engine()(piece, use_det=False, use_cls=True, use_rec=False).cls_res
            upside_down += [str(label) == "180" for label, _ in found or ()]
    _engine().update_params(use_det=True, use_cls=True, use_rec=True)
    return int(tall) + 2 * (sum(upside_down) * 2 > len(upside_down))


def _edges(run: Seen) -> tuple[int, int, int, int]:
    across, down = [x for x, _ in run.corners], [y for _, y in run.corners]
    return int(min(across)), int(min(down)), int(max(across)) + 1, int(max(down)) + 1


@cache
def _engine() -> Any:
    """Return the reader, loaded once."""
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"
    import onnxruntime
    import rapidocr

    onnxruntime.disable_telemetry_events()
    folder = Path(rapidocr.__file__).parent / "models"
    # Named, so that nothing is looked for elsewhere, let alone fetched.
    models = {part: next(iter(sorted(folder.glob(f"*_{part.lower()}_*.onnx")))) for part in ("Det", "Rec", "Cls")}
    one_thread = {f"EngineConfig.onnxruntime.{kind}_op_num_threads": 1 for kind in ("intra", "inter")}
    paths = {f"{part}.model_path": str(path) for part, path in models.items()}
    return rapidocr.RapidOCR(params={**one_thread, **paths, "Global.log_level": "critical"})
