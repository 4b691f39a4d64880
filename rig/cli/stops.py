"""The signals that ask a program to end, and the exit code of each."""

from __future__ import annotations

import signal

from rig.cli.exits import Exit

STOPS = {signal.SIGINT: Exit.INTERRUPTED, signal.SIGTERM: Exit.TERMINATED, signal.SIGHUP: Exit.HANGUP}
