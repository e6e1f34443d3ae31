"""Which part may import which, read from the source and held against the rules below.

Run alone (`python tests/layers.py`) it prints every violation and leaves with 1 if there is one.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

SOURCE = Path(__file__).parent.parent / "src" / "counterfoil"

GROUND = frozenset({"__init__", "model", "errors", "settings", "durable", "password_file"})

#: part -> parts it may import besides itself and the ground.
MAY_IMPORT: dict[str, frozenset[str]] = {
    **{name: frozenset() for name in GROUND},
    "sources": frozenset(),
    "documents": frozenset(),
    "patterns": frozenset(),
    "records": frozenset(),
    "index": frozenset(),
    "post": frozenset(),
    "answers": frozenset({"records", "index"}),
    "sandbox": frozenset({"documents", "patterns"}),
    "archive": frozenset({"records", "index", "patterns", "sandbox"}),
    "batches": frozenset({"archive", "sandbox", "sources"}),
    "pipeline": frozenset({"archive", "batches", "sources", "patterns", "sandbox", "records", "index"}),
    "mailbox": frozenset({"archive", "pipeline", "sources", "records"}),
    "watching": frozenset({"archive", "pipeline", "mailbox", "sources"}),
    "byhand": frozenset({"archive", "records"}),
    "entering": frozenset({"archive", "pipeline", "patterns", "records"}),
    "upkeep": frozenset({"archive", "batches", "pipeline", "sandbox", "records"}),
    "proposal": frozenset({"archive", "upkeep", "sandbox", "patterns", "records"}),
    "faces": frozenset(
        {
            "pipeline",
            "mailbox",
            "watching",
            "byhand",
            "entering",
            "upkeep",
            "proposal",
            "archive",
            "answers",
            "records",
            "patterns",
            "sources",
            "documents",
            "post",
        }
    ),
    "__main__": frozenset({"faces"}),
}

#: Modules open to parts that may not import the rest of their folder: normal forms and names are shared words.
OPEN_MODULES: dict[str, frozenset[str]] = {
    "records": frozenset({"patterns.normal", "patterns.names"}),
    "answers": frozenset({"patterns.normal", "patterns.names", "patterns.dates"}),
}

#: foreign library -> the one part that may import it. One library has three homes: zips are read in sources
#: and documents, where they come from strangers, and written in answers.
ONE_HOME = {
    "mailparser": "documents",
    "pypdfium2": "documents",
    "pypdfium2_raw": "documents",
    "pdfplumber": "documents",
    "pdfminer": "documents",
    "pikepdf": "documents",
    "selectolax": "documents",
    "PIL": "documents",
    "pi_heif": "documents",
    "rapidocr": "documents",
    "onnxruntime": "documents",
    "numpy": "documents",
    "zxingcpp": "documents",
    "stdnum": "patterns",
    "phonenumbers": "patterns",
    "sqlalchemy": "records",
    "sqlcipher3": "records",
    "sqlite3": "records",
    "rapidfuzz": "records",
    "nicknames": "records",
    "jellyfish": "records",
    "whoosh": "index",
    # Nothing from elsewhere is unpickled: the only pickles are whoosh's, in files that are hashed first.
    "pickle": "index",
    "Stemmer": "index",
    "reportlab": "answers",
    "segno": "answers",
    "smtplib": "post",
    "imaplib": "sources",
    "imapclient": "sources",
    "keyring": "faces",
    "oxmsg": "documents",
    "olefile": "documents",
    "compressed_rtf": "documents",
    "striprtf": "documents",
    "mailbox": "sources",
    "filelock": "archive",
    "platformdirs": "archive",
    "click": "faces",
    "rich": "faces",
}


def part_of(path: Path, source: Path) -> str:
    """Return the part a file belongs to: its folder below the package, or its own name at the top."""
    inner = path.relative_to(source)
    return inner.parts[0] if len(inner.parts) > 1 else inner.stem


def imports(path: Path, source: Path) -> Iterator[tuple[int, str]]:
    """Yield line number and dotted name of everything a file imports, relative imports made absolute."""
    package = ("counterfoil", *path.relative_to(source).parent.parts)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join((*package[: len(package) - node.level + 1], *([base] if base else [])))
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def violations(source: Path = SOURCE) -> list[str]:
    """Return every forbidden import as `file:line: sentence`.

    Args:
        source: the package's folder.
    """
    found = []
    for path in sorted(source.rglob("*.py")):
        part = part_of(path, source)
        for line, name in imports(path, source):
            problem = _problem(part, name)
            if problem:
                found.append(f"{path.relative_to(source)}:{line}: {problem}")
    return found


def _problem(part: str, name: str) -> str | None:
    top, _, rest = name.partition(".")
    if top != "counterfoil":
        if top == "zipfile" and part not in ("sources", "documents", "answers"):
            return "zipfile may be imported in sources, documents and answers only"
        home = ONE_HOME.get(top)
        return f"{top} may be imported in {home} only" if home not in (None, part) else None
    other = rest.partition(".")[0]
    if part not in MAY_IMPORT:
        return f"{part} has no place in the layers"
    if other in GROUND or other in ("", "__version__") or other == part or other in MAY_IMPORT[part]:
        return None
    if any(rest == m or rest.startswith(m + ".") for m in OPEN_MODULES.get(part, ())):
        return None
    return f"{part} may not import {other}"


if __name__ == "__main__":
    lines = violations()
    print("\n".join(lines) or "layers: every import is allowed")
    sys.exit(1 if lines else 0)
