"""Photos of upgrade cards of invented makers, drawn here: type, layout, shadow, noise, slant, a poor JPEG.

Deterministic for a seed. Half of the cards have the codes of a maker with a file, half of makers nobody described.
"""

from __future__ import annotations

import random
import sys
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import numpy
import reportlab
import segno
from PIL import Image, ImageDraw, ImageFont

import counterfoil

sys.path.append(str(Path(__file__).parent.parent / "samples"))
from makers import KESTRELLE, ORVANDO, VESTERLYNG, draw_code

_OWN = Path(counterfoil.__file__).parent / "answers" / "type"
_FONTS = [
    *sorted(_OWN.glob("*.ttf")),
    *(Path(reportlab.__file__).parent / "fonts" / f"{name}.ttf" for name in ("Vera", "VeraBd")),
]
_LABELS = {"machine_id": "Machine ID", "product_key": "Product key", "activation_code": "Activation code"}
_ALPHABETS = ("0123456789", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", "23456789ABCDEFGHJKMNPQRSTUVWXYZ")
_GROUPS = {
    "machine_id": ((4, 4, 4), (3, 5, 2)),
    "product_key": ((5, 5, 5), (4, 4, 4, 4)),
    "activation_code": ((4, 4, 4, 4), (6, 6)),
}
_DESCRIBED = (VESTERLYNG, KESTRELLE, ORVANDO)
_NAMES = ("Marit Solvang", "Hetty Brise", "Colm Dravigan", "Elodie Canette", "Falk Zwirner", "Gunhild Nappe")


@dataclass(frozen=True)
class Card:
    """A card: its picture, and what stands on it."""

    image: Image.Image
    truth: dict[str, str]
    name: str


def cards(number: int, *, seed: int) -> Iterator[Card]:
    """Draw cards as they come out of a poor telephone."""
    rng = random.Random(seed)
    for n in range(number):
        truth = _codes(rng, n)
        name = rng.choice(_NAMES)
        plain = draw(truth, name, font=_FONTS[n % len(_FONTS)], under=n % 3 == 2)
        yield Card(photograph(plain, rng), truth, name)


def _codes(rng: random.Random, number: int) -> dict[str, str]:
    if number % 2 == 0:
        maker = _DESCRIBED[number // 2 % len(_DESCRIBED)]
        return {kind: draw_code(maker.shapes[kind], f"card {number} {kind}") for kind in _LABELS}
    return {kind: _random_code(rng, rng.choice(_GROUPS[kind])) for kind in _LABELS}


def _random_code(rng: random.Random, groups: tuple[int, ...]) -> str:
    alphabet = rng.choice(_ALPHABETS)
    while True:
        code = "-".join("".join(rng.choice(alphabet) for _ in range(size)) for size in groups)
        if sum(c.isdigit() for c in code) >= 2:
            return code


def draw(
    truth: dict[str, str], name: str, *, font: Path = _FONTS[0], under: bool = False, symbol: str = "", size: int = 30
) -> Image.Image:
    """Draw a card: labels, values beside or underneath, a QR code at its foot."""
    image = Image.new("RGB", (960, 640), (246, 244, 238))
    pen = ImageDraw.Draw(image)
    bold, plain = ImageFont.truetype(str(font), size + 8), ImageFont.truetype(str(font), size)
    pen.text((60, 40), "Activation of your upgrade", fill=(30, 30, 60), font=bold)
    rows = [("Customer", name), *((_LABELS[kind], value) for kind, value in truth.items() if kind in _LABELS)]
    for n, (label, value) in enumerate(rows):
        y = 130 + n * 110
        pen.text((60, y), f"{label}:" if not under else label, fill=(40, 40, 40), font=plain)
        pen.text((60 if under else 400, y + (size + 14 if under else 0)), value, fill=(0, 0, 0), font=plain)
    if symbol:
        image.paste(symbol_picture(symbol), (660, 360))
    return image


def symbol_picture(text: str, scale: int = 5) -> Image.Image:
    """Return a QR code."""
    out = BytesIO()
    segno.make(text, micro=False).save(out, kind="png", scale=scale, border=4)
    return Image.open(BytesIO(out.getvalue())).convert("RGB")


def photograph(image: Image.Image, rng: random.Random) -> Image.Image:
    """Return a picture as a telephone takes it: aslant by up to two degrees, in a shadow, with noise, saved poorly."""
    turned = image.rotate(rng.uniform(-2, 2), expand=True, fillcolor=(120, 110, 100), resample=Image.Resampling.BICUBIC)
    pixels = numpy.asarray(turned).astype(float)
    across = numpy.linspace(rng.uniform(0.6, 1.0), rng.uniform(0.6, 1.0), pixels.shape[1])
    noise = numpy.random.default_rng(rng.randrange(2**31)).normal(0, 8, pixels.shape)
    shaded = numpy.clip(pixels * across[None, :, None] + noise, 0, 255).astype(numpy.uint8)
    return Image.open(BytesIO(saved(Image.fromarray(shaded), "JPEG", quality=40)))


def saved(image: Image.Image, form: str, **how: object) -> bytes:
    """Return a picture as a file."""
    out = BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def mail(
    *files: tuple[str, bytes], text: str = "Here is my activation confirmation.", name: str = "Marit Solvang"
) -> bytes:
    """Return a customer's mail with files; the type of each is that of its name's ending."""
    message = EmailMessage()
    message["From"] = f"{name} <{name.split()[0].lower()}@letterbox.example>"
    message["To"] = "desk@threadworks.example"
    message["Date"] = "Tue, 06 Oct 2026 08:00:00 +0000"
    message["Subject"] = "Activation confirmation"
    message["Message-ID"] = f"<{zlib.crc32(b''.join(data for _, data in files) + text.encode())}@letterbox.example>"
    message.set_content(text)
    for file, data in files:
        ending = file.rpartition(".")[2]
        main, sub = ("application", "pdf") if ending == "pdf" else ("image", ending.replace("jpg", "jpeg"))
        message.add_attachment(data, maintype=main, subtype=sub, filename=file)
    return message.as_bytes()
