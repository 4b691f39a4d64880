"""A program that holds a board's outputs, all of them on, to be ended from outside.

Run as `python -m tests.hal.board.held HOW`: `wait` for whatever comes, `let-go` of the lines without a goodbye,
`close` in order, `hang`.
"""

from __future__ import annotations

import asyncio
import os
import sys
import time
from pathlib import Path

from hal.board import chips, opening
from hal.board.claims import release_all
from tests.hal.board.remote import WHERE
from wiring.profile import find_profile, load_profile

PROFILE = load_profile(find_profile("single-nest"))


def say(words: str) -> None:
    os.write(1, f"{words}\n".encode())


async def main(how: str) -> None:
    if WHERE in os.environ:
        chips.DEVICES = Path(os.environ[WHERE]).parent
    pins = opening.open_pins(PROFILE, asyncio.get_running_loop(), lambda _: None)
    pins.on_lost.append(lambda error: say(f"lost: {error}"))
    safe = opening.safe_levels(PROFILE)
    for line, level in safe.items():
        pins.pin(line).state = 1 - level
    watcher = pins.goodbye.__self__  # type: ignore[attr-defined]
    say(f"watcher {watcher.process}")
    say("ready")
    if how == "let-go":
        release_all({pins.pin(line).place: pins.pin(line).claim for line in safe})  # type: ignore[misc]
    if how == "close":
        pins.close()
        say(f"closed, watcher ended with {watcher._process.returncode}")
    if how == "hang":
        time.sleep(60)  # noqa: ASYNC251  # a program that hangs is the point
    await asyncio.sleep(60)


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1]))
