"""The `teachrig` program, which also tells on standard output every level that it writes to the simulated pins.

Run as `python -m tests.cli.watched run ...`, with the words of the command.
"""

from __future__ import annotations

import sys

from rig.cli.main import main
from tests.hal.signalled import tell_writes

if __name__ == "__main__":
    tell_writes()
    sys.exit(main())
