"""Mends PDFs whose structure is broken, and says whether what their pages hold is whole.

qpdf, through pikepdf, finds the objects of a file again when the table that lists them is wrong or gone. It does not
invent anything: a page whose content cannot be unpacked stays a page with a gap, and is told as one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from counterfoil.settings import Limits


@dataclass(frozen=True, slots=True)
class Mended:
    """A PDF with its structure in order. ``sound``: it was in order before. ``gaps``: pages, from 1, that lost text.

    ``missing``: pages that the file counts and does not hold.
    """

    data: bytes
    sound: bool
    gaps: tuple[int, ...]
    missing: int


def mend(data: bytes, limits: Limits) -> Mended | None:
    """Put the structure of a PDF in order.

    Args:
        data: the file.
        limits: pages whose content is looked at, bytes that the mended file may have.

    Returns:
        The mended file; None where nothing can be found in it, or it is locked with a password.

    Raises:
        MemoryError: the file swells beyond what the process may take.
    """
    # Imported here: few files need it.
    import pikepdf

    try:
        with pikepdf.open(BytesIO(data)) as pdf:
            counted = pdf.Root.Pages.get("/Count", 0)
            pages = len(pdf.pages)
            sound = not pdf.get_warnings()
            looked_at = range(1, min(pages, limits.pdf_pages) + 1)
            gaps = tuple(number for number in looked_at if not _is_whole(pdf.pages[number - 1], sound))
            out = BytesIO()
            pdf.save(out, deterministic_id=True)
    except MemoryError:
        raise
    # On broken files the library raises its own errors and whatever the broken objects lead to (AttributeError,
    # TypeError, ValueError, RuntimeError); each means the same: it cannot be mended.
    except Exception:  # noqa: BLE001
        return None
    if not pages or len(out.getvalue()) > limits.unpacked_bytes:
        return None
    missing = max(0, int(counted) - pages) if isinstance(counted, int) else 0
    return Mended(out.getvalue(), sound, gaps, missing)


def _is_whole(page: Any, sound: bool) -> bool:
    """Say whether the content of a page, and of the forms it draws, is there and can be unpacked.

    In a file that is not ``sound`` a page without content has lost it: qpdf drops what leads nowhere.
    """
    import pikepdf

    try:
        if not sound and "/Contents" not in page.obj:
            return False
        for stream in _streams(page.obj):
            stream.read_bytes()
    except (pikepdf.PdfError, AttributeError, TypeError, ValueError, RuntimeError):
        return False
    return True


def _streams(page: Any) -> Iterator[Any]:
    """Hand out the content of a page and of its forms."""
    content = page.get("/Contents")
    # ISO 32000-1, table 30: one stream, or an array of streams; a page without is empty.
    many = content is not None and getattr(content, "_type_name", "") == "array"
    yield from content if many else () if content is None else (content,)
    resources = page.get("/Resources")
    forms = resources.get("/XObject") if resources is not None else None
    if forms is None:
        return
    for name in forms.keys():  # noqa: SIM118 - its dictionaries hand out names by this call only
        form = forms.get(name)
        if form is not None and form.get("/Subtype") == "/Form":
            yield form
