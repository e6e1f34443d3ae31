"""The entry: bytes of a message to its layers and documents. Never raises; what is broken is said and the rest read.

The standard library takes the bytes apart, mail-parser reads addresses and dates (see headers.py), the part tree is
walked here: that is the only way to see messages inside messages and PDFs without a name.
"""

from __future__ import annotations

import email
from collections.abc import Iterable, Sequence
from dataclasses import replace
from email.message import Message as Part

from counterfoil.documents import outlook, parts
from counterfoil.documents.collected import Collected
from counterfoil.documents.envelope import head_only
from counterfoil.documents.forwards import Envelope, inline_layer, split_forwards
from counterfoil.documents.headers import Head, is_automatic, is_bulk, read_fields, read_layer
from counterfoil.documents.html import html_charset, html_rows
from counterfoil.documents.html_hidden import hidden_defect
from counterfoil.documents.inside_text import take_out
from counterfoil.documents.leftovers import (
    Unread,
    adds,
    calendar_rows,
    empty,
    is_calendar,
    left_out,
    too_large,
)
from counterfoil.documents.level import Level
from counterfoil.documents.opening import ALL_FILES, FilesInside, Opening
from counterfoil.documents.parts import File
from counterfoil.documents.pictured import Looking, is_picture, read_pdf_file, read_pictured
from counterfoil.documents.text import Row, decode, document, plain_rows
from counterfoil.documents.zip_inside import open_zip
from counterfoil.model import Layer, Message, Problem
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


