"""Write the samples: an invented shop's support mailbox, and what a careful clerk would file.

    python samples/build.py [FOLDER]

The output is the same to the byte on every run. Beside each message stands what is expected of it: standing,
questions, customer and machine (keys of people.json and of the machines here), and every fact in its normal form.
"""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import folders  # noqa: E402
import mail_2025a  # noqa: E402
import mail_2025b  # noqa: E402
import mail_2026a  # noqa: E402
import mail_2026b  # noqa: E402
import makers  # noqa: E402
import noise  # noqa: E402
import trade  # noqa: E402
from post import Sample  # noqa: E402
from terms import COVERAGE  # noqa: E402
from world import PEOPLE, SHOP_ADDRESSES, SHOP_NAME  # noqa: E402


def _write(path: Path, data: bytes | str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data.encode() if isinstance(data, str) else data)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, indent=2) + "\n"


def mailbox() -> list[tuple[str, Sample]]:
    """Return the messages of the mailbox with their file names, in order of arrival."""
    samples = [*noise.messages(), *trade.messages()]
    for part in (mail_2025a, mail_2025b, mail_2026a, mail_2026b):
        samples += part.confirmations()
    samples.sort(key=lambda s: s.arrives)
    if len({s.slug for s in samples}) != len(samples):
        raise ValueError("two samples have the same slug")
    return [(f"{number:03}-{s.slug}", s) for number, s in enumerate(samples, start=1)]


def _customers() -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["name", "email", "phone", "street", "town", "country", "language"])
    for person in sorted(PEOPLE.values(), key=lambda p: (p.family, p.given, p.key)):
        *street, town, country = person.address.split(", ")
        writer.writerow([person.name, person.email, person.phone, ", ".join(street), town, country, person.language])
    return out.getvalue()


def _people(samples: list[Sample]) -> dict[str, list[str]]:
    """Return the names under which each filed customer appears."""
    names: dict[str, list[str]] = {}
    for sample in samples:
        key, facts = sample.expected["customer"], sample.expected["facts"]
        if isinstance(key, str) and isinstance(facts, dict):
            known = names.setdefault(key, [])
            if facts["customer_name"] not in known:
                known.append(facts["customer_name"])
    return dict(sorted(names.items()))


def build(target: Path) -> int:
    """Write everything below ``target`` and return the number of messages; what an earlier run left is replaced."""
    for old in (target / "mailbox").glob("[0-9][0-9][0-9]-*"):
        old.unlink()
    for old in (target / "Maildir").glob("[cn][ue][rw]/*"):
        old.unlink()
    box, old_mail, maildir = mailbox(), folders.old_mail(), folders.maildir()
    for name, sample in box:
        _write(target / "mailbox" / f"{name}.eml", sample.data)
        _write(target / "mailbox" / f"{name}.expected.json", _json(sample.expected))
    _write(target / "old.mbox", folders.Mbox(old_mail).data)
    _write(target / "old.expected.json", _json([s.expected for s in old_mail]))
    for path, sample in maildir:
        _write(target / "Maildir" / path, sample.data)
    _write(target / "Maildir" / "tmp" / ".gitignore", "# Keeps the empty folder that a Maildir has.\n")
    _write(target / "Maildir.expected.json", _json({Path(p).name: s.expected for p, s in maildir}))
    for maker in (makers.VESTERLYNG, makers.KESTRELLE, makers.ORVANDO):
        _write(target / "patterns" / f"{maker.name.lower()}.toml", makers.pattern_file(maker))
    samples = [s for _, s in box] + old_mail + [s for _, s in maildir]
    _write(target / "people.json", _json(_people(samples)))
    _write(target / "customers.csv", _customers())
    _write(target / "coverage.toml", COVERAGE)
    addresses = ", ".join(f'"{a}"' for a in SHOP_ADDRESSES)
    settings = f'shop_name = "{SHOP_NAME}"\nshop_addresses = [{addresses}]\nregion = "GB"\n'
    _write(target / "counterfoil.toml", settings)
    # Line endings must not change on the way through version control: messages are kept to the byte.
    _write(target / ".gitattributes", "* -text\n")
    return len(samples)


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    sys.stdout.write(f"{build(folder)} messages written below {folder}\n")
