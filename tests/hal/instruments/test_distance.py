"""A distance gauge says where the target is, and when; silence and nonsense are told."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from hal.errors import InstrumentError
from hal.instruments.distance import DistanceGauge, start_gauge
from hal.instruments.wire import open_port
from hal.simulated.clock import NS, run
from hal.simulated.instruments import SimulatedGauge, SimulatedWire
from hal.simulated.timeline import Timeline
from tests.hal.ptyport import on_pty
from wiring.profile import GaugeProfile, TargetProfile

MOUNTED = GaugeProfile(port="gauge", at_zero_mm=1600.0, reads_inward=True, resolution_mm=0.05)


class Seen:
    """A target that comes nearer at 4 mm a second from 400 mm, as a gauge without fault sees it."""

    silent = False

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s

    def seen_mm(self) -> float:
        return 400.0 - 4.0 * self._now_s()


class OddGauge(SimulatedGauge):
    """Answers some questions otherwise than it should."""

    def __init__(self, seen: Seen, instead: dict[str, str]) -> None:
        super().__init__(seen, MOUNTED)
        self.instead = instead

    def obey(self, line: str) -> None:
        if line in self.instead:
            self.answer(self.instead[line])
        else:
            super().obey(line)


def gauge_on_wire(instead: dict[str, str] | None = None) -> tuple[DistanceGauge, SimulatedWire, Seen]:
    timeline = Timeline(asyncio.get_running_loop())
    seen = Seen(lambda: timeline.now_ns / NS)
    wire = SimulatedWire(timeline, "gauge", OddGauge(seen, instead or {}), baud=19200)
    return DistanceGauge(wire, MOUNTED), wire, seen


def test_a_reading_is_where_the_target_was_at_its_time() -> None:
    async def main() -> None:
        gauge, _, _ = gauge_on_wire()
        await gauge.start()
        assert gauge.identity == "simulated wire encoder"
        for pause_s in (0.0, 1.3, 2.7):
            await asyncio.sleep(pause_s)
            reading = await gauge.read()
            assert abs(reading.at_s + reading.within_s - asyncio.get_running_loop().time()) < 1e-6
            assert 0.001 < reading.within_s < 0.02
            assert abs(reading.position_mm - (400.0 - 4.0 * reading.at_s)) < 4.0 * reading.within_s + 0.026

    run(main())


def test_the_target_is_followed_while_it_moves_and_no_longer() -> None:
    async def main() -> None:
        gauge, _, _ = gauge_on_wire()
        await gauge.start()
        told: list[int] = []
        async with gauge.followed() as track:
            track.on_reading.append(lambda: told.append(len(track.readings)))
            await asyncio.sleep(5.0)
        count = len(track.readings)
        assert told == list(range(1, count + 1))
        assert count == pytest.approx(100, abs=5)
        assert track.readings[0].position_mm - track.readings[-1].position_mm == pytest.approx(20.0, abs=0.5)
        await asyncio.sleep(5.0)
        assert len(track.readings) == count

    run(main())


def test_a_gauge_that_falls_silent_is_told_once_and_the_block_goes_on() -> None:
    async def main() -> None:
        gauge, _, seen = gauge_on_wire()
        await gauge.start()
        async with gauge.followed() as track:
            await asyncio.sleep(1.0)
            seen.silent = True
            await asyncio.sleep(5.0)
            assert track.fault is not None
            assert "gauge at gauge: no answer to 'POS'" in str(track.fault)
            assert 10 < len(track.readings) < 25
        seen.silent = False
        assert (await gauge.read()).position_mm < 400.0

    run(main())


@pytest.mark.parametrize(
    ("instead", "words"),
    [
        ({"POS": "POS NONE"}, "has no reading"),
        ({"POS": "POS 12,5"}, "no answer"),
        ({"POS": "12.5"}, "no answer"),
    ],
)
def test_what_is_no_reading_is_never_taken_for_one(instead: dict[str, str], words: str) -> None:
    async def main() -> None:
        gauge, _, _ = gauge_on_wire(instead)
        await gauge.start()
        with pytest.raises(InstrumentError, match=words):
            await gauge.read()

    run(main())


def test_another_instrument_on_the_port_is_no_gauge() -> None:
    async def main() -> None:
        gauge, _, _ = gauge_on_wire({"WHO": "something else"})
        with pytest.raises(InstrumentError, match="gauge at gauge: no answer to 'WHO'"):
            await gauge.start()

    run(main())


def test_a_lost_wire_ends_the_following() -> None:
    async def main() -> None:
        gauge, wire, _ = gauge_on_wire()
        await gauge.start()
        async with gauge.followed() as track:
            await asyncio.sleep(1.0)
            wire.unplug()
            await asyncio.sleep(1.0)
        assert track.fault is not None
        assert "unplugged" in str(track.fault)

    run(main())


def test_it_is_read_over_a_real_port() -> None:
    async def main() -> None:
        loop = asyncio.get_running_loop()
        seen = Seen(loop.time)
        seen.seen_mm = lambda: 312.34  # type: ignore[method-assign]
        with on_pty(SimulatedGauge(seen, MOUNTED)) as port:
            wire = open_port(port.name, 19200)
            gauge = DistanceGauge(wire, MOUNTED)
            await gauge.start()
            before_s = loop.time()
            reading = await gauge.read()
            assert reading.position_mm == pytest.approx(312.35)
            assert before_s < reading.at_s < loop.time()
            wire.close()

    asyncio.run(main())


def test_a_target_without_a_gauge_starts_none() -> None:
    target = TargetProfile(kind="manual", farthest_mm=1000.0)
    assert asyncio.run(start_gauge(target, {})) is None
