"""Files that a command writes: only their owner can read them, and nothing is written over without a word."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from counterfoil.errors import StorageFull, UsageProblem


def write_file(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file that only its owner can read.

    Args:
        path: the file.
        data: its bytes.
        replace: write over one that is there; it is then either the old or the new one, never half of it.

    Raises:
        UsageProblem: it is there already.
        StorageFull: it cannot be written.
    """
    target = path.with_name(f".{path.name}.new") if replace else path
    try:
        if replace:
            target.unlink(missing_ok=True)
        with os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(data)
        if replace:
            target.replace(path)
    except FileExistsError:
        raise UsageProblem(
            f"{path} is there already.", "Name another file, or add --replace to write over it."
        ) from None
    except OSError as error:
        if replace:
            with contextlib.suppress(OSError):
                target.unlink(missing_ok=True)
        raise StorageFull(f"{path} cannot be written: {error.strerror or error}.") from error
