"""What of an HTML page nobody sees: how an element looks as far as it decides that, and what is said of hidden text.

What is inherited (type size, colour, visibility) is followed down the tree: a cell of type size 0 whose text has a
size of its own is shown. Sources: CSS Display Level 3, section 2.6 (none); CSS 2.2, sections 11.1.1 (overflow), 11.2
(visibility), 9.3.2 (offsets) and 16.1 (text-indent); CSS Color Level 4, section 3 (opacity).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from counterfoil.documents.html_colours import BLACK, WHITE, Colour, alike, colour, on
from counterfoil.documents.html_style import UNKNOWN, Declared, Sheet, has_picture
from counterfoil.documents.text import clean, words

#: Pixels (CSS, 96 to the inch) of type that nobody reads; one point is 1.33.
_TINY = 1.34
_TYPE = 16.0
#: Pixels to the left of the page from which something stands off it.
_OFF = -999.0
_LENGTH = re.compile(r"([+-]?(?:\d{1,9}(?:\.\d{0,9})?|\.\d{1,9}))(px|pt|pc|in|cm|mm|em|ex|ch|rem|%)?")
_UNITS = {"": 1.0, "px": 1.0, "pt": 4 / 3, "pc": 16.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "rem": _TYPE}
_RELATIVE = {"em": 1.0, "ex": 0.5, "ch": 0.5, "%": 0.01}
_FONT = re.compile(r"(?:^|\s)(0|[\d.]{1,9}(?:px|pt|pc|in|cm|mm|em|ex|ch|rem|%))(?:\s*/\s*(\S{1,20}))?\s+\S")
_BARE = re.compile(r"[0-9a-f]{3}|[0-9a-f]{6}")
#: Boxes that cannot be smaller than what they hold, and elements that have no height of their own.
_TABLE = words("table tbody thead tfoot tr td th caption")
_INLINE = words(
    "a abbr b bdi bdo big cite code del dfn em font i ins kbd label mark q s samp small span strike strong sub sup tt u"
    " var"
)
_BOXED = ("block", "inline-block", "flex", "inline-flex", "grid", "list-item")
#: What gives a box room whatever its height and width.
_STRETCHED = ("min-height", "min-width", "padding", "padding-top", "padding-right", "padding-bottom", "padding-left")
#: Presentational attributes that count here (HTML Standard, section 15.3).
_ATTRIBUTES = ("style", "class", "id", "hidden", "bgcolor", "background", "color", "text", "size")
_NOTHING = re.compile("[\u034f\u115f\u1160\u17b4\u17b5\u180e\u3164\ufe00-\ufe0f]")

#: Characters of hidden text that are quoted.
_QUOTED = 60
BULLET = "•"
_GROUPS = re.compile(r"[\W_]")
_WORD = re.compile(r"[^\W_]+(?:[-\u2010-\u2015\u2212._/\\:+#*|~][^\W_]+)*")
_CODE_CHARS = 6
_DIGIT_CHARS = 4


@dataclass(frozen=True, slots=True)
class Look:
    """How text in an element looks.

    ``size`` is the type size in pixels; ``ink`` (with its opacity) and ``ground`` are None where they are not known;
    ``flat`` is a line without height in a box that is cut off; ``gone`` is all that hides whatever stands inside.
    """

    size: float = _TYPE
    ink: tuple[Colour, float] | None = (BLACK, 1.0)
    ground: Colour | None = WHITE
    visible: bool = True
    flat: bool = False
    gone: bool = False

    @property
    def hidden(self) -> bool:
        """Whether a reader sees no text here."""
        return self.gone or self.flat or not self.visible or self.size <= _TINY or self._blank

    @property
    def gap(self) -> bool:
        """Whether hidden text leaves a gap where it stands."""
        return not self.gone and not self.flat and self.size > _TINY

    @property
    def _blank(self) -> bool:
        if self.ink is None:
            return False
        return self.ink[1] == 0 or (self.ground is not None and alike(on(self.ground, self.ink), self.ground))


def look(sheet: Sheet, tag: str, attributes: dict[str, str | None], above: Look) -> Look:
    """Return how an element looks.

    Args:
        sheet: the document's style sheets.
        tag: the element's name, lower case.
        attributes: its attributes.
        above: how the element around it looks.
    """
    if not attributes and sheet.bare(tag):
        return above
    declared = sheet.declared(tag, attributes)
    link = tag == "a" and "href" in attributes
    if not declared and not link and not any(name in attributes for name in _ATTRIBUTES):
        return above
    size = _size(declared, tag, attributes, above.size)
    return replace(
        above,
        size=size,
        ground=_ground(declared, attributes, above.ground),
        ink=_ink(declared, tag, attributes, above),
        visible=_visible(declared, above),
        flat=_flat(declared, tag, size, above),
        gone=above.gone or _gone(declared, tag, attributes, size, link=link),
    )


def _length(value: str | None, size: float) -> float | None:
    """Return a length in pixels; None where it says none that is known."""
    found = _LENGTH.fullmatch(value or "")
    if found is None:
        return None
    unit = found[2] or ""
    return float(found[1]) * (_UNITS[unit] if unit in _UNITS else _RELATIVE[unit] * size)


def _size(declared: Declared, tag: str, attributes: dict[str, str | None], above: float) -> float:
    value = declared.get("font-size")
    if value is None and (short := declared.get("font")):
        found = _FONT.search(short)
        value = found[1] if found else UNKNOWN if short == UNKNOWN else None
    if value is None:
        # The size attribute of a font element is never smaller than can be read.
        return _TYPE if tag == "font" and "size" in attributes else above
    if value in ("inherit", "unset"):
        return above
    length = _length(value, above)
    return _TYPE if length is None else length


def _ground(declared: Declared, attributes: dict[str, str | None], above: Colour | None) -> Colour | None:
    if attributes.get("background") or any(
        has_picture(declared.get(prop, "")) for prop in ("background", "background-image")
    ):
        return None
    value = declared.get("background-color", declared.get("background"))
    if value is None:
        value = _attribute(attributes.get("bgcolor"))
    if not value or value in ("none", "inherit", "initial", "unset"):
        return above
    for part in (value, *value.split()[:8]):
        found = colour(part)
        if found is not None:
            if found[1] in (0.0, 1.0):
                return found[0] if found[1] else above
            return None if above is None else on(above, found)
    return None


def _ink(declared: Declared, tag: str, attributes: dict[str, str | None], above: Look) -> tuple[Colour, float] | None:
    value = declared.get("color")
    if value is None:
        value = _attribute(attributes.get("text" if tag == "body" else "color"))
    if not value:
        # Links have a colour of their own, whatever stands around them.
        return None if tag == "a" and "href" in attributes else above.ink
    return above.ink if value in ("inherit", "unset", "currentcolor") else colour(value)


def _attribute(value: str | None) -> str | None:
    """Return a colour in an attribute as a style has it: the mark before the digits may be left out."""
    value = (value or "").strip().lower()
    return f"#{value}" if _BARE.fullmatch(value) else value or None


def _visible(declared: Declared, above: Look) -> bool:
    value = declared.get("visibility")
    if value is None or value in ("inherit", "unset"):
        return above.visible
    return value not in ("hidden", "collapse")


def _cut_off(declared: Declared) -> bool:
    return any(
        value in ("hidden", "clip")
        for prop in ("overflow", "overflow-x", "overflow-y")
        for value in declared.get(prop, "").split()
    )


def _flat(declared: Declared, tag: str, size: float, above: Look) -> bool:
    value = declared.get("line-height")
    if value is None and (found := _FONT.search(declared.get("font", ""))):
        value = found[2]
    if value is None or value in ("inherit", "unset"):
        return above.flat
    # A line height without a unit is a multiple of the type size; only nothing counts.
    return _length(value, size) == 0 and (above.flat or (_boxed(declared, tag) and _cut_off(declared)))


def _boxed(declared: Declared, tag: str) -> bool:
    """Say whether an element is a box of its own: heights, indents and cutting off mean nothing to the others."""
    return (
        tag not in _INLINE
        or declared.get("display") in _BOXED
        or declared.get("position") in ("absolute", "fixed")
        or declared.get("float") in ("left", "right")
    )


def _gone(declared: Declared, tag: str, attributes: dict[str, str | None], size: float, *, link: bool) -> bool:
    display = declared.get("display")
    if display == "none" or (display is None and "hidden" in attributes):
        return True
    # A link that one mail program alone does not show is the counterpart of a button drawn for that program.
    if declared.get("mso-hide") == "all" and not link:
        return True
    opacity = _length(declared.get("opacity"), 1.0)
    if opacity is not None and opacity <= 0:
        return True
    if _off_page(declared, tag, size):
        return True
    return tag not in _TABLE and _boxed(declared, tag) and _cut_off(declared) and _no_room(declared, size)


def _off_page(declared: Declared, tag: str, size: float) -> bool:
    offsets = [_margin_left(declared), declared.get("margin-top")]
    if declared.get("position") in ("absolute", "fixed", "relative"):
        offsets += [declared.get("left"), declared.get("top")]
    if _boxed(declared, tag):
        offsets.append(declared.get("text-indent"))
    return any((_length(offset, size) or 0.0) <= _OFF for offset in offsets)


def _no_room(declared: Declared, size: float) -> bool:
    """Say whether a box that is cut off has no height or no width, and no padding that gives it some."""
    for side in _STRETCHED:
        if any(_length(part, size) != 0 for part in declared.get(side, "").split()):
            return False
    for side in ("height", "max-height", "width", "max-width"):
        value = declared.get(side, "")
        length = _length(value, size)
        # A share is one of the box around, which is not known.
        if length is not None and (length == 0 or (length <= 1 and "%" not in value)):
            return True
    return False


def _margin_left(declared: Declared) -> str | None:
    if "margin-left" in declared:
        return declared["margin-left"]
    values = declared.get("margin", "").split()
    return values[3] if len(values) == 4 else values[1] if len(values) in (2, 3) else values[0] if values else None


def masked(text: str) -> str:
    """Hide everything that may be a code.

    That is more than need be: nothing here knows what a maker's code looks like, and the text is only quoted so that
    a person knows what it is about.

    Args:
        text: the text.

    Returns:
        The text, of the same length, with bullets for the letters and digits of words with a digit, of capitals, of
        groups of one length and of single characters, where such words in a row have six or more, or four with a
        digit in one word.
    """
    out: list[str] = []
    done = 0
    run: list[re.Match[str]] = []
    for word in (*_WORD.finditer(text), None):
        if word is not None and _odd(word[0]):
            run.append(word)
            continue
        if run and _may_be_code([part[0] for part in run]):
            start, end = run[0].start(), run[-1].end()
            out.append(text[done:start])
            out.append("".join(BULLET if c.isalnum() else c for c in text[start:end]))
            done = end
        run = []
    out.append(text[done:])
    return "".join(out)


def _odd(word: str) -> bool:
    """Say whether a word is none of a language: digits, capitals inside, one character, groups of one length."""
    groups = _GROUPS.split(word)
    alike = len(groups) > 2 and len({len(group) for group in groups}) == 1
    return len(word) == 1 or alike or word[1:] != word[1:].lower() or any(map(str.isdigit, word))


def _may_be_code(run: list[str]) -> bool:
    counts = [sum(map(str.isalnum, word)) for word in run]
    digits = [any(map(str.isdigit, word)) for word in run]
    if any(digit and count >= _DIGIT_CHARS for digit, count in zip(digits, counts, strict=True)):
        return True
    return sum(counts) >= _CODE_CHARS


def hidden_text(pieces: list[str]) -> str:
    """Return pieces of hidden text as one: white space and what shows nothing left out. Empty where nothing is left."""
    return " ".join(_NOTHING.sub("", clean(" ".join(pieces))).split()) if pieces else ""


def hidden_defect(texts: list[str]) -> str | None:
    """Return the sentence on the hidden texts of a message, with nothing in it that may be a code; None for none."""
    texts = [text for text in texts if text]
    if not texts:
        return None
    total = sum(map(len, texts))
    start = masked(" ".join(texts)[: _QUOTED * 8])
    quote = start[:_QUOTED].rstrip() + ("…" if total > _QUOTED else "")
    count = "1 character" if total == 1 else f"{total:,} characters"
    return f"The HTML has text that is not shown ({count}), which was not read: “{quote}”."
