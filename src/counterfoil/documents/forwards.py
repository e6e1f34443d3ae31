"""Forwards inside the text: where the forwarded message begins, who wrote it to whom, and what is in it.

Recognised: a line of known words over a header block, a header block alone (From, Sent, To, Subject as Outlook writes
them), either of them quoted with ">" or in HTML block quotes to any depth, and a forward in a forward. A line
such as "On 3 March ... wrote:" introduces a quote, not a forward, and stays in the text.

Two forwards one after the other are two, side by side, where a quote ends between them or where the second cannot stand
in the first: the same sender wrote it to the same person, or it is younger. All else nests.

Every row is looked at once per level, header blocks are bounded, and only the first ``Limits.forward_chars``
characters are searched: time grows with the length of the text and no faster.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from counterfoil.documents.addresses import mailboxes
from counterfoil.documents.text import Row
from counterfoil.documents.when import read_when
from counterfoil.documents.words import forward_words
from counterfoil.model import Layer, Mailbox
from counterfoil.settings import Limits

#: Rows of a header block that are read, with continuations.
_BLOCK_ROWS = 40
#: A longer row is no separator and no field name.
_LONGEST_ROW = 2_000
#: Forwards in one text; more are a list.
_MOST_FORWARDS = 40
#: By so much a forward must be younger than what stands over it to be none of its parts: clocks and zones differ.
_LATER = timedelta(days=1)
_DECORATION = " \t-–—_=*#>|•"


@dataclass(frozen=True, slots=True)
class Envelope:
    """What a header block says; fields it does not have are None or empty."""

    sender: Mailbox | None = None
    to: tuple[Mailbox, ...] = ()
    cc: tuple[Mailbox, ...] = ()
    date: datetime | None = None
    subject: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text with one author: the text above a forward (no envelope), or a forwarded text.

    ``parent`` is the number of the piece it was forwarded in, None for the first.
    """

    envelope: Envelope | None
    rows: list[Row]
    parent: int | None = None


@dataclass(slots=True)
class _Block:
    """A header block: values by field, the row after it, whether its words are all English."""

    end: int
    values: dict[str, str] = field(default_factory=dict)
    english: bool = True


def split_forwards(rows: Sequence[Row], limits: Limits) -> list[Piece]:
    """Take a text apart into the text above and the messages forwarded in it, each after the one around it.

    Args:
        rows: the text.
        limits: how deep and how far it is searched.

    Returns:
        At least one piece; the first is what the sender wrote. Text that follows a quoted forward belongs
        to the piece around it. No row is lost but separators and header blocks, which become envelopes.
    """
    pieces: list[Piece] = []
    rest = _take(list(rows), None, None, pieces, limits)
    assert not rest
    return pieces


def inline_layer(layers: list[Layer], parent: int, taken: Sequence[int], envelope: Envelope) -> int:
    """Return the number of the layer for a forward in a text; a new one is added to the layers.

    Args:
        layers: those of the message so far; the one that the other side of an alternative made is completed.
        parent: the number of the layer it was forwarded in.
        taken: the layers of this side so far, the message's own first.
        envelope: what its header block says.
    """
    made = Layer("inline", parent, envelope.sender, envelope.to, envelope.cc, envelope.date, envelope.subject)
    for number, known in enumerate(layers):
        if number > taken[0] and number not in taken and known.how == "inline" and known.parent == parent:
            layers[number] = replace(
                known,
                sender=known.sender or made.sender,
                to=known.to or made.to,
                cc=known.cc or made.cc,
                date=known.date or made.date,
                subject=known.subject or made.subject,
            )
            return number
    layers.append(made)
    return len(layers) - 1


