"""Where a relay cannot take the unit's supply away, the bench supply is switched off itself."""

from __future__ import annotations

import asyncio

import pytest

from hal.bench import open_bench
from hal.errors import TripCause, TripKind
from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile, UnitRow
from tests.hal.rigs import kinds, rig, run
from wiring.profile import find_profile, load_profile


@pytest.mark.parametrize(
    ("kind", "cut"),
    [(TripKind.SUPPLY_WELDED, True), (TripKind.OUTPUT_FAILED, True), (TripKind.STOP_PRESSED, False)],
)
def test_the_supply_goes_off_where_relays_do_not_cut(kind: TripKind, cut: bool) -> None:
    async def main() -> tuple[float, float]:
        profile = load_profile(find_profile("simulated"))
        furnished = BenchFile(title="one unit", unit=(UnitRow(kind="barrel-18-rail"),))
        simulated = simulate(profile, furnished, asyncio.get_running_loop())
        async with await open_bench(profile, simulated.pin_factory, simulated.wires) as bench:
            before_v, _ = simulated.world.supply.measured()
            bench.interlock.trip(TripCause(kind, "as if", "nothing to check"))
            await asyncio.sleep(0.5)
            after_v, _ = simulated.world.supply.measured()
        return before_v, after_v

    before_v, after_v = run(main())
    assert before_v == pytest.approx(24, abs=0.5)
    assert after_v == pytest.approx(0 if cut else 24, abs=0.5)


def test_a_welded_supply_relay_that_shows_only_after_the_stop_cuts_the_supply_too() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.power_on()
            opened.break_relay("supply", welded=True)
            opened.press_stop()
            await asyncio.sleep(0.5)
            assert kinds(opened) == [TripKind.STOP_PRESSED, TripKind.SUPPLY_WELDED]
            assert not opened.simulated.world.supply.is_on

    run(main())
