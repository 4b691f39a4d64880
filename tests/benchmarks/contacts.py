"""The length of a contact in real time, beside a plain loop that sleeps for the same time.

What is measured: the time at which the GPIO write of 'off' begins, minus the time at which the contact was
read back as closed plus the length demanded. So it holds everything between the timer of the loop and the
pin, and nothing that the relay does. The plain loop is `time.sleep(length)`, its error what it slept too long.
Both take the same lengths by turns, a batch each, so that both meet the same computer.

Where the computer holds the program up for so long that the bench trips, the batch has no error to tell; it
is counted and told in the note.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Thread

from hal.bench import Bench
from hal.errors import Tripped
from hal.nest import Nest
from hal.simulated.bench import SimulatedBench
from rig.store.forwarding import Forwarder
from tests.benchmarks.busy import busy_cores
from tests.benchmarks.figure import Figure, Reference, quantile
from tests.benchmarks.large import build
from tests.benchmarks.live import PROFILE, on_live_bench, stamp_writes
from tests.postgres import Server, server
from wiring.terms import Rail

GOAL_RATIO = 1.5
_SHORTEST_S, _LONGEST_S = 0.020, 0.040
_US = 1e6
_FORWARDED = 4000

Errors = list[float]


@dataclass
class _Found:
    """Errors in seconds of our contacts and of the plain loop, and batches that ended in a trip."""

    ours: Errors = field(default_factory=list)
    plain: Errors = field(default_factory=list)
    trips: int = 0


def measure(*, quick: bool) -> Iterator[Figure]:
    """Measure the error at rest, with another thread at work in the program, and while all cores are busy."""
    batches, contacts = (1, 3) if quick else (24, 50)
    yield from _figures("at rest", "time.sleep at rest", _by_turns(batches, contacts))
    stuck = _by_turns(batches, contacts, contact_while=_stuck_watcher)
    yield from _figures("watching thread stuck in a computation", "time.sleep at rest", stuck)
    yield from _figures(
        "record forwarded to a shop meanwhile", "time.sleep at rest", _while_forwarding(batches, contacts)
    )
    with busy_cores():
        busy = _by_turns(batches, contacts)
    yield from _figures("all cores busy", "time.sleep with all cores busy", busy)


def _by_turns(
    batches: int,
    contacts: int,
    contact_while: Callable[[], AbstractContextManager[None]] = nullcontext,
) -> _Found:
    draw = random.Random(1)
    found = _Found()
    for _ in range(batches):
        lengths_s = [draw.uniform(_SHORTEST_S, _LONGEST_S) for _ in range(contacts)]
        try:
            with contact_while():
                found.ours += contact_errors(lengths_s)
        except Tripped:
            found.trips += 1
        found.plain += _sleep_errors(lengths_s)
    return found


def contact_errors(lengths_s: Sequence[float]) -> Errors:
    """Make a contact of each length on the simulated bench in real time; returns the errors in seconds."""
    offs_s: list[float] = []
    contact = PROFILE.nest[0].teach_contact
    assert contact is not None

    async def job(bench: Bench, simulated: SimulatedBench) -> Errors:
        stamp_writes(simulated, [contact.line], lambda _: offs_s.append(time.monotonic()))
        return [await _one_error(bench.nests[0], length_s, offs_s) for length_s in lengths_s]

    return on_live_bench(job)


async def _one_error(nest: Nest, length_s: float, writes_s: list[float]) -> float:
    closed_s = await nest.hold_teach(Rail.MINUS, longest_s=1.0, release_after_s=length_s)
    await nest.teach_released()
    return writes_s[-1] - (closed_s + length_s)


def _sleep_errors(lengths_s: Sequence[float]) -> Errors:
    errors = []
    for length_s in lengths_s:
        due_s = time.monotonic() + length_s
        time.sleep(length_s)
        errors.append(time.monotonic() - due_s)
    return errors


@contextmanager
def _stuck_watcher() -> Iterator[None]:
    """A second thread that computes without a pause, as a screen would that hangs in its own drawing."""
    end = Event()

    def compute() -> None:
        while not end.is_set():
            sum(range(1000))

    thread = Thread(target=compute, name="stuck watcher")
    thread.start()
    try:
        yield
    finally:
        end.set()
        thread.join()


def _while_forwarding(batches: int, contacts: int) -> _Found:
    with server() as postgres, tempfile.TemporaryDirectory(prefix="contacts-") as name:
        store = Path(name) / "journal.sqlite3"
        build(store, _FORWARDED)
        return _by_turns(batches, contacts, contact_while=lambda: _forwarding(store, postgres))


@contextmanager
def _forwarding(store: Path, postgres: Server) -> Iterator[None]:
    """The thread that forwards, with more to send than it gets sent meanwhile, and nothing there yet."""
    with postgres.database("contacts") as url:
        forwarder = Forwarder(store, url).start()
        try:
            yield
            assert not forwarder.trouble, forwarder.trouble
        finally:
            forwarder.stop(0.0)


def _figures(when: str, plain_name: str, found: _Found) -> Iterator[Figure]:
    if not found.ours:
        raise RuntimeError(
            f"{when}: the bench tripped in every batch; this computer is too busy to measure on"
        )
    note = f"{len(found.ours)} contacts of {_SHORTEST_S * 1000:g} to {_LONGEST_S * 1000:g} ms"
    if found.trips:
        note += f"; {found.trips} batches left out, held up until the bench tripped"
    for words, share in (("median", 0.5), ("99.9 %", 0.999)):
        yield Figure(
            f"error of contact length, {when}: {words}",
            quantile(found.ours, share) * _US,
            "us",
            Reference(plain_name, quantile(found.plain, share) * _US),
            goal_ratio=GOAL_RATIO,
            note=note,
        )