def _take(
    rows: list[Row], envelope: Envelope | None, parent: int | None, pieces: list[Piece], limits: Limits, depth: int = 0
) -> list[Row]:
    """Take one message's text apart, and what is forwarded in it; return the rows that stand beside it instead."""
    number, own = len(pieces), Piece(envelope, [], parent)
    pieces.append(own)
    while rows:
        found = None
        if depth < limits.forward_depth and len(pieces) <= _MOST_FORWARDS:
            found = _find(rows, limits.forward_chars)
        if found is None:
            break
        start, content, inner, marks = found
        if marks == 0 and envelope is not None and _beside(envelope, inner):
            own.rows.extend(rows[:start])
            return rows[start:]
        end = _end_of_quote(rows, content, marks)
        own.rows.extend([*([Row("")] if own.rows and start else []), *rows[:start]])
        inside = [row.lifted(marks) for row in rows[content:end]]
        rows = _take(inside, inner, number, pieces, limits, depth + 1) + rows[end:]
    own.rows.extend([*([Row("")] if own.rows and rows else []), *rows])
    return []


def _beside(first: Envelope, second: Envelope) -> bool:
    """Say whether the second of two forwards, unquoted under the first, stands beside it and not in it."""
    if first.sender is None or second.sender is None:
        return False
    to = {box.address for box in second.to if box.address}
    if first.sender.address in to:
        # Who sent the first had got the second: so it was forwarded.
        return False
    if first.date is not None and second.date is not None and second.date - first.date > _LATER:
        return True
    same = first.sender.address == second.sender.address and bool(first.sender.address)
    return same and any(box.address in to for box in first.to)


def _end_of_quote(rows: Sequence[Row], content: int, depth: int) -> int:
    """Return where a quoted forward ends: at the first row with text outside the quote.

    A row without a mark between rows of the quote is the end of a line that was wrapped after it was quoted.
    """
    if depth == 0:
        return len(rows)

    def inside(at: int) -> bool:
        return content <= at < len(rows) and rows[at].depth >= depth and bool(rows[at].bare)

    for at in range(content, len(rows)):
        if rows[at].depth < depth and rows[at].text.strip():
            if inside(at - 1) and (inside(at + 1) or inside(at + 2)):
                continue
            return at
    return len(rows)


def _find(rows: Sequence[Row], chars: int) -> tuple[int, int, Envelope, int] | None:
    """Return where a forward starts, where its text starts, its envelope, its quote depth."""
    seen = 0
    for at, row in enumerate(rows):
        seen += len(row.text) + 1
        if seen > chars:
            return None
        bare = row.bare
        if not bare or len(bare) > _LONGEST_ROW:
            continue
        strength = _separator(bare)
        if strength:
            found = _after_separator(rows, at, strength)
            if found is not None:
                return found
        elif _field(bare)[0] in ("from", "date", "to", "subject"):
            block = _read_block(rows, at)
            if block is not None and _is_whole(block):
                return _rule_above(rows, at), block.end, _envelope(block), row.depth
    return None


def _after_separator(rows: Sequence[Row], at: int, strength: int) -> tuple[int, int, Envelope, int] | None:
    start = at + 1
    while start < len(rows) and start < at + 4 and not rows[start].bare:
        start += 1
    block = _read_block(rows, start) if start < len(rows) else None
    if block is not None and ("from" in block.values or len(block.values) > 1):
        # A quoted block under an unquoted line: the quote is what was forwarded.
        return at, block.end, _envelope(block), rows[start].depth
    if strength > 1 and any(row.bare for row in rows[at + 1 :]):
        return at, at + 1, Envelope(), rows[at].depth
    return None


def _rule_above(rows: Sequence[Row], at: int) -> int:
    """Return where a forward starts when the line over its header block is a rule of dashes or underscores."""
    above = at - 1
    while above >= 0 and above > at - 3 and not rows[above].bare:
        above -= 1
    if above >= 0:
        bare = rows[above].bare
        if len(bare) >= 5 and not bare.strip("_-–—=* "):
            return above
    return at


