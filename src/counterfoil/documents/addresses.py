"""Addresses as mail programs print them in the text of a forward, where no standard holds.

Met in the wild: ``Name <a@b>``, ``Name [mailto:a@b]``, ``Name <mailto:a@b>``, ``a@b <mailto:a@b>``, ``'a@b'``,
``Family, Given <a@b>``, lists parted by commas or semicolons, names alone. Time grows with the length, not faster.
"""

from __future__ import annotations

from counterfoil.model import Mailbox

_STOP = frozenset(" \t\r\n<>[]()\"',;:|*")
_TRIM = " \t\r\n<>[]()\"'*,;:|"
#: Characters of a value that are read.
_LONGEST = 8_000


def mailboxes(value: str, *, names_alone: bool = False) -> tuple[Mailbox, ...]:
    """Return the mailboxes in a value, in order, each address once.

    Args:
        value: what stands after From:, To: or Cc:.
        names_alone: return a name without an address as a mailbox with an empty address.
    """
    found: dict[str, Mailbox] = {}
    for item in _items(value[:_LONGEST]):
        # Where two addresses stand, "a@b <c@d>", the one in brackets is it (RFC 5322, section 3.4), the other a name.
        opened = item.find("<") + 1
        span = (_address(item, opened) if opened else None) or _address(item)
        if span is None:
            name = item.strip(_TRIM)
            if names_alone and name:
                found.setdefault(name.lower(), Mailbox(name, ""))
            continue
        start, end = span
        address = item[start:end].strip(".")
        name = _name(item[:start]) or _name(item[end:])
        found.setdefault(address.lower(), Mailbox("" if name.lower() == address.lower() else name, address))
    return tuple(found.values())


def without_comments(value: str) -> str:
    """Return addresses without their comments (RFC 5322, section 3.2.2) where another part tells the name.

    In ``a@b (Name)`` the comment is the name, an old form that is kept.
    """
    if "(" not in value:
        return value
    kept: list[str] = []
    item: list[str] = []
    comments: list[str] = []
    depth = 0
    quoted = escaped = angle = False
    for char in [*value, ","]:
        if depth or (char == "(" and not quoted):
            comments.append(char)
            depth += 0 if escaped else (char == "(") - (char == ")")
        elif char == "," and not quoted:
            kept.append("".join(item) if angle or not comments else f"{''.join(item)} {''.join(comments)}")
            item, comments, angle = [], [], False
        else:
            item.append(char)
            angle = angle or (char == "<" and not quoted)
            quoted ^= char == '"' and not escaped
        escaped = char == "\\" and not escaped
    # A comment or a quote that is never closed: what it is in is left as it was.
    return value if depth or quoted else ",".join(kept)


def _items(value: str) -> list[str]:
    """Split at commas and semicolons outside quotes and brackets; "Family, Given <a@b>" stays one item."""
    items: list[str] = []
    start = 0
    quoted = False
    closing = ""
    for at, char in enumerate(value):
        if char == '"' and not closing:
            quoted = not quoted
        elif closing:
            closing = "" if char == closing else closing
        elif not quoted and char in "<[":
            closing = ">" if char == "<" else "]"
        elif not quoted and (char == ";" or (char == "," and _splits(value, start, at))):
            items.append(value[start:at])
            start = at + 1
    items.append(value[start:])
    return items


def _splits(value: str, start: int, at: int) -> bool:
    """Say whether the comma at ``at`` ends an item: not where only a family name stands before it."""
    if "@" in value[start:at]:
        return True
    after = value[at + 1 : at + 200]
    angle, comma = after.find("<"), after.find(",")
    return not (angle >= 0 and (comma < 0 or angle < comma))


def _address(item: str, begin: int = 0) -> tuple[int, int] | None:
    at = item.find("@", begin)
    while at >= 0:
        start = at
        while start > begin and item[start - 1] not in _STOP and item[start - 1] != "@":
            start -= 1
        end = at + 1
        while end < len(item) and item[end] not in _STOP and item[end] != "@":
            end += 1
        if start < at and "." in item[at + 1 : end].strip("."):
            return start, end
        at = item.find("@", at + 1)
    return None


def _name(text: str) -> str:
    text = text.replace("mailto:", " ").strip(_TRIM)
    if "@" in text:
        # The address stands twice, as the text of its own link.
        return "" if " " not in text else text[: text.find("@")].rpartition(" ")[0].strip(_TRIM)
    return " ".join(text.split())
