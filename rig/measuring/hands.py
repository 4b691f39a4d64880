"""What measuring does with its hands: approach from the right side, read, pass by; and what may be wrong there."""

from __future__ import annotations

from rig.edges.posterior import Reading
from rig.edges.search import Pace
from rig.edges.sweep import Pass
from rig.edges.task import EdgeTask
from rig.events import EdgeRead
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.saying import say

# One change of the output is an edge on each of its two inputs; more while the target stands still is chatter.
_EDGES_OF_A_CHANGE = 2
# An output may chatter now and then as somebody passes by.
_MOST_UNSTEADY = 3


def settle_s(response_s: float) -> float:
    """From the target's arrival until the output is read, of a unit with that response time.

    Soon: the longer the target stands there, the more often the unit looks, and the further before its edge it
    switches.
    """
    return response_s


def watch_s(response_s: float) -> float:
    """For how long the output is then watched."""
    return response_s / 2


class Hands:
    """Moves the target and reads the unit of one task; counts both."""

    def __init__(self, port: Port, task: EdgeTask) -> None:
        self._port = port
        self._response_s = task.response_s
        self._target = port.setup.target
        self._unsteady = 0
        self._at_mm = self._target.farthest_mm
        self.readings = 0
        self.moves = 0

    @property
    def at_mm(self) -> float:
        """Where the target stands; the far end of its way when it is out of the beam."""
        return self._at_mm

    @property
    def exposure_s(self) -> float:
        """For how long the unit can look at a target that has arrived, before its output is read."""
        load_s = self._port.setup.load_settle_s
        return self._target.settle_s + load_s + settle_s(self._response_s) + watch_s(self._response_s)

    def pace(self, seat_mm: float, *, may_swing: bool) -> Pace:
        """What a reading takes that begins at a seat, or out of the beam if it may."""
        speed_mm_s, swing = self._target.speed_mm_s, self._target.swing
        assert speed_mm_s is not None, "the task demands a drive"
        assert swing is not None, "the profile model demands a swing with a drive"
        swing_s = 2 * (self._target.swing_s + swing.settle_s) if may_swing else float("inf")
        reading_s = self.exposure_s + self._target.settle_s + settle_s(self._response_s)
        return Pace(speed_mm_s, reading_s, seat_mm, swing_s)

    async def prove_zone(self, inside_mm: float) -> None:
        """The target must be detected at `inside_mm`, and nothing in a clear beam; raises NotMeasured."""
        await self._place("inside", inside_mm)
        if not await self._read("inside", inside_mm):
            raise NotMeasured(
                Trouble.NOT_DETECTED,
                say(
                    "the unit does not detect the target at {inside_mm:.1f} mm, inside its zone",
                    inside_mm=inside_mm,
                ),
            )
        # From where it is detected, or a target that stays in the beam would not be noticed.
        await self.clear()
        if await self._read("clear beam", None):
            raise NotMeasured(Trouble.TARGET_LEFT, "the unit detects something though the beam is clear")

    async def operates_at(self, position_mm: float, pace: Pace) -> bool | None:
        """Whether the unit detects a target that comes from outside its zone; None for an unsteady output."""
        await self._come_from_outside(position_mm, pace)
        return await self.arrive("operate point", position_mm)

    async def releases_at(self, position_mm: float, pace: Pace) -> bool | None:
        """Whether the unit lets go of a target that comes from inside its zone; None for an unsteady output."""
        assert pace.seat_mm is not None, "inside the zone there is always a seat"
        await self._seat_inside(pace.seat_mm)
        detected = await self.arrive("release point", position_mm)
        return None if detected is None else not detected

    async def creep(self, start_mm: float, end_mm: float, step_mm: float, pace: Pace) -> list[Reading]:
        """Come in step by step until the unit detects the target, and once more; every reading on the way.

        What has not switched has nothing to remember, so each of these readings counts like one of its own.
        """
        await self._come_from_outside(start_mm, pace)
        readings: list[Reading] = []
        count = max(1, round(abs(end_mm - start_mm) / step_mm))
        for number in range(count + 1):
            at_mm = start_mm + (end_mm - start_mm) * number / count
            detected = await self.arrive("repeat accuracy", at_mm)
            if detected is None:
                continue
            readings.append(Reading(at_mm, detected))
            if detected and await self._read("repeat accuracy", at_mm):
                break
        return readings

    async def cross(self, start_mm: float, end_mm: float, *, detected: bool) -> Pass | None:
        """Pass by, with the output to end as `detected`; None if it did not change once, and only once."""
        await self._place("pass", start_mm)
        if await self.sees(start_mm) is detected:
            return None
        passed = await self._port.go_past(start_mm, end_mm, detected=detected)
        self._at_mm = end_mm
        self.moves += 1
        self.readings += 1
        if passed.switched_s is None:
            return None
        return Pass(passed.start_mm, passed.end_mm, passed.speed_mm_s, 0.0, passed.switched_s)

    async def _come_from_outside(self, position_mm: float, pace: Pace) -> None:
        if not pace.swings(self.at_mm, position_mm) and pace.seat_mm is not None:
            await self._place("seat", pace.seat_mm)
            if not await self.sees(pace.seat_mm):
                return
        await self.clear()
        if await self.sees(None) and await self.sees(None):
            raise NotMeasured(
                Trouble.TARGET_LEFT, "the unit still detects something after the beam was cleared"
            )

    async def _seat_inside(self, seat_mm: float) -> None:
        await self._place("seat", seat_mm)
        if not await self.sees(seat_mm) and not await self.sees(seat_mm):
            raise NotMeasured(
                Trouble.CHANGES_ITS_MIND,
                say(
                    "the unit no longer detects the target at {seat_mm:.1f} mm, inside the operate point "
                    "just found",
                    seat_mm=seat_mm,
                ),
            )

    async def arrive(self, where: str, position_mm: float) -> bool | None:
        """Put the target there and read the output; None for an unsteady one, NotMeasured where that goes on."""
        await self._place(where, position_mm)
        answers = await self._read_until_steady(where, position_mm)
        if sum(one.changes for one in answers) <= _EDGES_OF_A_CHANGE:
            return answers[-1].detected
        self._unsteady += 1
        if self._unsteady > _MOST_UNSTEADY:
            raise NotMeasured(
                Trouble.OUTPUT_CHATTERS,
                say(
                    "the output keeps changing while the target stands still, last at {position_mm:.1f} mm",
                    position_mm=position_mm,
                ),
            )
        return None

    async def _read(self, where: str, position_mm: float | None) -> bool | None:
        return (await self._read_until_steady(where, position_mm))[-1].detected

    async def _read_until_steady(self, where: str, position_mm: float | None) -> list[EdgeRead]:
        """Readings, the last of which is steady and says something; raises NotMeasured where none does."""
        self.readings += 1
        answers: list[EdgeRead] = []
        for _ in range(_MOST_UNSTEADY):
            answers.append(await self._port.read(where, position_mm))
            if answers[-1].steady and answers[-1].detected is not None:
                return answers
        if answers[-1].steady:
            raise NotMeasured(
                Trouble.OUTPUT_UNCLEAR, "the output is between the rails or at both, neither on nor off"
            )
        raise NotMeasured(Trouble.OUTPUT_CHATTERS, "the output keeps changing while the target stands still")

    def count_slide(self) -> None:
        """Somebody has slid the target across the edge."""
        self.moves += 1
        self.readings += 1

    async def sees(self, position_mm: float | None) -> bool | None:
        """Whether the unit detects the target where it stands, or in a clear beam."""
        return (
            await self._port.look("seat" if position_mm is not None else "clear beam", position_mm)
        ).detected

    async def _place(self, where: str, position_mm: float) -> None:
        self.moves += 1
        await self._port.place(where, position_mm)
        self._at_mm = position_mm

    async def clear(self) -> None:
        """Take the target out of the beam."""
        self.moves += 1
        await self._port.clear()
        self._at_mm = self._target.farthest_mm
