"""A pack for the maker: a summary with the evidence as pictures, the originals byte for byte, and a list of hashes.

It is a zip that opens without this program. Originals show codes in clear; a pack is therefore made for a reason only,
which goes into the journal first. The list of hashes is one that `sha256sum -c` of GNU coreutils reads.
"""

from __future__ import annotations

import hashlib
import io
import os
import unicodedata
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.answers.handout_files import message_suffix, no_program, safe_name
from counterfoil.answers.masking import BULLET, secrets_of
from counterfoil.answers.pack_evidence import (
    MOST_EXHIBITS,
    Chosen,
    DrawPage,
    Exhibit,
    OpenMessage,
    choose,
    decisive,
    exhibits_of,
)
from counterfoil.answers.pack_pdf import Summary, make_summary
from counterfoil.answers.provenance import machine_hidden, name_hidden
from counterfoil.answers.warranty import STANDING_NOTE, WarrantyAnswer
from counterfoil.errors import NeedsALook, StorageFull, UsageProblem

if TYPE_CHECKING:
    from counterfoil.model import MachineProfile, Noted
    from counterfoil.records.store import Store

PACK_ACTION = "pack"
MANIFEST = "SHA256SUMS"
SUMMARY = "summary.pdf"
READ_ME = "READ-ME.txt"
CAUTION = (
    "The originals show product keys and activation codes in clear: look through them before they leave the house."
)


@dataclass(frozen=True, slots=True)
class Tools:
    """What making a pack needs from other parts of the program.

    ``read_original`` gives the bytes of an original by its hash, ``open_message`` reads them, ``draw_page`` draws a
    page of a PDF in them, ``attachments`` takes the attached files out.
    """

    read_original: Callable[[str], bytes]
    open_message: OpenMessage
    draw_page: DrawPage
    attachments: Callable[[bytes], Iterable[tuple[str, bytes]]]


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack that was written: the file, what is in it, what was left out and why, the line of the journal."""

    path: Path
    files: tuple[str, ...]
    messages: tuple[str, ...]
    left_out: tuple[str, ...]
    sha256: str
    journal: str

    def to_json(self) -> dict[str, object]:
        """Return the pack as a dictionary."""
        return {
            "pack": str(self.path),
            "files": list(self.files),
            "messages": list(self.messages),
            "left_out": list(self.left_out),
            "sha256": self.sha256,
            "journal": self.journal,
            "caution": CAUTION,
        }


def write_pack(
    store: Store,
    answer: WarrantyAnswer,
    path: Path,
    tools: Tools,
    *,
    shop_name: str,
    made: date,
    paper: str = "a4",
    reveal: bool = False,
    who: str,
    reason: str,
) -> Pack:
    """Make a pack and write it.

    Args:
        store: the records.
        answer: the warranty answer it is about.
        path: the zip; it must not be there yet.
        tools: what reads and draws.
        shop_name: stands at the head of the summary.
        made: the day, in the summary and on the files in the zip.
        paper: ``a4`` or ``letter``.
        reveal: show codes in the summary too.
        who: the person at the desk.
        reason: why the pack is made, for the journal.

    Raises:
        UsageProblem: no reason is given, or the file is there already.
        NeedsALook: nobody has the machine now, or nothing on record may be handed out.
        ArchiveDamaged: an original does not agree with its hash.
        StorageFull: the file cannot be written.
    """
    _refuse_unwritten(path, who, reason)
    machine = machine_hidden(store.machine(answer.machine))
    facts = decisive(machine, answer, store.message)
    chosen = _chosen(store, machine, answer, facts)
    originals = {record.id: tools.read_original(record.sha256) for record in chosen.messages}
    secrets = secrets_of([*machine.facts, *(noted for record in chosen.messages for noted in record.facts)])
    files = _originals(originals, tools, frozenset() if reveal else secrets)
    shown, left_out = _exhibits(chosen, originals, machine, tools, reveal)
    holder = store.customer(str(machine.holder))
    listed = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    summary = Summary(machine, holder, answer, facts, shown, left_out, listed, shop_name, made)
    files = {SUMMARY: make_summary(summary, paper), READ_ME: _read_me(answer, shop_name, made).encode(), **files}
    data = _zip(f"{machine.id}-warranty", files, made)
    digest = hashlib.sha256(data).hexdigest()
    detail: dict[str, object] = {
        "answer": "warranty pack",
        "on": answer.on.isoformat(),
        "customer": machine.holder,
        "sha256": digest,
    }
    detail |= {"messages": list(originals), "left_out": list(left_out), "codes_in_summary": reveal}
    # The journal first: a pack that nobody noted must not be able to leave the house.
    line = store.note(who, PACK_ACTION, machine.id, reason, detail)
    _write(path, data)
    return Pack(path, (*files, MANIFEST), tuple(originals), left_out, digest, line)


def _refuse_unwritten(path: Path, who: str, reason: str) -> None:
    """Refuse a pack without a reason, and one whose file is there already."""
    if not (who.strip() and reason.strip()):
        raise UsageProblem(
            "A pack holds the originals, which show product keys and activation codes in clear.",
            "Add --reason TEXT; it goes into the journal.",
        )
    if path.exists() or path.is_symlink():
        raise UsageProblem(f"{path} is there already and is not overwritten.", "Name another file with --pack.")


def _chosen(store: Store, machine: MachineProfile, answer: WarrantyAnswer, facts: Sequence[Noted]) -> Chosen:
    """Return the messages that go into a pack; there is at least one."""
    if machine.holder is None:
        raise NeedsALook(
            f"Nobody has {machine.id} now: a pack is made of what its present holder sent.",
            f"Note who has it with `counterfoil handover {machine.id} --to C9`.",
        )
    proofs = [e.message for cover in answer.coverage for e in cover.extensions if e.message is not None]
    chosen = choose(machine, facts, proofs, store.message)
    if not chosen.messages:
        raise NeedsALook(
            f"No message of the present holder proves anything about {machine.id}. {' '.join(chosen.left_out)}".strip(),
            "Ask the customer for the invoice and the confirmation, and take them in with `counterfoil ingest`.",
        )
    return chosen


def manifest(files: Mapping[str, bytes]) -> str:
    """Return the hashes of files as `sha256sum` writes them: hash, two blanks, name (GNU coreutils manual, 6.6)."""
    return "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in files.items())


def _originals(originals: Mapping[str, bytes], tools: Tools, secrets: frozenset[str]) -> dict[str, bytes]:
    """Name the originals, and beside each its attached PDFs and pictures as they came; no name tells a secret value."""
    files: dict[str, bytes] = {}
    for ref, data in originals.items():
        files[f"originals/{ref}{message_suffix(data)}"] = data
        for name, content in tools.attachments(data):
            plain = _plain_name(name_hidden(name, secrets).replace(BULLET, "_"))
            files[f"originals/{no_program(f'{ref}-{plain}', (file.partition('/')[2] for file in files))}"] = content
    return files


def _exhibits(
    chosen: Chosen, originals: Mapping[str, bytes], machine: MachineProfile, tools: Tools, reveal: bool
) -> tuple[tuple[Exhibit, ...], tuple[str, ...]]:
    """Return the evidence that is shown, and sentences on what is left out."""
    found: list[Exhibit] = []
    for record in chosen.messages:
        data = originals[record.id]
        first = 1 + sum(len(exhibit.marks) for exhibit in found)
        opened = tools.open_message(data)
        found += exhibits_of(record, data, machine, opened, tools.draw_page, first, reveal)
    left_out = chosen.left_out
    if len(found) > MOST_EXHIBITS:
        left_out += (f"{len(found) - MOST_EXHIBITS} more pages of evidence stand in the originals only.",)
    return tuple(found[:MOST_EXHIBITS]), left_out


def _read_me(answer: WarrantyAnswer, shop_name: str, made: date) -> str:
    """Return the text that explains the pack to whoever opens it."""
    return f"""\
{shop_name}: warranty of machine {answer.machine} on {answer.on}
Made on {made}.

