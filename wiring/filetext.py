"""Takes in the text of a small file, refusing whatever is no such thing before anything is opened or read."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from wiring.problems import DataFileError, refused

LARGEST_FILE_BYTES = 1_000_000


def text_of(path: Path, file: str, what: str) -> str:
    """Return the UTF-8 text of the file at `path`; `file` and `what` name it in messages.

    Raises `DataFileError` for what is missing, unreadable, too large, not an ordinary file or not UTF-8.
    """
    wanted = f"the path of a {what}"
    try:
        content = _content(path, file, wanted)
    except DataFileError:
        raise
    except FileNotFoundError:
        raise refused(file, "there is no such file", allowed=wanted) from None
    except PermissionError:
        raise refused(file, "this user may not read it", allowed=f"a readable {what}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise refused(file, f"cannot be read: {reason}", allowed=wanted) from None
    return _decoded(content, file)


def _content(path: Path, file: str, wanted: str) -> bytes:
    # Looked at before it is opened: opening a serial device may reset what hangs on it, a pipe would block.
    status = os.stat(path)
    if stat.S_ISDIR(status.st_mode):
        raise refused(file, "is a directory", allowed=wanted)
    if not stat.S_ISREG(status.st_mode):
        raise refused(file, "is a device or a pipe", allowed=wanted)
    if status.st_size > LARGEST_FILE_BYTES:
        given = f"{status.st_size} bytes"
        raise refused(file, "is too large", given=given, allowed=f"up to {LARGEST_FILE_BYTES} bytes")
    with open(os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC), "rb") as stream:
        return stream.read(LARGEST_FILE_BYTES)


def _decoded(content: bytes, file: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        wrong = f"byte 0x{content[error.start]:02x}"
        raise refused(
            file, "is not UTF-8 text", line=line, given=wrong, allowed="text saved as UTF-8"
        ) from None
