"""QR and bar codes in pictures, by zxing-cpp. What they hold is text; an address in one is never fetched."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL.Image import Image

#: Kinds that are not seen where there are none: ITF, Codabar and the like are found in any row of stripes.
_KINDS = (
    "QRCode", "MicroQRCode", "RMQRCode", "DataMatrix", "Aztec", "PDF417", "Code128", "Code39", "Code93",
    "EAN13", "EAN8", "UPCA", "UPCE",
)  # fmt: skip
_LINK = re.compile(r"\s*(?:[a-z][a-z0-9+.-]{1,20}://|www\.|urlto:|mailto:|tel:|wifi:)\S*\s*", re.IGNORECASE)
#: More symbols than this on one page are a sheet of labels, and more characters no confirmation.
_MOST, _MOST_CHARS = 20, 5_000


def codes_in(image: Image) -> list[str]:
    """Return what the QR and bar codes in a picture hold, each once.

    Args:
        image: the picture.
    """
    import numpy
    import zxingcpp

    # Which kinds there are depends on the version.
    kinds: Any = [kind for name in _KINDS if (kind := getattr(zxingcpp.BarcodeFormat, name, None)) is not None]
    found = zxingcpp.read_barcodes(numpy.asarray(image.convert("L")), formats=kinds)
    texts = [code.text.strip()[:_MOST_CHARS] for code in found if code.valid]
    return list(dict.fromkeys(text for text in texts if text))[:_MOST]


def is_link(text: str) -> bool:
    """Say whether what a code holds is an address: kept as text, in which no values are looked for."""
    return _LINK.fullmatch(text) is not None
