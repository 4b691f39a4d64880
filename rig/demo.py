"""The demo batch: units of several types, sound and faulty, with what a technician should hear of each."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.faults import UnitFault, UnitFaultKind
from rig.events import Verdict
from rig.sequencer.findings import Reason
from rig.summary import UnitSummary

DEMO_ORDERS = ("tipper-point-no", "store-window-no", "tray-point-nc")
"""Shipped orders that the demo takes its settings from: three types, three teach methods."""

# Half of them sound, as in a bad week: so a batch of 18 holds every fault once.
_FAULTY_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class DemoFault:
    """A fault and what has to be said of a unit that has it; `keys` may grow with the tolerance."""

    kind: UnitFaultKind
    reason: Reason
    verdict: Verdict = Verdict.BAD
    keys: Callable[[float], dict[str, Any]] = lambda _: {}

    def on_unit(self, tolerance_mm: float) -> UnitFault:
        """The fault as the bench file says it."""
        return UnitFault(kind=self.kind, **self.keys(tolerance_mm))


DEMO_FAULTS: Mapping[str, DemoFault] = {
    "dead unit": DemoFault(UnitFaultKind.DEAD, Reason.NO_CURRENT, Verdict.UNDECIDED),
    "draws too much": DemoFault(UnitFaultKind.OVER_CURRENT, Reason.OVER_CURRENT),
    "wrong output type": DemoFault(UnitFaultKind.WRONG_OUTPUT_TYPE, Reason.OUTPUT_TYPE),
    "LED dark": DemoFault(UnitFaultKind.LED_DARK, Reason.LED_SILENT, Verdict.UNDECIDED),
    "refuses teaching": DemoFault(UnitFaultKind.REFUSES_TEACH, Reason.TEACH_REFUSED),
    "stores too far": DemoFault(
        UnitFaultKind.STORES_WRONGLY, Reason.SET_POINT_OFF, keys=lambda t: {"offset_mm": 3 * t}
    ),
    "stores the inverse": DemoFault(
        UnitFaultKind.STORES_WRONGLY, Reason.OUTPUT_INVERSE, keys=lambda _: {"inverse": True}
    ),
    "set point drifts": DemoFault(
        UnitFaultKind.DRIFTED, Reason.SET_POINT_OFF, keys=lambda t: {"offset_mm": -3 * t, "after_s": 0.0}
    ),
    "wide hysteresis": DemoFault(
        UnitFaultKind.WIDE_HYSTERESIS, Reason.WIDE_DIFFERENTIAL, keys=lambda _: {"percent": 15.0}
    ),
}


@dataclass(frozen=True, slots=True)
class DemoBatch:
    """The units of one demo order: what is really wrong with each, None for a sound one."""

    order: str
    faults: tuple[str | None, ...]
    seed: int


def demo_batches(units: int, seed: int) -> tuple[DemoBatch, ...]:
    """Share `units` out over the demo orders, with faults drawn from the seed."""
    chance = random.Random(seed)
    deck = list(DEMO_FAULTS)
    chance.shuffle(deck)
    faults: list[str | None] = [deck[i % len(deck)] for i in range(int(units * _FAULTY_SHARE))]
    faults += [None] * (units - len(faults))
    chance.shuffle(faults)
    share = -(-units // len(DEMO_ORDERS))
    cuts = [tuple(faults[start : start + share]) for start in range(0, units, share)]
    return tuple(DemoBatch(order, cut, seed) for order, cut in zip(DEMO_ORDERS, cuts, strict=False))


def demo_bench(batch: DemoBatch, tolerance_mm: float) -> BenchFile:
    """The simulated bench of a batch, with faults that matter at this tolerance."""
    rows = tuple(
        UnitRow(faults=(DEMO_FAULTS[name].on_unit(tolerance_mm),) if name else ()) for name in batch.faults
    )
    return BenchFile(title=f"demo units for {batch.order}", seed=batch.seed, unit=rows)


def as_expected(fault: str | None, unit: UnitSummary) -> bool:
    """Whether a unit was judged as it deserves, for the right reason."""
    if fault is None:
        return unit.verdict is Verdict.GOOD
    return unit.verdict is DEMO_FAULTS[fault].verdict and unit.reason == DEMO_FAULTS[fault].reason
