"""QR and bar codes against published symbols: what their standards and specifications print is read as they say."""

from __future__ import annotations

import pytest
from PIL import Image

from counterfoil.documents.barcodes import codes_in

#: EAN-13 in the GS1 General Specifications (section 5.2.1): element widths of number set A, and which sets the six
#: digits on the left take for each first digit; from memory of the published tables.
_A = ("3211", "2221", "2122", "1411", "1132", "1231", "1114", "1312", "1213", "3112")
_SETS = ("AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB", "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA")


def ean13(number: str) -> Image.Image:
    """Draw an EAN-13 symbol by the tables."""
    widths = "111"
    for digit, chosen in zip(number[1:7], _SETS[int(number[0])], strict=True):
        own = _A[int(digit)]
        widths += own if chosen == "A" else own[::-1]
    widths += "11111" + "".join(_A[int(digit)] for digit in number[7:]) + "111"
    dots: list[int] = [255] * 11
    dark = False
    for place, width in enumerate(widths):
        # Spaces and bars take turns; the guard at the left begins with a bar.
        dark = place % 2 == 0
        dots += [0 if dark else 255] * int(width)
    row = Image.new("L", (len(dots) + 11, 1), 255)
    row.putdata(dots + [255] * 11)
    return row.resize((row.width * 3, 120), Image.Resampling.NEAREST)


@pytest.mark.parametrize("number", ["4006381333931", "5901234123457", "9780201379624"])
def test_ean13(number: str) -> None:
    """Symbols drawn by the tables of the GS1 General Specifications are read as their numbers (three that stand in
    many textbooks, with right check digits)."""
    assert codes_in(ean13(number)) == [number]


#: The symbol of annex I of ISO/IEC 18004 (2015): version 1-M, mask 2, data "01234567" in numeric mode. Its codewords as
#: printed there (from memory): sixteen of data, ten of error correction.
ANNEX_I = bytes.fromhex("10200C566180EC11EC11EC11EC11EC11A524D4C1ED36C7872C55")
#: Format information for level M and mask 2 after its own mask (table C.1): 101111001111100.
FORMAT = "101111001111100"


def qr_annex_i() -> Image.Image:
    """Lay the codewords of annex I out as section 7.7 says, with the mask of table 10 for reference 010."""
    size = 21
    fixed: dict[tuple[int, int], bool] = {}
    for top, left in ((0, 0), (0, 14), (14, 0)):
        for r in range(-1, 8):
            for c in range(-1, 8):
                if 0 <= top + r < size and 0 <= left + c < size:
                    ring = max(abs(r - 3), abs(c - 3))
                    fixed[top + r, left + c] = ring in (0, 1, 3)
    for n in range(8, 13):
        fixed[6, n] = fixed[n, 6] = n % 2 == 0
    bits = [bit == "1" for bit in FORMAT]
    around = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    other = [(r, 8) for r in range(20, 13, -1)] + [(8, c) for c in range(13, 21)]
    for place, beside, bit in zip(around, other, bits, strict=True):
        fixed[place] = fixed[beside] = bit
    fixed[13, 8] = True
    stream = [bool(byte >> shift & 1) for byte in ANNEX_I for shift in range(7, -1, -1)]
    dots = dict(fixed)
    upward = True
    for column in (20, 18, 16, 14, 12, 10, 8, 5, 3, 1):
        for row in range(size - 1, -1, -1) if upward else range(size):
            for c in (column, column - 1):
                if (row, c) not in fixed:
                    dots[row, c] = stream.pop(0) != (c % 3 == 0)
        upward = not upward
    image = Image.new("L", (size + 8, size + 8), 255)
    for (row, column), dark in dots.items():
        image.putpixel((column + 4, row + 4), 0 if dark else 255)
    return image.resize((image.width * 6, image.height * 6), Image.Resampling.NEAREST)


def test_the_example_of_the_qr_standard() -> None:
    """The worked example of ISO/IEC 18004, annex I, laid out module by module, is read as 01234567."""
    assert codes_in(qr_annex_i()) == ["01234567"]
