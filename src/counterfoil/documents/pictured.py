"""Pictures among the files of a message: which of them are read, and what is said where they cannot be."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from counterfoil.documents.opening import Opening
from counterfoil.documents.parts import File, named_file
from counterfoil.documents.pdf import document_of, layer_of, read_pdf
from counterfoil.documents.pdf_inside import FORM, files_inside, is_program_form
from counterfoil.documents.picture import is_decoration, may_be_symbol, recognise
from counterfoil.documents.picture_open import INSTALL, PictureUnread, can_read
from counterfoil.model import Document, Problem
from counterfoil.settings import Limits


class Looking:
    """Counts what is read off pictures in one message, and gives each the room it takes.

    Args:
        limits: how many pictures, and of what size.
        opening: which files are opened.
        opens: says whether the file met now is to be opened, and counts it.
    """

    def __init__(self, limits: Limits, opening: Opening, opens: Callable[[], bool]) -> None:
        self.limits, self.opening, self.opens = limits, opening, opens
        self.pictures = 0

    @property
    def can_read(self) -> bool:
        """Whether pictures are read: that is wanted, and the libraries are there."""
        return self.opening.pictures and can_read()

    @contextmanager
    def room(self) -> Iterator[None]:
        """Give the room for one more picture.

        Raises:
            PictureUnread: there are too many.
        """
        self.pictures += 1
        if self.pictures > self.limits.pictures:
            reason = f"The message has more than the {self.limits.pictures} pictures that are read."
            raise PictureUnread(Problem.TOO_LARGE, reason)
        with self.opening.room():
            yield


def is_picture(file: File) -> bool:
    """Say whether a file is a picture, by its bytes or by what its header says."""
    return recognise(file.data) is not None or file.media_type.startswith("image/")


def read_pictured(label: str, layer: int, file: File, looking: Looking, *, in_text: bool) -> list[Document]:
    """Read a picture that came with a message.

    Args:
        label: its name.
        layer: the layer it came with.
        file: the picture.
        looking: what was read off pictures so far.
        in_text: it is shown inside the text; small ones are decoration then, of which only a QR code is read.
    """
    picture = recognise(file.data)
    inline = in_text and (picture is None or is_decoration(picture, len(file.data)))
    media_type = picture.media_type if picture else file.media_type
    problem, reason = Problem.PICTURE, "The picture has to be looked at: pictures of this kind are not read."
    if inline:
        reason = "A small picture shown in the text: only QR and bar codes are looked for in such."
    if picture is not None and not inline and not looking.can_read:
        reason = f"The picture has to be looked at; to have pictures read: {INSTALL}."
    elif picture is not None and looking.can_read and (not inline or may_be_symbol(picture, len(file.data))):
        if looking.opens():
            # Imported here: few messages have pictures, and the libraries take a second to load.
            from counterfoil.documents.by_eye import picture_documents

            limits, room = looking.limits, looking.room
            return picture_documents(label, layer, file.data, media_type, limits, room, text=not inline)
        problem, reason = Problem.DAMAGED, looking.opening.left_out
    size = len(file.data)
    about = {"media_type": media_type, "problem": problem, "reason": reason, "inline": inline, "size": size}
    return [Document(f"picture:{label}", layer, "", (), **about)]  # type: ignore[arg-type]  # names of its fields


def read_pdf_file(label: str, layer: int, file: File, looking: Looking) -> tuple[list[Document], str, list[File]]:
    """Read a PDF that came with a message: its text, and what its pages show beside it.

    Args: as for :func:`read_pictured`.

    Returns:
        The documents, a sentence on what was wrong with the file where it was read all the same, the files inside.
    """
    read = read_pdf(file.data, looking.limits, looking.opening.passwords)
    held = files_inside(read.mended or file.data, looking.limits, read.password)
    inside = [named_file(name, data) for name, data in held]
    defect = f"The PDF {label} was damaged; it was mended and then read." if read.mended else ""
    if read.problem in (None, Problem.EMPTY, Problem.SCANNED) and is_program_form(file.data, read.password):
        read = replace(read, problem=Problem.UNKNOWN_TYPE, reason=FORM)
        return [document_of(read, f"pdf:{label}", layer, file.data)], defect, inside
    under = layer_of(read, label, layer, file.data)
    if (read.scans or read.drawn) and looking.can_read:
        from counterfoil.documents.by_eye import pdf_documents

        own, more = pdf_documents(label, layer, file.data, read, looking.limits, looking.room)
        return [own, *under, *more], defect, inside
    if under and read.problem is Problem.SCANNED and not read.bare:
        read = replace(read, problem=Problem.EMPTY, reason="The PDF is a scan: its text is what a scanner read off it.")
    elif read.problem is Problem.SCANNED and not looking.can_read:
        read = replace(read, reason=f"{read.reason} To have scans read: {INSTALL}.")
    return [document_of(read, f"pdf:{label}", layer, file.data), *under], defect, inside
