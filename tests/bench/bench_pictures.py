"""Reading photos against rapidocr called bare on the same pictures, in turns in one process.

    python tests/bench/bench_pictures.py [PHOTOS]

Prints seconds a photo, the ratio, and how many codes were proposed right, as read or as corrected.
"""

from __future__ import annotations

import os
import sys
import time
from io import BytesIO
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

import numpy
from cards import cards, mail, saved
from PIL import Image
from rapidocr import RapidOCR

from counterfoil.documents.message import read_message
from counterfoil.model import CODE_KINDS
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal_code
from counterfoil.settings import Settings


def main(photos: int) -> None:
    """Measure, and print."""
    settings, patterns = Settings(), Patterns.load(ROOT / "samples" / "patterns")
    threads = {f"EngineConfig.onnxruntime.{kind}_op_num_threads": 1 for kind in ("intra", "inter")}
    bare = RapidOCR(params={**threads, "Global.log_level": "critical"})
    own: list[float] = []
    floor: list[float] = []
    right = wrong = missed = 0
    for number, card in enumerate(cards(photos, seed=7)):
        data = saved(card.image, "JPEG", quality=40)
        start = time.perf_counter()
        message = read_message(mail(("card.jpg", data)), settings.limits)
        middle = time.perf_counter()
        bare(numpy.asarray(Image.open(BytesIO(data)))[:, :, ::-1])
        end = time.perf_counter()
        if number:
            # The first loads the models.
            own.append(middle - start)
            floor.append(end - middle)
        chosen = patterns.read(message, settings).chosen
        for kind in CODE_KINDS:
            truth = normal_code(card.truth.get(kind.value, ""))
            fact = chosen.get(kind)
            if truth and fact is None:
                missed += 1
            elif truth and fact is not None:
                good = truth in (fact.normal, *map(normal_code, fact.readings))
                right, wrong = right + good, wrong + (not good)
    print(f"{photos} photos: {median(own):.2f} s each, rapidocr bare {median(floor):.2f} s, ratio of the medians")
    print(f"{median(own) / median(floor):.2f}; codes proposed right {right}, wrong {wrong}, not found {missed}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
