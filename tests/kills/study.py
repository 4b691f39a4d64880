"""Kills a bench at random moments, over and over, and looks at the record after each."""

from __future__ import annotations

import os
import random
import re
import signal
import sqlite3
import time
from collections import defaultdict
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from rig.store.audit import audit
from rig.store.database import SqliteDatabase
from rig.store.opening import reading
from sequences.library import shipped_orders
from tests.kills.bench import start
from tests.kills.power import cut_power

UNITS = 24
# Every fourth unit must never be called good.
FAULTS = ("", "", "", 'faults = [{ kind = "stores-wrongly", offset_mm = 25.0 }]') * 3 + (
    "",
    'faults = [{ kind = "stores-wrongly", inverse = true }]',
    "",
    'faults = [{ kind = "dead" }]',
) * 3
_MOST_BARRIERS = 120
_MOST_S = 0.02
_CUT_OFF_WORDS = "interrupted"


@dataclass
class Tally:
    """What was done and what was found; everything below `broken` has to be empty."""

    kills: int = 0
    before_anything: int = 0
    finished_first: int = 0
    acknowledged: int = 0
    orders: int = 0
    units: int = 0
    interrupted: int = 0
    cuts: int = 0
    torn_frames: int = 0
    torn_pages: int = 0
    seconds: float = 0.0
    broken: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        """In words."""
        return [
            f"{self.kills} kills in {self.seconds:.0f} s, {self.before_anything} of them before anything was recorded; "
            f"{self.finished_first} runs ended before they were killed; {self.cuts} cuts of the network",
            f"{self.acknowledged} acknowledged barriers, {self.orders} whole orders, {self.units} verdicts, "
            f"{self.interrupted} units interrupted and set again",
            *self._power(),
            f"lost, doubled, falsely good, or not clean: {len(self.broken)}",
            *self.broken[:20],
        ]

    def _power(self) -> list[str]:
        if not self.torn_pages:
            return []
        return [
            f"torn by cuts of the power: {self.torn_frames} frames of the log, {self.torn_pages} pages of the file"
        ]


