"""The current that flows with nothing in the nest, one part of it after the other under voltage."""

from __future__ import annotations

from collections.abc import AsyncIterator

from hal.nest import Nest
from rig.selfcheck.checks import LEAKAGE_A, Check, Figure, Finding, Outcome
from rig.selfcheck.work import Work
from wiring.saying import say
from wiring.terms import Rail

_SETTLES_S = 0.1


async def check_leakage(work: Work, check: Check) -> Finding:
    """The current with nothing in the nest, one part of it after the other under voltage."""
    nest, (_, index) = work.nest(check), work.profile_of(check)
    await work.bench.interlock.arm()
    if await work.bench.supply.current_a() is None:
        words = "the supply does not measure its current"
        return Finding(Outcome.NOT_FITTED, words, "A supply with a serial port would measure it.")
    async for name, terminal, current_a in _currents(work, nest, index):
        figure = work.measured(check, Figure(name, current_a, None, LEAKAGE_A, "A"))
        if not figure.within:
            return Finding(
                Outcome.FAILED,
                say(
                    "{current_a:.1f} mA with {name} and no unit, allowed {leakage_a:g} mA",
                    current_a=current_a * 1000,
                    name=name,
                    leakage_a=LEAKAGE_A * 1000,
                ),
                say(
                    "Take the unit out if one is left in the nest. Else take the wires off {terminal} and "
                    "measure again; look for a chafed cable, a wet or dirty plug, a strand that touches its "
                    "neighbour.",
                    terminal=terminal,
                ),
            )
    return Finding(Outcome.PASSED, say("no more than {leakage_a:g} mA anywhere", leakage_a=LEAKAGE_A * 1000))


async def _currents(work: Work, nest: Nest, index: int) -> AsyncIterator[tuple[str, str, float]]:
    places, supply, waits = work.places, work.bench.supply, work.bench.waits
    unit = say(
        "{plus} and {minus}",
        plus=places.unit_terminal(index, "L+"),
        minus=places.unit_terminal(index, "L-"),
    )
    yield "everything off", "-F1:2", await supply.current_a() or 0.0
    for rail in Rail:
        await nest.hold_teach(rail, longest_s=10.0)
        current_a = await supply.current_a() or 0.0
        nest.release_teach()
        await nest.teach_released()
        yield say("the teach wire at {rail}", rail=rail), places.unit_terminal(index, "teach"), current_a
    await nest.pull_output(Rail.PLUS)
    yield "the load at L+", places.unit_terminal(index, "output"), await supply.current_a() or 0.0
    await nest.pull_output(Rail.MINUS)
    await nest.power_on()
    await waits.sleep(_SETTLES_S)
    yield "the supply relay on", unit, await supply.current_a() or 0.0
    await nest.power_off()
