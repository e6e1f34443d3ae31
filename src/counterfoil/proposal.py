"""A maker file proposed from messages: the messages read, what the file would do to the archive, writing it."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from counterfoil import upkeep
from counterfoil.archive import Archive
from counterfoil.durable import sync_folder
from counterfoil.errors import SourceUnreadable, StorageFull, UsageProblem
from counterfoil.model import CODE_KINDS, Check, Fact, Kind, Message, Reading
from counterfoil.patterns import Patterns
from counterfoil.patterns.draft import Draft, make_draft
from counterfoil.patterns.examples import Example, spotted
from counterfoil.patterns.makers import parse_maker
from counterfoil.patterns.normal import normal
from counterfoil.patterns.recognise import readable
from counterfoil.records.rereading import MessageChange, Target
from counterfoil.sandbox import Reader
from counterfoil.sandbox.reader import UNREAD, Task

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,60}")
_REF = re.compile(r"[Ee][1-9][0-9]*")


@dataclass(frozen=True, slots=True)
class Sample:
    """A message given as an example: its name (E5, or the file), the message, what was read, and what is on record."""

    name: str
    message: Message
    reading: Reading
    on_record: Mapping[Kind, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class WrongMatch:
    """A message of another maker that the file would take for its own: its id, that maker, and what matched."""

    id: str
    maker: str
    what: str


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A value on file that the new reading gives otherwise. ``old`` and ``new`` are as written: mask them."""

    id: str
    kind: Kind
    old: str
    new: str
    confirmed: bool


@dataclass(slots=True)
class Preview:
    """What a maker file would do to the messages of the archive.

    ``matched`` maps each message it would recognise to how: sender, name, shape.
    """

    read: int = 0
    matched: dict[str, tuple[str, ...]] = field(default_factory=dict)
    changes: list[MessageChange] = field(default_factory=list)
    contradictions: list[Contradiction] = field(default_factory=list)
    wrong: list[WrongMatch] = field(default_factory=list)
    failed: dict[str, tuple[Kind, ...]] = field(default_factory=dict)
    """Message -> codes whose check digit, as proposed, is wrong."""
    problems: list[str] = field(default_factory=list)


def read_samples(archive: Archive, names: Sequence[str]) -> list[Sample]:
    """Read the messages given as examples.

    Args:
        archive: the archive.
        names: ids of messages (E5) and paths of files with one message each; the same one twice counts once.

    Raises:
        RecordUnknown: there is no such message.
        SourceUnreadable: a file cannot be read, or is no message.
    """
    samples: dict[str, Sample] = {}
    for name in names:
        if _REF.fullmatch(name):
            record = archive.store.message(name)
            data, shown = archive.originals.read(record.sha256), record.id
            on_record = {n.fact.kind: n.fact.value for n in record.facts if n.chosen}
        else:
            data, shown, on_record = _file(Path(name), archive.settings.limits.message_bytes), name, {}
        sha256 = hashlib.sha256(data).hexdigest()
        if sha256 not in samples:  # the first name given stays
            ((message, reading),) = archive.reader.read([Task(sha256, data, whole=True)])
            if reading is UNREAD:
                raise SourceUnreadable(f"{shown} cannot be read as a message.", "Name another one.")
            samples[sha256] = Sample(shown, message, reading, on_record)
    return list(samples.values())


def _file(path: Path, most: int) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except OSError as error:
        raise SourceUnreadable(f"{path} cannot be read: {error.strerror or error}.") from error
    if len(data) > most:
        raise SourceUnreadable(f"{path} is larger than {most:,} bytes.", "Name another message.")
    return data


def read_values(sample: Sample) -> dict[Kind, str]:
    """Return what was settled for a message on record, else what was read in it: proposals for a person to confirm."""
    read = {kind: fact.value for kind, fact in sample.reading.chosen.items()}
    return {**read, **sample.on_record}


def assign(
    archive: Archive,
    samples: Sequence[Sample],
    typed: Sequence[tuple[Kind, str]],
    taken: Mapping[str, Mapping[Kind, str]],
) -> list[Example]:
    """Give each message its values: those typed go to the messages in whose text they stand, and outrank those taken.

    Args:
        archive: the archive, for its patterns.
        samples: the messages.
        typed: kind and value, as typed; a maker's name goes to all.
        taken: message -> values settled, read or confirmed.

    Raises:
        UsageProblem: a value typed stands in none of the messages, or a message has two of one kind.
    """
    values: dict[str, dict[Kind, str]] = {sample.name: {} for sample in samples}
    views = {s.name: [archive.patterns.view(d) for d in readable(s.message)] for s in samples}
    region = archive.settings.region
    for kind, value in typed:
        homes = [n for n, vs in views.items() if any(spotted(view, kind, value, region) for view in vs)]
        for name in list(views) if kind is Kind.MAKER else homes:
            other = values[name].setdefault(kind, value)
            if normal(kind, other, region) != normal(kind, value, region):
                word = kind.value.replace("_", " ")
                raise UsageProblem(f"Two values were given as the {word} of {name}.", "Give one a message.")
        if not homes and kind is not Kind.MAKER:
            word = kind.value.replace("_", " ")
            raise UsageProblem(
                f"A {word} given with --value stands in none of the messages.", "Give it as the message prints it."
            )
    return [Example(s.name, s.message, s.reading, {**taken.get(s.name, {}), **values[s.name]}) for s in samples]


