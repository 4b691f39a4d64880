"""Rig profiles of every make: topologies, nests, targets, what is fitted and what is not."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import strategies as st

from wiring.profile import RigProfile

_LINES = tuple(f"GPIO{number}" for number in range(2, 28))
_TEACH = {"selector": ("rail_selector", "teach_contact"), "two-relay": ("plus_contact", "minus_contact")}
_OHMS = ("input_resistor_ohm", "drive_resistor_ohm", "pull_ohm", "monitor_input_ohm", "monostable_ohm")
_ALWAYS = ("supply", "load", "teach_at_plus", "teach_at_minus", "output_at_plus", "output_at_minus")


class _Bench:
    """Draws a profile part by part, each line from those that are still free."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.free = list(draw(st.permutations(_LINES)))

    def line(self, **more: Any) -> dict[str, Any]:
        return {"line": self.free.pop(), "active": self.draw(st.sampled_from(["high", "low"])), **more}

    def perhaps(self, key: str) -> dict[str, Any]:
        return {key: self.line()} if self.free and self.draw(st.booleans()) else {}

    def nest(self, index: int) -> dict[str, Any]:
        topology = self.draw(st.sampled_from(sorted(_TEACH)))
        nest: dict[str, Any] = {"name": f"N{index}", "topology": topology}
        nest |= {key: self.line() for key in (*_ALWAYS, *_TEACH[topology])}
        if topology == "selector":
            nest["rail_selector"]["release_s"] = 0.015
        return nest

    def target(self) -> dict[str, Any]:
        kinds = ["manual", "stage", "slots"] if self.free else ["manual"]
        target: dict[str, Any] = {"kind": self.draw(st.sampled_from(kinds)), "farthest_mm": 2000.0}
        if target["kind"] == "stage":
            target |= {"port": "sim:stage", "speed_mm_s": 100.0, "swing": self.line()}
        if target["kind"] == "slots":
            slots = self.draw(st.integers(1, len(self.free)))
            target["slots"] = [
                {"number": n, "position_mm": 100.0 * n, **self.line()} for n in range(1, slots + 1)
            ]
        if target["kind"] == "manual" and self.draw(st.booleans()):
            target["gauge"] = {"port": "sim:gauge"}
        return target

    def on_a_port(self, key: str) -> dict[str, Any]:
        return {key: {"port": f"sim:{key}"}} if self.draw(st.booleans()) else {}


@st.composite
def rig_profiles(draw: st.DrawFn) -> RigProfile:
    """Any rig that the 26 lines of a header can serve."""
    bench = _Bench(draw)
    supplies = [{"kind": "fixed"}, {"kind": "scpi", "port": "sim:supply"}]
    data: dict[str, Any] = {
        "name": "any",
        "title": "Any rig",
        "back_end": "simulated",
        "coil_supply": {"heartbeat": bench.line(), "stop_button": bench.line()},
        "supply": draw(st.sampled_from(supplies)),
        "electrical": {
            "header": draw(st.sampled_from(["40-pin", "other"])),
            **{key: draw(st.floats(0.1, 9_999_999)) for key in _OHMS},
        },
        "nest": [bench.nest(index) for index in range(draw(st.integers(1, 3)))],
    }
    for table, key in ((data["coil_supply"], "sense"), (data, "foot_switch")):
        table |= bench.perhaps(key)
    for nest in data["nest"]:
        nest |= {**bench.perhaps("led"), **bench.perhaps("supply_sense")}
    data["target"] = bench.target()
    data |= {"air": bench.on_a_port("probe"), **bench.on_a_port("code_reader")}
    return RigProfile.model_validate_json(json.dumps(data), strict=True)
