"""A bound on attributes in HTML: the parser compares each with all others, of its tag and of the document.

Tags are told apart as the HTML Standard does (section 13.2.5), closely enough for documents that are over the bound;
all others are handed on as they are.
"""

from __future__ import annotations

import re

#: HTML shorter than this, in characters, cannot hold enough of them to take a second.
_SHORT = 50_000
#: Attributes of one tag, and different names in one document. No mail that people write comes near: the HTML Standard
#: has 120 names in all.
_MOST_OF_TAG = 200
_MOST_NAMES = 1_000
_TAG = re.compile(r"<!--.*?(?:-->|\Z)|<[a-zA-Z][^\s/>]*", re.DOTALL)
_ATTRIBUTE = re.compile(r"[\s/]*([^\s/>][^\s/>=]*)(?:\s*=\s*(?:\"[^\"]*(?:\"|\Z)|'[^']*(?:'|\Z)|[^\s>]*))?")


def with_few_attributes(text: str) -> tuple[str, bool]:
    """Return HTML with no more attributes than can be parsed in linear time, and whether any were left out.

    Args:
        text: the document as decoded.
    """
    if len(text) < _SHORT:
        return text, False
    kept: list[str] = []
    names: set[str] = set()
    done = at = 0
    while (tag := _TAG.search(text, at)) is not None:
        at = tag.end()
        if tag.group().startswith("<!--"):
            continue
        count = 0
        while (attribute := _ATTRIBUTE.match(text, at)) is not None:
            count += 1
            name = attribute[1].lower()
            if len(names) < _MOST_NAMES:
                names.add(name)
            if count > _MOST_OF_TAG or name not in names:
                kept.append(text[done:at])
                done = attribute.end()
            at = attribute.end()
    return ("".join([*kept, text[done:]]), True) if kept else (text, False)
