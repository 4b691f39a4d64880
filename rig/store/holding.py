"""Who works with a store now: a lock on its folder, which the system takes back however a program ends."""

from __future__ import annotations

import fcntl
import os
import time
from pathlib import Path

from rig.store.errors import JournalError, cannot_keep
from rig.store.private import private_folder

_PATIENCE_S = 5.0
_STEP_S = 0.05


class Hold:
    """Held from before a store is opened until after it is closed.

    Any number of programs may hold a store; `alone` says that none does beside this one, which keeps the others
    waiting until `share` is called. It lies on the folder, since SQLite has locks of its own on the files in it.

    Raises:
        JournalError: when the folder cannot be held, or another program wants it for itself.

    """

    def __init__(self, store: Path) -> None:
        self._folder = os.open(store.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            self.alone = self._try(fcntl.LOCK_EX)
            if not self.alone:
                self._wait(store)
        except BaseException:
            self.release()
            raise

    def share(self) -> None:
        """Let others hold it too."""
        self._try(fcntl.LOCK_SH)
        self.alone = False

    def release(self) -> None:
        """Give it back."""
        os.close(self._folder)

    def _wait(self, store: Path) -> None:
        until_s = time.monotonic() + _PATIENCE_S
        while not self._try(fcntl.LOCK_SH):
            if time.monotonic() > until_s:
                raise JournalError(
                    f"{store}: another program is putting the record back, or begins with it; wait until it has ended"
                )
            time.sleep(_STEP_S)

    def _try(self, how: int) -> bool:
        try:
            fcntl.flock(self._folder, how | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def hold(store: Path) -> Hold:
    """Hold a store, whose folder is made if absent; raises JournalError."""
    try:
        private_folder(store.parent)
        return Hold(store)
    except JournalError:
        raise
    except OSError as failure:
        raise cannot_keep(store, failure) from None
