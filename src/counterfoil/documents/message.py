"""The entry: bytes of a message to its layers and documents. Never raises; what is broken is said and the rest read.

The standard library takes the bytes apart, mail-parser reads addresses and dates (see headers.py), the part tree is
walked here: that is the only way to see messages inside messages and PDFs without a name.
"""

from __future__ import annotations

import email
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from email.message import Message as Part

from counterfoil.documents import outlook, parts
from counterfoil.documents.envelope import head_only
from counterfoil.documents.forwards import Envelope, split_forwards
from counterfoil.documents.headers import Head, is_automatic, is_bulk, read_fields, read_layer
from counterfoil.documents.html import html_charset, html_rows
from counterfoil.documents.html_hidden import hidden_defect
from counterfoil.documents.leftovers import Unread, adds, empty, left_out
from counterfoil.documents.opening import ALL_FILES, FilesInside, Opening
from counterfoil.documents.parts import File
from counterfoil.documents.pictured import Looking, is_picture, read_pdf_file, read_pictured
from counterfoil.documents.text import Row, decode, document, plain_rows
from counterfoil.model import Document, Layer, Message, Problem
from counterfoil.settings import Limits


def read_message(data: bytes, limits: Limits, *, sha256: str = "", opening: Opening = ALL_FILES) -> Message:
    """Read a message.

    Args:
        data: the bytes as received.
        limits: what reading may cost.
        sha256: the name of the original, handed through.
        opening: which of its files are opened.

    Returns:
        The message. Documents that could not be read carry a problem and a reason.

    Raises:
        FilesInside: only where ``opening`` asks for it.
        MemoryError: only where ``opening`` asks for it.
    """
    try:
        return _Reader(limits, opening).read(data, sha256)
    except FilesInside:
        raise
    except MemoryError as error:
        if opening.strict:
            raise
        return head_only(data, limits, sha256, error)
    # The promise is never to raise, whatever the bytes: one message that finds a fault in a library, or in this
    # package, must not stop the batch. It comes out as damaged and a person sees it.
    except Exception as error:  # noqa: BLE001
        return head_only(data, limits, sha256, error)


@dataclass(slots=True)
class _Level:
    """One message while its parts are collected: the received one, or an attached one."""

    layer: int
    name: str
    main: list[Row] = field(default_factory=list)
    other: list[Row] = field(default_factory=list)
    media_type: str = "text/plain"
    size: int = 0
    files: list[File] = field(default_factory=list)
    shown: set[str] = field(default_factory=set)
    attached: list[tuple[Part, int]] = field(default_factory=list)
    outlook: list[File] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)


