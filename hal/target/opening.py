"""Makes the target that a rig profile describes."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping

from gpiozero.pins import Factory

from hal.inputs import Input, QuietInput
from hal.instruments.stage import StageDrive
from hal.instruments.wire import Wire
from hal.interlock.interlock import Interlock
from hal.operator import Operator
from hal.target.manual import ManualTarget
from hal.target.slots import SlotSwitch, SlotTarget
from hal.target.stage import StageTarget
from hal.target.target import Target
from hal.waits import Waits
from wiring.lines import InputLine
from wiring.profile import Slot, TargetKind, TargetProfile

SWITCH_QUIET_S = 0.03
"""A micro-switch worked by hand bounces less than this (common practice, no source)."""


async def open_target(
    profile: TargetProfile,
    *,
    operator: Operator,
    interlock: Interlock,
    waits: Waits,
    pin_factory: Factory,
    wires: Mapping[str, Wire],
) -> Target:
    """Open the target on the running loop; nothing moves yet.

    Raises InstrumentError when no stage answers at its port.
    """
    loop = asyncio.get_running_loop()

    def switch(slot: Slot) -> SlotSwitch:
        line = InputLine(line=slot.line, active=slot.active)
        source = Input(line, pin_factory, loop, on_error=interlock.fault)
        return SlotSwitch(source, QuietInput(source, loop, waits, quiet_s=SWITCH_QUIET_S))

    if profile.kind is TargetKind.STAGE:
        assert profile.port is not None, "the profile model demands a port for a stage"
        assert profile.speed_mm_s is not None, "the profile model demands a speed for a stage"
        drive = StageDrive(
            wires[profile.port],
            speed_mm_s=profile.speed_mm_s,
            farthest_mm=profile.farthest_mm,
            dialect=profile.spoken,
        )
        await drive.start()
        return StageTarget(profile, drive, interlock, waits)
    if profile.kind is TargetKind.SLOTS:
        switches = {slot.number: switch(slot) for slot in profile.slots}
        return SlotTarget(profile, operator, switches)
    return ManualTarget(profile, operator)