def propose(archive: Archive, examples: Sequence[Example]) -> Draft:
    """Propose a maker file; see :func:`counterfoil.patterns.draft.make_draft`."""
    return make_draft(examples, archive.patterns, archive.settings)


def preview(archive: Archive, draft: Draft, progress: Callable[[int, int], None] | None = None) -> Preview:
    """Read the whole archive as if the file were in it, and tell what that does; nothing is changed.

    Args:
        archive: the archive.
        draft: the proposed file.
        progress: called with the number of messages read and of all.

    Raises:
        ArchiveBusy: another run holds the archive.
    """
    found = Preview()
    patterns = Patterns(archive.patterns.vocabularies, (*archive.patterns.makers, draft.pattern))
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as name:
        folder = Path(name)
        for path in sorted((archive.folder / "patterns").glob("*.toml")):
            shutil.copyfile(path, folder / path.name)
        (folder / "proposed maker.toml").write_text(draft.text, encoding="utf-8")
        reader = Reader(archive.settings, folder, lambda: patterns, archive.customer_passwords)
        try:
            report = upkeep.reread(
                archive,
                reader=reader,
                seen=lambda target, _, reading: _look(archive, draft, found, target, reading),
                write=False,
                who="",
                why="",
                progress=progress,
            )
        finally:
            reader.close()
    found.read, found.problems = report.read, report.problems
    # Reading anew may change others, too, for reasons that are none of this file's.
    touched = found.matched.keys() | {wrong.id for wrong in found.wrong}
    found.changes = [change for change in report.changes if change.seen and change.id in touched]
    return found


def _look(archive: Archive, draft: Draft, found: Preview, target: Target, reading: Reading) -> None:
    """Note what the proposed file does to one message."""
    ours = [fact for fact in reading.facts if _is_ours(fact, draft.maker)]
    how = sorted({_how(fact) for fact in ours})
    chosen = reading.chosen.get(Kind.MAKER)
    other = target.maker if target.maker is not None and not draft.pattern.is_called(target.maker) else None
    if other is not None and ours:
        found.wrong.append(WrongMatch(target.id, other, ", ".join(how)))
    if not ours and (chosen is None or chosen.normal != draft.maker):
        return
    if other is None:
        found.matched[target.id] = tuple(how) or ("label",)
    failed = tuple(sorted(k for k in CODE_KINDS & reading.chosen.keys() if reading.chosen[k].check is Check.FAILED))
    if failed:
        found.failed[target.id] = failed
    record = archive.store.message(target.id)
    if record.customer is None and record.machine is None:
        return
    for noted in record.facts:
        new = reading.chosen.get(noted.fact.kind)
        if noted.chosen and new is not None and new.normal != noted.fact.normal:
            found.contradictions.append(
                Contradiction(target.id, noted.fact.kind, noted.fact.value, new.value, noted.confirmed)
            )


def _is_ours(fact: Fact, maker: str) -> bool:
    return fact.pattern in (f"sender {maker}", f"name {maker}") or fact.pattern.endswith(f"shape {maker}")


def _how(fact: Fact) -> str:
    return next((word for word in ("sender", "name") if fact.pattern.startswith(word + " ")), "shape")


def write(archive: Archive, draft: Draft, name: str, *, who: str, why: str) -> tuple[Path, str]:
    """Write the file into the archive's folder of maker files, durably; never over another one.

    Args:
        archive: the archive.
        draft: the proposed file.
        name: the file's name without its ending: small letters, digits, ``-`` and ``_``.
        who: the person, for the journal.
        why: their reason.

    Returns:
        The file and the line of the journal.

    Raises:
        UsageProblem: the name cannot be used, or the file exists.
        StorageFull: it cannot be written.
        ArchiveBusy: another run holds the archive.
    """
    stem = name.removesuffix(".toml")
    if not _NAME.fullmatch(stem):
        raise UsageProblem(f"{name!r} cannot be a file's name.", "Use small letters, digits, - and _.")
    path = archive.folder / "patterns" / f"{stem}.toml"
    parse_maker(str(path), draft.text.encode())
    with archive.lock():
        try:
            path.parent.mkdir(exist_ok=True)
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as stream:
                stream.write(draft.text.encode())
                stream.flush()
                os.fsync(stream.fileno())
            sync_folder(path.parent)
        except FileExistsError as error:
            raise UsageProblem(f"{path} exists; it is left as it is.", "Choose another name.") from error
        except OSError as error:
            raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error
        detail = {"file": path.name, "maker": draft.maker, "messages": sorted(draft.used)}
        line = archive.store.note(who, "patterns", "patterns", why, detail)
    return path, line


def note_reveal(archive: Archive, samples: Sequence[Sample], *, who: str, why: str) -> None:
    """Write into the journal that the codes of messages were shown in full."""
    with archive.lock():
        for sample in samples:
            archive.store.note(who, "reveal", sample.name, why, {"by": "patterns learn"})