class Study:
    """One order after another in folders of their own, each killed until it is done.

    Args:
        folder: where the data folders go.
        seed: what the moments are drawn from.
        meanwhile: called before every start and every kill, to do something to the network.
        power: whether a kill is a cut of the power, after which only what was synchronised need be there.

    """

    def __init__(
        self,
        folder: Path,
        seed: int,
        meanwhile: Callable[[random.Random], int] = lambda _: 0,
        *,
        power: bool = False,
    ) -> None:
        self.tally = Tally()
        self._loses_power = power
        self._stop = False
        self._folder = folder
        self._draw = random.Random(seed)
        self._meanwhile = meanwhile
        self._order = folder / "order.toml"
        self._order.write_text(_order_text(), encoding="utf-8")
        self._bench = folder / "bench.toml"
        self._bench.write_text(_bench_text(), encoding="utf-8")

    def run(self, kills: int, ended: Callable[[Path], None] = lambda _: None) -> Tally:
        """Kill so many times; `ended` gets the data folder of every order that was finished.

        Ctrl-C ends it with the order in hand: what was tallied up to then is told all the same.
        """
        begin_s = time.monotonic()
        stopped = signal.signal(signal.SIGINT, lambda *_: setattr(self, "_stop", True))
        while self.tally.kills < kills and not self._stop:
            data = self._folder / f"data-{self.tally.orders}"
            self._one_order(data, kills)
            ended(data)
        signal.signal(signal.SIGINT, stopped)
        self.tally.seconds = time.monotonic() - begin_s
        return self.tally

    def _one_order(self, data: Path, kills: int) -> None:
        acknowledged: dict[str, int] = defaultdict(int)
        while not self._one_start(data, acknowledged, kill=self.tally.kills < kills and not self._stop):
            pass
        self.tally.orders += 1
        self._look_at_the_end(data / "journal.sqlite3")

    def _one_start(self, data: Path, acknowledged: dict[str, int], *, kill: bool) -> bool:
        """Start the bench and kill it; whether the order was done before that."""
        self.tally.cuts += self._meanwhile(self._draw)
        output = data.with_suffix(".out")
        words = ["run", str(self._order), "--bench", str(self._bench), "--data", str(data)]
        process, pipe = start(words, output)
        told = b""
        wanted = self._draw.randrange(_MOST_BARRIERS) if kill else 10**9
        while told.count(b"\n") < wanted and (part := os.read(pipe, 4096)):
            told += part
        if kill:
            time.sleep(self._draw.uniform(0, _MOST_S))
            os.kill(process, signal.SIGKILL)
        _, status = os.waitpid(process, 0)
        while part := os.read(pipe, 65536):
            told += part
        os.close(pipe)
        self._take(told, acknowledged)
        if self._loses_power and os.WIFSIGNALED(status):
            self._cut_power(data / "journal.sqlite3", acknowledged=bool(acknowledged))
        return self._look(data / "journal.sqlite3", output, status, acknowledged)

    def _cut_power(self, journal: Path, *, acknowledged: bool) -> None:
        lost = cut_power(journal, self._draw, acknowledged=acknowledged)
        self.tally.torn_frames += lost.frames
        self.tally.torn_pages += lost.pages

    def _take(self, told: bytes, acknowledged: dict[str, int]) -> None:
        for line in told.decode().splitlines():
            run, number = line.rsplit(" ", 1)
            acknowledged[run] = max(acknowledged[run], int(number))
            self.tally.acknowledged += 1

    def _look(self, journal: Path, output: Path, status: int, acknowledged: Mapping[str, int]) -> bool:
        killed = os.WIFSIGNALED(status)
        self.tally.kills += killed
        self.tally.finished_first += not killed
        if not killed and os.WEXITSTATUS(status) not in (0, 1):
            self._broken(f"exit {os.WEXITSTATUS(status)}: {_said(output)[-500:]}")
            return True
        if "Traceback" in _said(output):
            self._broken(f"a traceback: {_said(output)[-500:]}")
        if not journal.is_file():
            self.tally.before_anything += 1
            return False
        self._nothing_lost(journal, acknowledged)
        return not killed or _has_ended(journal)

    def _nothing_lost(self, journal: Path, acknowledged: Mapping[str, int]) -> None:
        with reading(journal) as database:
            runs = {
                name: (last, count)
                for name, last, count in database.execute(
                    "SELECT r.name, max(CASE WHEN e.kind <> 'work-cut-off' THEN e.in_run ELSE 0 END), "
                    "sum(e.kind <> 'work-cut-off') FROM entry e JOIN run r ON r.id = e.run GROUP BY r.name"
                )
            }
            check = database.execute("PRAGMA integrity_check").fetchone()[0]
            found = audit(SqliteDatabase(database))
            for serial, verdict in database.execute(
                "SELECT serial, verdict FROM attempt WHERE verdict = 'good'"
            ):
                if FAULTS[int(serial[-2:]) - 1]:
                    self._broken(f"{serial} is faulty, but called {verdict}")
        if check != "ok" or found.broken is not None:
            self._broken(f"{journal}: {check}, {found.broken}")
        for run, number in acknowledged.items():
            last, count = runs.get(run, (0, 0))
            if last < number:
                self._broken(f"{run}: {number} was acknowledged, the record ends at {last}")
            if count != last:
                self._broken(f"{run}: {count} entries up to number {last}")

    def _look_at_the_end(self, journal: Path) -> None:
        with closing(sqlite3.connect(journal)) as database:
            rows = database.execute(
                "SELECT serial, verdict, reason FROM attempt ORDER BY bench, first"
            ).fetchall()
            cut = database.execute(
                "SELECT count(*) FROM entry WHERE kind = 'work-cut-off' AND serial <> ''"
            ).fetchone()[0]
        judged = [serial for serial, _, reason in rows if reason != _CUT_OFF_WORDS]
        expected = [f"QOC18-{number:02}" for number in range(1, UNITS + 1)]
        if sorted(judged) != expected:
            self._broken(f"{journal}: verdicts on {sorted(judged)}")
        if any(not verdict for _, verdict, _ in rows):
            self._broken(f"{journal}: a unit is still in work")
        interrupted = sum(reason == _CUT_OFF_WORDS for _, _, reason in rows)
        if interrupted != cut:
            self._broken(f"{journal}: {interrupted} units interrupted, {cut} notes of it")
        sound = [serial for serial, verdict, _ in rows if verdict == "good"]
        if len(sound) < UNITS // 2:
            self._broken(f"{journal}: only {len(sound)} good units")
        self.tally.units += len(judged)
        self.tally.interrupted += interrupted

    def _broken(self, words: str) -> None:
        self.tally.broken.append(words)


def _said(output: Path) -> str:
    """What the process has shown; nothing if it was killed before it could."""
    return output.read_text(encoding="utf-8") if output.exists() else ""


def _has_ended(journal: Path) -> bool:
    """Whether the end of the order was recorded before the kill: from then on it would begin anew."""
    with reading(journal) as database:
        last = database.execute("SELECT left_over FROM shop_order ORDER BY run DESC LIMIT 1").fetchone()
        judged = database.execute(
            "SELECT count(*) FROM attempt WHERE reason NOT IN ('', 'interrupted')"
        ).fetchone()
    return last == (0,) and bool(judged[0] >= UNITS)


def _order_text() -> str:
    text = shipped_orders()["tipper-point-no"].read_text(encoding="utf-8")
    text = re.sub(r"^quantity = .*", f"quantity = {UNITS}", text, flags=re.MULTILINE)
    text = re.sub(r"^first = .*", "first = 1", text, flags=re.MULTILINE)
    return re.sub(r"^digits = .*", "digits = 2", text, flags=re.MULTILINE)


def _bench_text() -> str:
    return 'title = "Units for the kill study"\n' + "".join(f"\n[[unit]]\n{fault}\n" for fault in FAULTS)
