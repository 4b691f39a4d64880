"""A headless Chromium (Debian's package `chromium`), told what to do over a pipe by its DevTools protocol."""

from __future__ import annotations

import base64
import json
import os
import shutil
import signal
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_PATIENCE_S = 60.0
_ARGUMENTS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--remote-debugging-pipe",
)


class Browser:
    """One page of one browser; `asked_for` has every address that the page wanted to load."""

    def __init__(self, to_browser: int, from_browser: int) -> None:
        self._to, self._from = to_browser, from_browser
        self._kept = b""
        self._number = 0
        self._session: str | None = None
        self.asked_for: list[str] = []
        self.violations: list[str] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log", "Accessibility"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Call the browser and wait for its answer."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            told = self._next()
            if told.get("id") == self._number:
                assert "error" not in told, told
                result: dict[str, Any] = told["result"]
                return result

    def open(self, page: Path) -> None:
        """Open a file and wait until it is there."""
        self.call("Page.navigate", url=page.as_uri())
        end_s = time.monotonic() + _PATIENCE_S
        while self.run("document.readyState") != "complete" or self.run("location.href") != page.as_uri():
            assert time.monotonic() < end_s, "the page did not open"
            time.sleep(0.02)

    def run(self, script: str) -> Any:
        """The value of a script in the page."""
        told = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in told, told["exceptionDetails"]
        return told["result"].get("value")

    def press(self, key: str) -> None:
        """Press and let go of a key."""
        codes = {"Tab": 9, "Enter": 13}
        for kind in ("keyDown", "keyUp"):
            text = {"text": "\r"} if key == "Enter" and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=key, windowsVirtualKeyCode=codes[key], **text)

    def printed(self) -> bytes:
        """The page as the browser prints it, by its own print style."""
        told = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(told["data"])

    def read_aloud(self) -> list[tuple[str, str, str]]:
        """What a screen reader is told: role, name and description of everything."""
        nodes = self.call("Accessibility.getFullAXTree")["nodes"]
        return [
            tuple(str(node.get(key, {}).get("value", "")) for key in ("role", "name", "description"))  # type: ignore[misc]
            for node in nodes
            if not node["ignored"]
        ]

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._kept:
            piece = os.read(self._from, 1 << 20)
            assert piece, "the browser has gone"
            self._kept += piece
        line, self._kept = self._kept.split(b"\0", 1)
        told: dict[str, Any] = json.loads(line)
        if told.get("method") == "Network.requestWillBeSent":
            self.asked_for.append(told["params"]["request"]["url"])
        if told.get("method") == "Log.entryAdded":
            self.violations.append(told["params"]["entry"]["text"])
        return told


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser with a profile of its own, gone at the end."""
    assert CHROMIUM is not None, "there is no Chromium"
    their_in, our_out = os.pipe()
    our_in, their_out = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        arguments = [CHROMIUM, *_ARGUMENTS, f"--user-data-dir={profile}", "about:blank"]
        quiet = os.open(os.devnull, os.O_RDWR)
        process = os.posix_spawn(
            CHROMIUM,
            arguments,
            {**os.environ, "HOME": profile},
            setsid=True,
            file_actions=[
                (os.POSIX_SPAWN_DUP2, their_in, 103),
                (os.POSIX_SPAWN_DUP2, their_out, 104),
                (os.POSIX_SPAWN_DUP2, 103, 3),
                (os.POSIX_SPAWN_DUP2, 104, 4),
                *((os.POSIX_SPAWN_DUP2, quiet, number) for number in (0, 1, 2)),
            ],
        )
        for number in (their_in, their_out, quiet):
            os.close(number)
        try:
            yield Browser(our_out, our_in)
        finally:
            # Its own process group: all that it started ends with it.
            os.killpg(process, signal.SIGKILL)
            os.waitpid(process, 0)
            os.close(our_out)
            os.close(our_in)
