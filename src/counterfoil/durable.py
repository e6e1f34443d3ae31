"""Making file names durable: shared by originals, index and archive."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable.

    Windows has no such call; there the journal of the file system does it.

    Args:
        folder: the folder.

    Raises:
        OSError: the folder cannot be opened or synced.
    """
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
