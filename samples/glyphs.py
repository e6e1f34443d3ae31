"""A pin printer's letters: 5 x 7 dots each, for pictures of text that come out alike everywhere."""

from __future__ import annotations

from collections.abc import Sequence

#: Seven rows of five dots, each row an octal-like digit pair in base 32 (0-9, a-v), top row first.
_DOTS = {
    "A": "4ahhvhh",
    "B": "uhhuhhu",
    "C": "ehgggh" + "e",
    "D": "uhhhhhu",
    "E": "vgguggv",
    "F": "vgguggg",
    "G": "ehgnhhf",
    "H": "hhhvhhh",
    "I": "e44444e",
    "J": "72222ic",
    "K": "hikokih",
    "L": "ggggggv",
    "M": "hrlhhhh",
    "N": "hpplnjh",
    "O": "ehhhhhe",
    "P": "uhhuggg",
    "Q": "ehhhlid",
    "R": "uhhukih",
    "S": "fgge11u",
    "T": "v444444",
    "U": "hhhhhhe",
    "V": "hhhhha4",
    "W": "hhhhlrh",
    "X": "hha4ahh",
    "Y": "hha4444",
    "Z": "v1248gv",
    "0": "ehjlphe",
    "1": "4c4444e",
    "2": "eh1248v",
    "3": "v2421he",
    "4": "26aiv22",
    "5": "vgu11he",
    "6": "68guhhe",
    "7": "v124888",
    "8": "ehhehhe",
    "9": "ehhf12c",
    "-": "000v000",
    ":": "0cc0cc0",
    ".": "00000cc",
    "/": "01248g0",
}
_ROWS, _COLUMNS = 7, 5


def draw_text(lines: Sequence[str], scale: int = 2, margin: int = 8) -> tuple[int, int, bytes]:
    """Return width, height and rows of a picture of the lines: one bit a dot, 1 is white, rows padded to bytes."""
    columns = max(len(line) for line in lines) * (_COLUMNS + 1) + 2 * margin
    rows = len(lines) * (_ROWS + 4) + 2 * margin
    black = [[False] * columns for _ in range(rows)]
    for number, line in enumerate(lines):
        for place, letter in enumerate(line.upper()):
            for down, figure in enumerate(_DOTS.get(letter, "0000000")):
                dots = int(figure, 32)
                for across in range(_COLUMNS):
                    if dots >> (_COLUMNS - 1 - across) & 1:
                        black[margin + number * (_ROWS + 4) + down][margin + place * (_COLUMNS + 1) + across] = True
    width, height = columns * scale, rows * scale
    out = bytearray()
    for row in black:
        wide = [dot for dot in row for _ in range(scale)]
        packed = bytearray((width + 7) // 8)
        for at, dot in enumerate(wide):
            if not dot:
                packed[at // 8] |= 0x80 >> at % 8
        out += bytes(packed) * scale
    return width, height, bytes(out)