class _Reader:
    """Reads one message; used once."""

    def __init__(self, limits: Limits, opening: Opening) -> None:
        self.limits = limits
        self.opening = opening
        self.opened = 0
        self.looking = Looking(limits, opening, self._opens)
        self.layers: list[Layer] = []
        self.found = Collected(limits)
        self.defects: list[str] = []
        self.hidden: list[str] = []
        self.calendars: list[File] = []
        self.inside: list[tuple[File, int]] = []
        self.forwards = 0
        self.attachments = 0
        self.unnamed = 0
        self.parts = 0
        self.unpacked = 0
        self.cut = False
        self.closing = False
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
        # Behind all others: the files that a caller wants opened are counted, and these show once what holds them is.
        self.closing = True
        for file, layer in self.inside:
            self._inner(file, layer)
        if self.found.says_nothing:
            for file in self.calendars:
                self.found.add_text(file, 0, "calendar", calendar_rows(decode(file.data, file.charset or "utf-8")[0]))
        if hidden := hidden_defect(self.hidden):
            self.defects.append(hidden)
        return Message(
            sha256,
            size,
            tuple(self.layers),
            tuple(self.found.documents),
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
        level = Level(len(self.layers) - 1, name, unread=list(unread))
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
        self.found.add_unread(innermost, level.unread)
        for inner, inner_depth in level.attached:
            self._message(inner, innermost, inner_depth)
        return head

    def _walk(self, part: Part, level: Level, depth: int, *, other: bool = False, related: bool = False) -> None:
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

    def _multipart(self, part: Part, kind: str, level: Level, depth: int, *, other: bool, related: bool) -> None:
        children = [child for child in part.get_payload() if isinstance(child, Part)]
        if kind == "multipart/alternative":
            kinds = [child.get_content_type() for child in children]
            first = kinds.index("text/plain") if "text/plain" in kinds else 0
            for number, child in enumerate(children):
                self._walk(child, level, depth + 1, other=other or number != first, related=related)
            return
        for child in children:
            self._walk(child, level, depth + 1, other=other, related=related or kind == "multipart/related")

    def _attached(self, part: Part, level: Level, depth: int) -> None:
        inner, defect = parts.inner_message(part)
        if defect:
            self.defects.append(defect)
        if inner is None:
            level.unread.append(("file:message", Problem.DAMAGED, "A message was attached, but it cannot be read.", 0))
        else:
            level.attached.append((inner, depth + 1))

    def _leaf(self, part: Part, level: Level, depth: int, *, other: bool, related: bool) -> None:
        file, defect = parts.open_part(part, related=related)
        if defect:
            self.defects.append(defect)
        self._place(file, level, depth, other=other)

    def _place(self, file: File, level: Level, depth: int, *, other: bool = False) -> None:
        """Put a file where files of its kind are read."""
        self.unpacked += len(file.data)
        if len(file.data) > self.limits.part_bytes or self.unpacked > self.limits.unpacked_bytes:
            level.unread.append(too_large(file))
            return
        if file.is_message:
            inner = email.message_from_bytes(file.data.lstrip(b"\r\n\t "))
            level.attached.append((inner, depth + 1))
        elif file.is_outlook:
            level.outlook.append(file)
        elif file.is_body:
            if not file.is_html:
                file = self._without_files(file, level, depth)
            self._body_text(file, level, other=other)
        elif not file.passed_over:
            level.files.append(file)
        elif is_calendar(file):
            self.calendars.append(file)

    def _without_files(self, file: File, level: Level, depth: int) -> File:
        """Take out of a text the files that stand in it."""
        taken = take_out(file.data)
        for name, data in taken.files:
            self.defects.append("A file stands in the text itself; it was taken out and read.")
            self._place(parts.named_file(name, data), level, depth)
        if taken.encrypted:
            level.unread.append(("file:encrypted", Problem.ENCRYPTED, "A part of the text is encrypted (PGP).", 0))
        return file if taken.text is file.data else replace(file, data=taken.text)

    # --- texts ---------------------------------------------------------------------------------------

    def _rows(self, file: File) -> tuple[list[Row], frozenset[str]]:
        charset = file.charset or (html_charset(file.data) if file.is_html else None)
        text, defect = decode(file.data, charset)
        if defect:
            self.defects.append(defect)
        text = text[: self.limits.text_chars * 4]
        if file.is_html:
            found = html_rows(text)
            self.hidden.append(found.hidden)
            if found.cut:
                self.defects.append("HTML has more attributes than are read; what it hides by them may be shown.")
            return found.rows, found.shown
        return plain_rows(text, flowed=file.flowed, delsp=file.delsp), frozenset()

    def _body_text(self, file: File, level: Level, *, other: bool) -> None:
        rows, shown = self._rows(file)
        level.shown.update(shown)
        level.size += len(file.data)
        target = level.other if other else level.main
        if target:
            target.append(Row(""))
        target.extend(rows)
        if not other and file.is_html:
            level.media_type = "text/html"

    def _texts(self, level: Level) -> int:
        """Make the documents of a message's text; return the innermost layer of its inline forwards."""
        main, other = level.main, level.other
        media_type = level.media_type
        if other and not any(row.text.strip() for row in main):
            main, other, media_type = other, [], "text/html"
        innermost = self._chain(level, main, media_type, "")
        if other and adds(other, main):
            innermost = self._chain(level, other, "text/html", ":html")
        return innermost

    def _chain(self, level: Level, rows: list[Row], media_type: str, suffix: str) -> int:
        pieces = split_forwards(rows, self.limits)
        at, layers = level.layer, [level.layer]
        for number, piece in enumerate(pieces):
            if piece.parent is not None:
                at = inline_layer(self.layers, layers[piece.parent], layers, piece.envelope or Envelope())
                layers.append(at)
            # An empty text is a document of its own only where the message holds nothing else.
            alone = not (number or len(pieces) > 1 or level.files or level.attached or level.outlook or level.unread)
            if not alone and not any(row.text.strip() for row in piece.rows):
                continue
            name = level.name if number == 0 else self._forward_name(at, suffix)
            made = document(
                self.found.unique(f"{name}{suffix}"),
                at,
                piece.rows,
                limit=self.limits.text_chars,
                media_type=media_type,
                size=level.size if number == 0 else 0,
            )
            self.found.documents.append(made if made.text else empty(made))
        return at

    def _forward_name(self, layer: int, suffix: str) -> str:
        """Return the name of a forward's document: the HTML side has the number of the text of the same layer."""
        if suffix:
            for known in self.found.documents:
                if known.layer == layer and known.name.startswith("forward:"):
                    return known.name
        self.forwards += 1
        return f"forward:{self.forwards}"

    # --- files ---------------------------------------------------------------------------------------

    def _file(self, file: File, layer: int, shown: set[str]) -> None:
        label = file.name
        if not label:
            self.unnamed += 1
            label = f"unnamed-{self.unnamed}"
        if file.is_pdf:
            if self._opens():
                documents, defect, inside = read_pdf_file(label, layer, file, self.looking)
                self.defects += [defect] if defect else []
                self.found.add(documents)
                self._hold(inside, layer)
            else:
                self.found.add([left_out(f"pdf:{label}", layer, file, "application/pdf", self.opening.left_out)])
        elif is_picture(file):
            in_text = file.content_id in shown or (file.related and bool(file.content_id))
            self.found.add(read_pictured(label, layer, file, self.looking, in_text=in_text))
        elif file.is_zip and not self.closing:
            if self._opens():
                inside, unread = open_zip(file, label, self.limits)
                self._hold(inside, layer)
                self.found.add_unread(layer, unread)
            else:
                self.found.add([left_out(f"file:{label}", layer, file, file.media_type, self.opening.left_out)])
        elif file.is_text:
            self.found.add_text(file, layer, label, self._rows(file)[0])
        else:
            problem, reason = parts.why_unread(file)
            self.found.add_unread(layer, [(f"file:{label}", problem, reason, len(file.data))], file.media_type)

    def _hold(self, inside: Sequence[File], layer: int) -> None:
        """Keep the files that are inside another one, to be read at the end."""
        for number, file in enumerate(inside):
            self.unpacked += len(file.data)
            if len(self.inside) >= self.limits.parts:
                reason = f"{len(inside) - number} files inside another one are more than are read."
                self.found.add_unread(layer, [("file:rest", Problem.TOO_LARGE, reason, 0)])
                return
            if len(file.data) > self.limits.part_bytes or self.unpacked > self.limits.unpacked_bytes:
                self.found.add_unread(layer, [too_large(file)])
            else:
                self.inside.append((file, layer))

    def _inner(self, file: File, layer: int) -> None:
        """Read a file that was inside another one, or say that nothing is in it."""
        if file.is_message:
            self._message(email.message_from_bytes(file.data.lstrip(b"\r\n\t ")), layer, 1)
        elif file.is_outlook:
            opened, unread = self._outlook(file.data, f"file:{file.name or 'unnamed.msg'}")
            self.found.add_unread(layer, unread)
            if opened is not None:
                self._message(opened, layer, 1)
        elif not file.passed_over:
            self._file(file, layer, set())

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
