"""HTML to rows of text, the way it looks: a table row stays on one line with its cells joined by tabs.

Only text is taken: nothing is fetched, no script or style is run. Text that is not shown (html_hidden.py) is left out
of the rows and returned beside them. Text that is struck out stands between tildes, a raised number behind a word
follows a caret: neither may pass for part of a code.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from typing import NamedTuple

from selectolax.lexbor import LexborHTMLParser, LexborNode

from counterfoil.documents.html_attributes import with_few_attributes
from counterfoil.documents.html_hidden import Look, hidden_text, look
from counterfoil.documents.html_style import Sheet
from counterfoil.documents.text import Row, clean, words

#: Elements nested deeper are read as plain text: Python's own stack is bounded.
_DEPTH = 150
#: Cells side by side are laid out line by line up to this many lines; longer ones are columns of a page.
_SIDE_BY_SIDE = 12

#: Elements left open at the same time beyond which no tree is built: the time it takes grows with their square.
_OPEN = 3_000
_TAG = re.compile(r"<(/?)([a-zA-Z][a-zA-Z0-9]*)")
_ANY_TAG = re.compile(r"<[^<>]*>")
#: Elements that are empty or that the next of their kind closes.
_CLOSED = words("area base br col embed hr img input link meta p li td th tr dd dt option source wbr")

_DROPPED = words(
    "script style head title template iframe object embed applet svg math video audio canvas noframes meta link"
)
_BLOCKS = words(
    "address article aside blockquote body center dd details dialog div dl dt fieldset figcaption figure footer form h1"
    " h2 h3 h4 h5 h6 header hr html legend li main nav ol option p pre section summary table tbody tfoot thead tr td th"
    " caption ul"
)
_SPACED = words("blockquote dl h1 h2 h3 h4 h5 h6 hr ol p pre table ul")
_SPACES = re.compile(r"[ \t\n\r\f]+")
_STRUCK = words("s strike del")
_STRUCK_STYLE = re.compile(r"text-decoration[a-z-]*\s*:[^;]*line-through", re.IGNORECASE)
_META = re.compile(rb"<meta[^>]{0,200}charset\s*=\s*[\"']?\s*([A-Za-z0-9_.:-]{2,40})", re.IGNORECASE)


class HtmlText(NamedTuple):
    """What HTML says: its rows, the content ids of the pictures it shows ("cid:" addresses), the text that it does not
    show, and whether attributes were left out because there are too many."""

    rows: list[Row]
    shown: frozenset[str] = frozenset()
    hidden: str = ""
    cut: bool = False


def html_rows(text: str) -> HtmlText:
    """Read HTML.

    Args:
        text: the document as decoded.
    """
    if _is_hostile(text):
        plain = html.unescape(_ANY_TAG.sub(" ", text))
        return HtmlText([Row(" ".join(line.split()), html=True) for line in clean(plain).split("\n")])
    text, cut = with_few_attributes(text)
    tree = LexborHTMLParser(text)
    root = tree.body or tree.root
    if root is None:
        return HtmlText([], cut=cut)
    walker = _Walker(Sheet.of(tree))
    above = Look()
    for node in (tree.root, root):
        if node is not None and node.tag in ("html", "body"):
            above = look(walker.sheet, node.tag, node.attributes, above)
    walker.inside(root, 0, above)
    walker.out.flush()
    return HtmlText(walker.out.rows, frozenset(walker.shown), hidden_text(walker.hidden), cut)


def html_charset(data: bytes) -> str | None:
    """Return the character set that HTML names in its head, None when it names none."""
    found = _META.search(data, 0, 4096)
    return found[1].decode("ascii") if found else None


def _is_hostile(text: str) -> bool:
    if text.count("<") - 2 * text.count("</") < _OPEN:
        return False
    opened = 0
    for tag in _TAG.finditer(text):
        if tag[1]:
            opened = max(0, opened - 1)
        elif tag[2].lower() not in _CLOSED:
            opened += 1
            if opened > _OPEN:
                return True
    return False


@dataclass(slots=True)
class _Out:
    """Rows finished so far and the pieces of the row under way."""

    depth: int = 0
    rows: list[Row] = field(default_factory=list)
    pieces: list[str] = field(default_factory=list)

    def flush(self, *, force: bool = False) -> None:
        text = _SPACES.sub(" ", "".join(self.pieces)).strip(" ") if self.pieces else ""
        self.pieces.clear()
        for line in clean(text).split("\n"):
            if line.strip() or force:
                self.rows.append(Row(line.strip(" "), self.depth, html=True))

    def blank(self) -> None:
        """Part paragraphs by one empty row, never at the start."""
        if self.rows and self.rows[-1].text:
            self.rows.append(Row("", self.depth, html=True))


class _Walker:
    def __init__(self, sheet: Sheet) -> None:
        self.out = _Out()
        self.sheet = sheet
        self.hidden: list[str] = []
        self.shown: set[str] = set()

    def inside(self, parent: LexborNode, level: int, here: Look) -> None:
        """Read what an element holds; ``here`` is how it looks."""
        if here.gone:
            self.hidden.append(self._flat(parent, here))
            return
        node = parent.first_child
        while node is not None:
            tag = node.tag
            if tag == "-text":
                if seen := self._seen(node.text_content or "", here):
                    self.out.pieces.append(seen)
            elif tag is not None and not tag.startswith(("-", "!")) and tag not in _DROPPED:
                self._element(node, tag, level + 1, here)
            node = node.next

    def _seen(self, text: str, here: Look) -> str:
        """Return what is seen of a text; what is not is kept apart."""
        if not here.hidden:
            return text
        if text.strip():
            self.hidden.append(text)
        return " " if here.gap else ""

    def _flat(self, parent: LexborNode, above: Look) -> str:
        """Return the text of an element in one go, without rows; where it is all gone, what it does not show."""
        pieces: list[str] = []
        stack: list[tuple[LexborNode | None, Look]] = [(parent.first_child, above)]
        while stack:
            node, around = stack.pop()
            if node is None:
                continue
            stack.append((node.next, around))
            tag = node.tag or ""
            if tag == "-text":
                text = node.text_content or ""
                pieces.append(text if above.gone else self._seen(text, around))
            elif not tag.startswith(("-", "!")) and tag not in _DROPPED:
                if tag in _BLOCKS or tag == "br":
                    pieces.append(" ")
                inner = around if above.gone else look(self.sheet, tag, node.attributes, around)
                if inner.gone and not above.gone:
                    self.hidden.append(self._flat(node, inner))
                else:
                    stack.append((node.first_child, inner))
        return "".join(pieces)

    def _element(self, node: LexborNode, tag: str, level: int, above: Look) -> None:
        attributes = node.attributes
        here = look(self.sheet, tag, attributes, above)
        if here.gone:
            self.inside(node, level, here)
        elif level > _DEPTH:
            self.out.pieces.append(f" {self._flat(node, here)} ")
        elif tag == "br":
            self.out.flush(force=True)
        elif tag == "img":
            source = attributes.get("src") or ""
            if source[:4].lower() == "cid:":
                self.shown.add(source[4:].strip("<> "))
        elif tag == "input":
            if (attributes.get("type") or "text").lower() in ("text", "email", "tel", "date", "number"):
                # A field has a type size and colours of its own.
                value = self._seen(attributes.get("value") or "", replace(Look(), visible=here.visible))
                self.out.pieces.append(f" {value} ")
        elif tag == "tr":
            self._table_row(node, level, here)
        elif tag in _BLOCKS:
            self._block(node, tag, level, here)
        elif tag == "sup":
            self._raised(node, level, here)
        elif tag in _STRUCK or _STRUCK_STYLE.search(attributes.get("style") or ""):
            self._struck(node, level, here)
        else:
            self.inside(node, level, here)

    def _raised(self, node: LexborNode, level: int, here: Look) -> None:
        """Part the number of a footnote from the word it stands behind; 1er and 3rd stay as they are."""
        mark = (node.text() or "").strip(" ()[]")
        behind = bool(self.out.pieces) and bool(self.out.pieces[-1][-1:].strip())
        if behind and mark.isdigit() and not here.hidden:
            self.out.pieces.append("^")
        self.inside(node, level, here)

    def _struck(self, node: LexborNode, level: int, here: Look) -> None:
        self.out.pieces.append("~")
        self.inside(node, level, here)
        self.out.pieces.append("~")

    def _block(self, node: LexborNode, tag: str, level: int, here: Look) -> None:
        self.out.flush()
        if tag in _SPACED:
            self.out.blank()
        if tag == "pre":
            self._preformatted(node, here)
        else:
            quote = tag == "blockquote"
            self.out.depth += quote
            self.inside(node, level, here)
            self.out.flush()
            self.out.depth -= quote
        if tag in _SPACED:
            self.out.blank()

    def _preformatted(self, node: LexborNode, here: Look) -> None:
        for line in clean(self._flat(node, here)).strip("\n").split("\n"):
            self.out.rows.append(Row(line.rstrip(), self.out.depth, html=True))

    def _table_row(self, node: LexborNode, level: int, here: Look) -> None:
        self.out.flush()
        cells: list[tuple[int, int, list[Row]]] = []
        column = 0
        cell = node.first_child
        outer = self.out
        while cell is not None:
            if cell.tag in ("td", "th"):
                attributes = cell.attributes
                span = _span(attributes.get("colspan"))
                self.out = _Out(outer.depth)
                self.inside(cell, level + 1, look(self.sheet, cell.tag, attributes, here))
                self.out.flush()
                cells.append((column, span, _trimmed(self.out.rows)))
                column += span
            elif cell.tag not in (None, "-text", "-comment"):
                self.out = outer
                self._element(cell, cell.tag or "", level + 1, here)
            cell = cell.next
        self.out = outer
        self.out.flush()
        self.out.rows.extend(_beside(cells, outer.depth))


def _span(value: str | None) -> int:
    return min(int(value), 100) if value and value.isdecimal() and int(value[:4]) > 0 else 1


def _trimmed(rows: list[Row]) -> list[Row]:
    first, last = 0, len(rows)
    while first < last and not rows[first].text:
        first += 1
    while last > first and not rows[last - 1].text:
        last -= 1
    return rows[first:last]


def _beside(cells: list[tuple[int, int, list[Row]]], depth: int) -> list[Row]:
    """Lay the cells of a table row side by side.

    One cell with text: its rows as they are. Cells of a few plain lines: line by line as seen. Cells with tables
    in them, or long ones, are parts of a page and come one after the other.
    """
    filled = [cell for cell in cells if cell[2]]
    if not filled:
        return []
    if len(filled) == 1:
        column, span, rows = filled[0]
        if len(rows) == 1 and rows[0].columns is None:
            return [
                Row(rows[0].text, rows[0].depth, ((column, span),) if "\t" not in rows[0].text else None, html=True)
            ]
        return rows
    plain = all("\t" not in row.text for _, _, rows in filled for row in rows)
    lines = max(len(rows) for _, _, rows in filled)
    if not plain or lines > _SIDE_BY_SIDE:
        return [row for _, _, rows in filled for row in rows]
    columns = tuple((column, span) for column, span, _ in cells)
    # Cells may hold a quote of their own; the row then stands in the deepest.
    deepest = max((row.depth for _, _, rows in filled for row in rows), default=depth)
    return [
        Row("\t".join(row.text if row else "" for row in line), deepest, columns, html=True)
        for line in zip_longest(*(rows for _, _, rows in cells))
        if any(row and row.text for row in line)
    ]