class _Reader:
    """Reads one message; used once."""

    def __init__(self, limits: Limits, opening: Opening) -> None:
        self.limits = limits
        self.opening = opening
        self.opened = 0
        self.looking = Looking(limits, opening, self._opens)
        self.layers: list[Layer] = []
        self.documents: list[Document] = []
        self.defects: list[str] = []
        self.hidden: list[str] = []
        self.names: set[str] = set()
        self.forwards = 0
        self.attachments = 0
        self.unnamed = 0
        self.parts = 0
        self.unpacked = 0
        self.cut = False
        self.end_missing = False

    def read(self, data: bytes, sha256: str) -> Message:
        """Read the message."""
        size = len(data)
        if size > self.limits.message_bytes:
            self.defects.append(
                f"The message has {size:,} bytes; only the first {self.limits.message_bytes:,} were read."
            )
            data = data[: self.limits.message_bytes]
        data, pruned = (data, ()) if outlook.is_msg(data) else parts.prepare(data, self.limits)
        self.defects.extend(pruned)
        self.end_missing = parts.CUT in pruned
        unread: list[Unread] = []
        if outlook.is_msg(data):
            opened, unread = self._outlook(data, "file:message.msg")
            message = opened or Part()
        else:
            message = email.message_from_bytes(data)
        head = self._message(message, None, 0, unread)
        if hidden := hidden_defect(self.hidden):
            self.defects.append(hidden)
        return Message(
            sha256,
            size,
            tuple(self.layers),
            tuple(self.documents),
            tuple(dict.fromkeys(self.defects)),
            is_automatic(head, message.get_content_type()),
            is_bulk(head),
        )

    # --- one message ---------------------------------------------------------------------------------

    def _message(self, message: Part, parent: int | None, depth: int, unread: Iterable[Unread] = ()) -> Head:
        head = read_fields(message, self.limits)
        layer, defects = read_layer(head, self.limits, "received" if parent is None else "attached", parent)
        self.defects.extend((*head.defects, *defects))
        self.layers.append(layer)
        if parent is None:
            name = "body"
        else:
            self.attachments += 1
            name = f"attached:{self.attachments}"
        level = _Level(len(self.layers) - 1, name, unread=list(unread))
        self._walk(message, level, depth)
        if self.end_missing and parent is None and not self.cut:
            level.unread.append(("file:rest", Problem.TOO_LARGE, parts.CUT, 0))
        innermost = self._texts(level)
        for file in level.files:
            self._file(file, innermost, level.shown)
        for file in level.outlook:
            opened, unread_inside = self._outlook(file.data, f"file:{file.name or 'unnamed.msg'}")
            level.unread += unread_inside
            if opened is not None:
                level.attached.append((opened, depth + 1))
        for item in level.unread:
            self._add_problem(innermost, *item)
        for inner, inner_depth in level.attached:
            self._message(inner, innermost, inner_depth)
        return head

    def _walk(self, part: Part, level: _Level, depth: int, *, other: bool = False, related: bool = False) -> None:
        """Take in one part of the tree; ``other`` marks the HTML side of an alternative."""
        self.parts += 1
        if self.parts > self.limits.parts or depth > self.limits.mime_depth:
            if not self.cut:
                what = "parts" if self.parts > self.limits.parts else "levels of parts inside parts"
                level.unread.append(("file:rest", Problem.TOO_LARGE, f"The message has too many {what}.", 0))
            self.cut = True
            return
        parts.shorten(part)
        self.defects.extend(parts.defects_of(part))
        kind = part.get_content_type()
        if kind in parts.MESSAGE_TYPES:
            self._attached(part, level, depth)
        elif kind in parts.ELSEWHERE:
            level.unread.append(("file:message", *parts.elsewhere(kind), 0))
        elif part.is_multipart():
            self._multipart(part, kind, level, depth, other=other, related=related)
            if (behind := parts.parts_behind(part)) is not None:
                self.defects.append("Parts stand behind the end of the parts that hold them; they were read as well.")
                self._walk(behind, level, depth + 1, other=other, related=related)
        elif kind.startswith("multipart/") and (mended := parts.mend_multipart(part)) is not None:
            self.defects.append("A part names no boundary, or a wrong one; the one it uses was found.")
            self._walk(mended, level, depth + 1, other=other, related=related)
        else:
            self._leaf(part, level, depth, other=other, related=related)

    def _multipart(self, part: Part, kind: str, level: _Level, depth: int, *, other: bool, related: bool) -> None:
        children = [child for child in part.get_payload() if isinstance(child, Part)]
        if kind == "multipart/alternative":
            kinds = [child.get_content_type() for child in children]
            first = kinds.index("text/plain") if "text/plain" in kinds else 0
            for number, child in enumerate(children):
                self._walk(child, level, depth + 1, other=other or number != first, related=related)
            return
        for child in children:
            self._walk(child, level, depth + 1, other=other, related=related or kind == "multipart/related")

    def _attached(self, part: Part, level: _Level, depth: int) -> None:
        inner, defect = parts.inner_message(part)
        if defect:
            self.defects.append(defect)
        if inner is None:
            level.unread.append(("file:message", Problem.DAMAGED, "A message was attached, but it cannot be read.", 0))
        else:
            level.attached.append((inner, depth + 1))

    def _leaf(self, part: Part, level: _Level, depth: int, *, other: bool, related: bool) -> None:
        file, defect = parts.open_part(part, related=related)
        if defect:
            self.defects.append(defect)
        self.unpacked += len(file.data)
        if len(file.data) > self.limits.part_bytes or self.unpacked > self.limits.unpacked_bytes:
            reason = f"The part has {len(file.data):,} bytes, more than are read."
            level.unread.append((f"file:{file.name or 'unnamed'}", Problem.TOO_LARGE, reason, len(file.data)))
            return
        if file.is_message:
            inner = email.message_from_bytes(file.data.lstrip(b"\r\n\t "))
            level.attached.append((inner, depth + 1))
        elif file.is_outlook:
            level.outlook.append(file)
        elif file.is_body:
            self._body_text(file, level, other=other)
        elif not file.passed_over:
            level.files.append(file)

    # --- texts ---------------------------------------------------------------------------------------

    def _rows(self, file: File) -> tuple[list[Row], frozenset[str]]:
        charset = file.charset or (html_charset(file.data) if file.is_html else None)
        text, defect = decode(file.data, charset)
        if defect:
            self.defects.append(defect)
        text = text[: self.limits.text_chars * 4]
        if file.is_html:
            rows, shown, hidden = html_rows(text)
            self.hidden.append(hidden)
            return rows, shown
        return plain_rows(text, flowed=file.flowed, delsp=file.delsp), frozenset()

    def _body_text(self, file: File, level: _Level, *, other: bool) -> None:
        rows, shown = self._rows(file)
        level.shown.update(shown)
        level.size += len(file.data)
        target = level.other if other else level.main
        if target:
            target.append(Row(""))
        target.extend(rows)
        if not other and file.is_html:
            level.media_type = "text/html"

    def _texts(self, level: _Level) -> int:
        """Make the documents of a message's text; return the innermost layer of its inline forwards."""
        main, other = level.main, level.other
        media_type = level.media_type
        if other and not any(row.text.strip() for row in main):
            main, other, media_type = other, [], "text/html"
        innermost = self._chain(level, main, media_type, "")
        if other and adds(other, main):
            innermost = self._chain(level, other, "text/html", ":html")
        return innermost

    def _chain(self, level: _Level, rows: list[Row], media_type: str, suffix: str) -> int:
        pieces = split_forwards(rows, self.limits)
        at, layers = level.layer, [level.layer]
        for number, piece in enumerate(pieces):
            if piece.parent is not None:
                at = self._inline_layer(layers[piece.parent], layers, piece.envelope or Envelope())
                layers.append(at)
            # An empty text is a document of its own only where the message holds nothing else.
            alone = not (number or len(pieces) > 1 or level.files or level.attached or level.outlook or level.unread)
            if not alone and not any(row.text.strip() for row in piece.rows):
                continue
            name = level.name if number == 0 else self._forward_name(at, suffix)
            made = document(
                self._unique(f"{name}{suffix}"),
                at,
                piece.rows,
                limit=self.limits.text_chars,
                media_type=media_type,
                size=level.size if number == 0 else 0,
            )
            self.documents.append(made if made.text else empty(made))
        return at

    def _forward_name(self, layer: int, suffix: str) -> str:
        """Return the name of a forward's document: the HTML side has the number of the text of the same layer."""
        if suffix:
            for known in self.documents:
                if known.layer == layer and known.name.startswith("forward:"):
                    return known.name
        self.forwards += 1
        return f"forward:{self.forwards}"

    def _inline_layer(self, parent: int, taken: Sequence[int], envelope: Envelope) -> int:
        """Return the layer for a forward in the text: the one the other side of an alternative made, or a new one.

        ``taken``: the layers of this side so far, the message's own first.
        """
        made = Layer("inline", parent, envelope.sender, envelope.to, envelope.cc, envelope.date, envelope.subject)
        for number, known in enumerate(self.layers):
            if number > taken[0] and number not in taken and known.how == "inline" and known.parent == parent:
                self.layers[number] = replace(
                    known,
                    sender=known.sender or made.sender,
                    to=known.to or made.to,
                    cc=known.cc or made.cc,
                    date=known.date or made.date,
                    subject=known.subject or made.subject,
                )
                return number
        self.layers.append(made)
        return len(self.layers) - 1

    # --- files ---------------------------------------------------------------------------------------

    def _file(self, file: File, layer: int, shown: set[str]) -> None:
        label = file.name
        if not label:
            self.unnamed += 1
            label = f"unnamed-{self.unnamed}"
        if file.is_pdf:
            if self._opens():
                documents, defect = read_pdf_file(label, layer, file, self.looking)
                self.defects += [defect] if defect else []
                self._add(documents)
            else:
                self._add([left_out(f"pdf:{label}", layer, file, "application/pdf", self.opening.left_out)])
        elif is_picture(file):
            in_text = file.content_id in shown or (file.related and bool(file.content_id))
            self._add(read_pictured(label, layer, file, self.looking, in_text=in_text))
        elif file.is_text:
            rows, _ = self._rows(file)
            made = document(
                self._unique(f"file:{label}"),
                layer,
                rows,
                limit=self.limits.text_chars,
                media_type="text/html" if file.is_html else file.media_type,
                size=len(file.data),
            )
            self.documents.append(made if made.text else empty(made))
        else:
            problem, reason = parts.why_unread(file)
            self._add_problem(layer, f"file:{label}", problem, reason, len(file.data), file.media_type)

    def _add(self, documents: Iterable[Document]) -> None:
        self.documents.extend(replace(made, name=self._unique(made.name)) for made in documents)

    def _outlook(self, data: bytes, name: str) -> tuple[Part | None, list[Unread]]:
        """Open an Outlook message file; return the message, None where that fails, and what is unread in it."""
        if not self._opens():
            return None, [(name, Problem.DAMAGED, self.opening.left_out, len(data))]
        from counterfoil.documents.msg_file import MsgBroken, open_msg

        try:
            opened = open_msg(data, self.limits)
        except MsgBroken as error:
            return None, [(name, Problem.DAMAGED, f"The Outlook message cannot be opened ({error}).", len(data))]
        return opened.message, [(inner, Problem.UNKNOWN_TYPE, reason, 0) for inner, reason in opened.unread]

    def _opens(self) -> bool:
        """Say whether the file met now is to be opened, and count it."""
        if self.opening.stop:
            raise FilesInside
        number, self.opened = self.opened, self.opened + 1
        return self.opening.files is None or number in self.opening.files

    def _add_problem(
        self,
        layer: int,
        name: str,
        problem: Problem,
        reason: str,
        size: int,
        media_type: str = "application/octet-stream",
    ) -> None:
        unique = self._unique(name)
        self.documents.append(
            Document(unique, layer, "", (), media_type=media_type, problem=problem, reason=reason, size=size)
        )

    def _unique(self, name: str) -> str:
        number, unique = 2, name
        while unique in self.names:
            unique, number = f"{name}~{number}", number + 1
        self.names.add(unique)
        return unique
