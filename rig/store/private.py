"""Files that only their owner reads and writes: who taught what, and what came of it, is nobody else's business."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

FILE_MODE = 0o600
FOLDER_MODE = 0o700
_OTHERS = 0o077


def private_folder(folder: Path) -> None:
    """Make a folder that is private if it is not there yet; one that is stays as open as its owner wants it."""
    folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)


def private_file(path: Path) -> None:
    """See to it that a file is there, and private if it is ours; what SQLite puts beside it takes after it.

    It is never opened if it is there: closing it again would take away the locks that SQLite has on it in this process
    (sqlite.org/howtocorrupt.html, section 2.2).
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, FILE_MODE))
    except FileExistsError:
        found = path.stat()
        if found.st_uid == os.geteuid() and found.st_mode & _OTHERS:
            with suppress(OSError):  # a disk that cannot be written says so by itself
                path.chmod(FILE_MODE)