{STANDING_NOTE}

{SUMMARY}       what is covered by the shop's records, and the evidence as pictures
originals/        the messages as received, byte for byte, and the files attached to them
{MANIFEST}        the SHA-256 hash of every file

To check that nothing was changed, in this folder:
  Linux            sha256sum -c {MANIFEST}
  macOS            shasum -a 256 -c {MANIFEST}
  Windows          certutil -hashfile {SUMMARY} SHA256     (one file at a time)

The originals hold product keys and activation codes in clear. Keep them safe.
"""


def _zip(folder: str, files: Mapping[str, bytes], made: date) -> bytes:
    """Pack files into a zip below one folder, the list of hashes last; the same files give the same bytes."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name, data in {**files, MANIFEST: manifest(files).encode()}.items():
            entry = zipfile.ZipInfo(f"{folder}/{name}", (max(made.year, 1980), made.month, made.day, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            # Unix, whatever system it is made on: the same bytes everywhere.
            entry.create_system = 3
            packed.writestr(entry, data)
    return buffer.getvalue()


def _plain_name(name: str) -> str:
    """Return the name of an attachment in ASCII: whoever unpacks it may have any system."""
    plain = unicodedata.normalize("NFKD", safe_name(name)).encode("ascii", "ignore").decode()
    return safe_name(plain)


def _write(path: Path, data: bytes) -> None:
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
        except OSError:
            path.unlink(missing_ok=True)
            raise
    except FileExistsError:
        raise UsageProblem(
            f"{path} is there already and is not overwritten.", "Name another file with --pack."
        ) from None
    except OSError as error:
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error
