"""Codes read off a picture held against what stands in the message as text, or in a QR or bar code."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from counterfoil.model import ALSO_IN_SYMBOL, ALSO_IN_TEXT, Document
from counterfoil.patterns.found import Found, Span
from counterfoil.patterns.normal import normal_code

_BETWEEN = r"[\W_]{0,3}"
#: Letters and digits of an address that may be a code: parts of its path, values of its query.
_RUN = re.compile(r"[A-Za-z0-9]+(?:[-_.~+][A-Za-z0-9]+)*")
_HOST = re.compile(r"[a-z][a-z0-9+.-]*:(?://[^/?#]*)?", re.IGNORECASE)
#: Shorter codes stand in a text by chance.
_LEAST = 6


def note_exact(codes: Iterable[Found], documents: Sequence[Document]) -> None:
    """Note with each code read off a picture whether the same code stands in a text, or in a QR or bar code.

    Args:
        codes: the codes read; evidence is added to.
        documents: those of the message.
    """
    exact = [d for d in documents if d.text and not d.turns and not d.name.startswith("link:")]
    # A code in a symbol says more than one in a text.
    exact.sort(key=lambda d: not d.name.startswith("code:"))
    for code in codes:
        if not code.document.turns or len(code.normal) < _LEAST:
            continue
        whole = re.compile(r"(?<![A-Za-z0-9])" + _BETWEEN.join(map(re.escape, code.normal)) + r"(?![A-Za-z0-9])")
        for document in exact:
            if any(normal_code(m.group()) == code.normal for m in whole.finditer(document.text.upper())):
                symbol = document.name.startswith("code:")
                code.evidence.append(ALSO_IN_SYMBOL if symbol else ALSO_IN_TEXT)
                break


def runs_in_address(text: str) -> list[Span]:
    """Return what may be a code in an address that a QR code holds, behind its host: nothing there says what it is."""
    host = _HOST.match(text)
    runs = _RUN.finditer(text, host.end() if host else 0)
    return [m.span() for m in runs if len(normal_code(m[0])) >= _LEAST and any(c.isdigit() for c in m[0])]