def _separator(bare: str) -> int:
    """Return 0 for no separator, 1 for one that needs a header block under it, 2 for one that stands alone."""
    if len(bare) > 200:
        return 0
    core = bare.strip(_DECORATION)
    if not core:
        return 0
    known = forward_words()
    core = core.replace("：", ":")
    phrase = core.rstrip(": ").casefold()
    dashed = bare.lstrip("*> ").startswith(("--", "==", "––", "——", "__"))
    if dashed and phrase in known.forwarded:
        return 2
    if phrase in known.begin and core.endswith(":"):
        return 2 if phrase not in known.forwarded else 1
    if phrase in known.original and (dashed or core.endswith(":")):
        return 1
    if dashed and phrase.startswith(known.by):
        return 1
    return 0


def _field(bare: str) -> tuple[str, str, str]:
    """Return field, word and value of a row such as "*From:* Name"; empty strings where it is none."""
    head, colon, _ = bare[:60].replace("：", ":").partition(":")
    if not colon:
        return "", "", ""
    word = " ".join(head.strip(" \t*_|").casefold().split())
    name = forward_words().fields.get(word, "")
    if not name:
        return "", "", ""
    return name, word, bare[len(head) + 1 :].strip(" \t*|")


def _read_block(rows: Sequence[Row], at: int) -> _Block | None:
    """Read a header block that starts at a row; None when the row does not begin one."""
    block = _Block(at)
    known = forward_words()
    depth = rows[at].depth
    last = ""
    spaced: bool | None = None
    row = at
    while row < len(rows) and row < at + _BLOCK_ROWS:
        bare = rows[row].bare
        if rows[row].depth < depth:
            break
        if not bare:
            following = _next_field(rows, row, block)
            if spaced is False or not following or len(block.values) > 3:
                break
            spaced = True
            row += 1
            continue
        name, word, value = _field(bare) if len(bare) <= _LONGEST_ROW else ("", "", "")
        if name and name not in block.values:
            block.values[name] = value
            block.english = block.english and word in known.english
            spaced = False if last and spaced is None else spaced
            last = name
        elif not name and last and _continues(block.values[last], last, bare, rows, row, block):
            block.values[last] = f"{block.values[last]} {bare}".strip()
        else:
            break
        row += 1
        block.end = row
    return block if block.values else None


def _next_field(rows: Sequence[Row], row: int, block: _Block) -> bool:
    """Say whether the row after a blank one goes on with a new field of the block."""
    if row + 1 >= len(rows):
        return False
    name = _field(rows[row + 1].bare)[0]
    return bool(name) and name not in block.values


def _continues(value: str, name: str, bare: str, rows: Sequence[Row], row: int, block: _Block) -> bool:
    """Say whether a row without a field name goes on with the value of the row above."""
    if name in ("from", "to", "cc", "bcc", "reply_to"):
        if value.endswith((",", ";")) or not value:
            return True
        if value.count("<") > value.count(">") or value.count("[") > value.count("]") or value.count('"') % 2:
            return True
        if "@" not in value and "@" in bare and bare.startswith(("<", "[", "(", "mailto:")):
            return True
    elif not value and name in ("date", "subject"):
        return _next_field(rows, row, block)
    if rows[row].text[:1] in " \t" and not rows[row].html:
        return True
    # A long subject or name that was wrapped: only where the block goes on right under it.
    return len(value) > 40 and _next_field(rows, row, block)


def _is_whole(block: _Block) -> bool:
    """Say whether a block without a separator is one: labels of a form (From, To: two places) must not be."""
    values = block.values
    if "from" not in values or not ("date" in values or "subject" in values) or len(values) < 3:
        return False
    if any("@" in values.get(name, "") for name in ("from", "to", "cc")):
        return True
    return {"from", "date", "to", "subject"} <= values.keys()


def _envelope(block: _Block) -> Envelope:
    values = block.values
    senders = mailboxes(values.get("from", ""), names_alone=True)
    return Envelope(
        senders[0] if senders else None,
        mailboxes(values.get("to", ""), names_alone=True),
        mailboxes(values.get("cc", ""), names_alone=True),
        read_when(values.get("date", ""), day_first=not block.english),
        values.get("subject", "").strip(),
    )
