"""Whether a message is about somebody else than its sender: it says so, or it quotes another person's codes."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence

from counterfoil.model import Line, Message
from counterfoil.patterns.found import Found
from counterfoil.patterns.layout import View
from counterfoil.patterns.names import fold_name
from counterfoil.patterns.words import Role

_ADDRESS = re.compile(r"[^\s<>()\[\]:;,\"']{1,64}@[^\s<>()\[\]:;,\"']{1,255}")
#: A line over a quote that tells a day or an hour and ends with a colon says who wrote, in whatever language.
_WROTE = re.compile(r"\d{1,2}[:.]\d{2}.*[:：]\s*$", re.DOTALL)


def for_someone_else(views: Sequence[View]) -> bool:
    """Tell whether the writer of the message says that it is about another person's machine."""
    return any(hit.has(Role.SOMEONE_ELSE) for view in views if view.document.layer == 0 for hit in view.phrases)


def quotes_another(
    codes: Sequence[Found], message: Message, is_ours: Callable[[str], bool], names: Collection[str]
) -> bool:
    """Tell whether a code in the sender's own text stands only in a quote of somebody who is not the sender.

    Args:
        codes: those of the confirmation.
        message: the message.
        is_ours: tells whether an address is the shop's or a maker's: whom those wrote to is the sender.
        names: what shop and makers are called.
    """
    sender = message.head.sender
    codes = [code for code in codes if code.document.layer == 0]
    if sender is None:
        return False
    own = {code.normal for code in codes if not _depth(code)}
    known = [set(fold_name(name)) for name in (sender.name, *names) if fold_name(name)]
    for code in codes:
        line = _line(code)
        if line is None or not line.quoted or code.normal in own:
            continue
        said = _said_above(code, line)
        addresses = {address.lower().rstrip(".") for address in _ADDRESS.findall(said)}
        if addresses:
            if not any(address == sender.address.lower() or is_ours(address) for address in addresses):
                return True
        elif _WROTE.search(said) and not any(name <= set(fold_name(said)) for name in known):
            return True
    return False


def _line(code: Found) -> Line | None:
    start = code.pieces[0][0]
    return next((line for line in code.document.lines if line.start <= start <= line.end), None)


def _depth(code: Found) -> int:
    line = _line(code)
    return line.quoted if line is not None else 0


def _said_above(code: Found, line: Line) -> str:
    """Return what stands right over a quote: the last line that is not in it, and the one it may go on from."""
    text, lines = code.document.text, code.document.lines
    said: list[str] = []
    for above in reversed(lines[: lines.index(line)]):
        words = text[above.start : above.end].strip()
        if above.quoted >= line.quoted:
            # Within the quote, or a quote above what stands over it.
            if said:
                break
            continue
        if not words:
            if said:
                break
            continue
        said.insert(0, words)
        if len(said) == 2:
            break
    return "\n".join(said)
