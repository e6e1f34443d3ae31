"""Style attributes and style sheets of HTML: what an element declares. Nothing is fetched.

Rules for certain screens only (@media) do not count.
The cascade is followed as far as mail uses it (CSS Cascading and Inheritance Level 4, section 6): importance,
specificity, order. Rules for a place in the page (".a .b") are not followed: what they declare is then unknown for
every element they may mean, and unknown never hides a text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from selectolax.lexbor import LexborHTMLParser

from counterfoil.documents.text import words

#: What a rule declares that is not followed; what an element declares by property.
UNKNOWN = "?"
Declared = dict[str, str]

#: Characters of a style sheet that are read, and rules that are kept.
_STYLE_CHARS = 100_000
_RULES = 2_000
_PROPERTIES = words(
    "display visibility opacity font font-size height max-height width max-width line-height overflow overflow-x"
    " overflow-y mso-hide color background background-color background-image text-indent left top margin margin-left"
    " margin-top position float min-height min-width padding padding-top padding-right padding-bottom padding-left"
)
_SIMPLE = re.compile(r"(?P<tag>[a-z][a-z0-9]*|\*)?(?:(?P<mark>[.#])(?P<name>[\w-]+))?", re.IGNORECASE)
#: The last part of a selector that is not simple, read backwards from its end in bounded steps.
_LAST = re.compile(
    r"(?:([.#])([\w-]{1,100})|(?:^|[\s>+~])([a-z][a-z0-9]{0,20}))(?::[\w-]{1,30}(?:\([^()]*\))?)?$", re.I
)
#: States a page is not in when it is read.
_AT_REST_NOT = re.compile(r":(?:hover|active|focus|visited|before|after)\b", re.IGNORECASE)
_SELECTOR_CHARS = 300

#: Where a declaration stands: importance, specificity, order. The highest holds.
_Rank = tuple[bool, int, int]
_INLINE = 3
_KINDS = {"#": 2, ".": 1}


def declarations(style: str) -> Iterator[tuple[str, str, bool]]:
    """Yield the declarations that may hide a text: property, value, whether it is important. Lower case."""
    for piece in without_comments(style).lower().split(";"):
        name, colon, value = piece.partition(":")
        name = name.strip()
        if colon and name in _PROPERTIES:
            value, bang, _ = value.partition("!")
            yield name, value.strip(), bool(bang)


def has_picture(value: str) -> bool:
    """Say whether the background that a style declares is a picture or a gradient: a ground of no known colour."""
    return "url(" in value or "gradient(" in value


def without_comments(css: str) -> str:
    """Return CSS without comments; one that is not closed goes to the end."""
    at = css.find("/*")
    if at < 0:
        return css
    kept, done = [], 0
    while at >= 0:
        kept.append(css[done:at])
        end = css.find("*/", at + 2)
        if end < 0:
            return "".join(kept)
        done = end + 2
        at = css.find("/*", done)
    kept.append(css[done:])
    return "".join(kept)


def without_conditions(css: str) -> str:
    """Return a style sheet without @-rules and what they hold."""
    kept: list[str] = []
    at = 0
    while (start := css.find("@", at)) >= 0:
        kept.append(css[at:start])
        depth = 0
        at = start
        while at < len(css):
            char = css[at]
            at += 1
            if char == "{":
                depth += 1
            elif char == "}":
                depth -= 1
                if depth <= 0:
                    break
            elif char == ";" and depth == 0:
                break
    kept.append(css[at:])
    return "".join(kept)


@dataclass(slots=True)
class Sheet:
    """The style sheets of a document, by what their selectors name."""

    _rules: dict[tuple[str, str], dict[str, tuple[_Rank, str]]] = field(default_factory=dict)
    _count: int = 0
    _inline: dict[str, tuple[tuple[str, str, bool], ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, tree: LexborHTMLParser) -> Sheet:
        """Read the style elements of a document."""
        made = cls()
        for style in tree.css("style"):
            media = (style.attributes.get("media") or "all").strip().lower()
            if media in ("all", "screen"):
                made._read(style.text()[:_STYLE_CHARS])
        return made

    def _read(self, css: str) -> None:
        css = without_conditions(without_comments(css.replace("<!--", " ").replace("-->", " ")))
        for rule in css.split("}"):
            selectors, brace, body = rule.partition("{")
            if not brace or "{" in body:
                continue
            declared = tuple(declarations(body))
            for selector in selectors.split(",") if declared else ():
                if self._count >= _RULES:
                    return
                self._add(selector.strip(), declared)

    def _add(self, selector: str, declared: Iterable[tuple[str, str, bool]]) -> None:
        if not selector or len(selector) > _SELECTOR_CHARS or _AT_REST_NOT.search(selector):
            return
        self._count += 1
        found = _SIMPLE.fullmatch(selector)
        if found is not None:
            tag, mark, name = (found["tag"] or "").lower(), found["mark"] or "", found["name"] or ""
        else:
            last = _LAST.search(selector)
            if last is None:
                return
            tag, mark, name = (last[3] or "").lower(), last[1] or "", last[2] or ""
        rank = _KINDS.get(mark, 0) * 2 + bool(tag and tag != "*")
        known = self._rules.setdefault((tag if tag != "*" or not mark else "", mark + name), {})
        for prop, value, important in declared:
            place = (important, rank, self._count)
            if prop not in known or known[prop][0] <= place:
                known[prop] = (place, value if found is not None else UNKNOWN)

    def bare(self, tag: str) -> bool:
        """Say whether nothing is declared for an element without attributes."""
        return (tag, "") not in self._rules and ("*", "") not in self._rules

    def declared(self, tag: str, attributes: dict[str, str | None]) -> Declared:
        """Return what an element declares.

        Args:
            tag: its name, lower case.
            attributes: its attributes.

        Returns:
            The value that holds for each property, without presentational attributes.
        """
        best: dict[str, tuple[_Rank, str]] = {}
        if self._rules:
            names = [f".{name}" for name in (attributes.get("class") or "").split()]
            if attributes.get("id"):
                names.append(f"#{attributes['id']}")
            for key in (("*", ""), (tag, ""), *((by, name) for name in names for by in ("", tag))):
                for prop, ranked in self._rules.get(key, {}).items():
                    if prop not in best or best[prop][0] <= ranked[0]:
                        best[prop] = ranked
        if style := attributes.get("style"):
            for number, (prop, value, important) in enumerate(self._parsed(style)):
                place = (important, _INLINE * 2, number)
                if prop not in best or best[prop][0] <= place:
                    best[prop] = (place, value)
        # A shorthand and its long form: the one that ranks higher holds, the other is as if it were not there.
        for short, long in (("background", "background-color"), ("font", "font-size"), ("margin", "margin-left")):
            if short in best and long in best and not has_picture(best[short][1]):
                del best[short if best[short][0] <= best[long][0] else long]
        return {prop: value for prop, (_, value) in best.items()}

    def _parsed(self, style: str) -> tuple[tuple[str, str, bool], ...]:
        found = self._inline.get(style)
        if found is None:
            found = tuple(
                {(name, important): (name, value, important) for name, value, important in declarations(style)}.values()
            )
            if len(self._inline) < _RULES:
                self._inline[style] = found
        return found
