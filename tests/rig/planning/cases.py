"""Orders with a need for the tests of planning, and how one value in them is changed."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field, replace
from typing import Any

from hypothesis import strategies as st

from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused, Refusal
from sequences.library import load_order, load_type, shipped_orders, shipped_types
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile, find_profile, load_profile

TYPES = {name: load_type(path) for name, path in shipped_types().items()}
STAGE = load_profile(find_profile("simulated"))
BY_HAND = load_profile(find_profile("single-nest"))

# Apple bins on a roller conveyor in front of a wall: everything that a need can state.
BINS: dict[str, Any] = {
    "nearest_mm": 180.0,
    "farthest_mm": 420.0,
    "background_mm": 520.0,
    "broken_wire_reads": "no object",
    "object": {"shape": "plate", "width_mm": 1200.0, "height_mm": 760.0, "tilt_deg": 2.0},
    "mounting": {"side_wall_mm": 150.0, "neighbour_spacing_mm": 600.0},
    "air": {"coldest_c": 5.0, "warmest_c": 30.0, "driest_percent": 30.0, "dampest_percent": 80.0},
    "motion": {"speed_m_s": 0.6, "object_length_mm": 1200.0, "gap_mm": 250.0},
    "supply": {"lowest_v": 20.4, "highest_v": 26.4, "load_current_a": 0.01},
}


@dataclass(frozen=True)
class NeedCase:
    """An order in the making, as the tables of its file, and the rig."""

    type_name: str = "barrel-18-rail"
    need: dict[str, Any] | None = field(default_factory=lambda: deepcopy(BINS))
    setting: dict[str, Any] = field(default_factory=dict)
    rig: dict[str, Any] = field(default_factory=dict)
    base: RigProfile = STAGE

    @property
    def sensor_type(self) -> SensorType:
        return TYPES[self.type_name]

    @property
    def order(self) -> Order:
        return Order.model_validate(
            {
                "number": "QOC-0900",
                "customer": "Quillmere Orchard Co-op",
                "quantity": 1,
                "sensor_type": self.type_name,
                "serials": ("QOC-1",),
                "setting": {"output_type": self.sensor_type.output.types[0], **self.setting},
                "need": self.need,
            }
        )

    @property
    def profile(self) -> RigProfile:
        return RigProfile.model_validate(_merged(self.base.model_dump(), self.rig))

    @property
    def plan(self) -> Plan:
        return make_plan(self.order, self.sensor_type, self.profile)

    @property
    def refusals(self) -> tuple[Refusal, ...]:
        try:
            _ = self.plan
        except PlanRefused as refused:
            return refused.refusals
        return ()

    def changed(self, changes: dict[str, Any]) -> NeedCase:
        """With some values changed: dotted keys of the order, those of the rig behind `rig.`; None takes one out."""
        case = self
        for key, value in changes.items():
            case = case._with(key, value)
        return case

    def _with(self, key: str, value: Any) -> NeedCase:
        table, _, rest = key.partition(".")
        if not rest:
            return replace(self, **{table: value})
        tables = deepcopy(getattr(self, table) or {})
        inner = tables
        *path, last = rest.split(".")
        for part in path:
            inner = inner.setdefault(part, {})
        if value is None:
            inner.pop(last, None)
        else:
            inner[last] = value
        return replace(self, **{table: tables})


def needing(type_name: str = "barrel-18-rail", **changes: Any) -> NeedCase:
    """The bins, with changes; `__` stands for the dot in a key."""
    return NeedCase(type_name).changed({key.replace("__", "."): value for key, value in changes.items()})


def shipped(name: str) -> NeedCase:
    """A shipped example order."""
    order = load_order(shipped_orders()[name])
    return NeedCase(
        order.sensor_type,
        order.need.model_dump(exclude_none=True) if order.need else None,
        order.setting.model_dump(exclude_none=True),
    )


def _merged(base: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in changes.items():
        merged[key] = _merged(merged[key], value) if isinstance(value, dict) else value
    return merged


@st.composite
def need_cases(draw: st.DrawFn, types: tuple[str, ...] = tuple(TYPES)) -> NeedCase:
    """Needs of every kind, most of which some setting fits; the rest is for the refusals."""
    name = draw(st.sampled_from(types))
    sensing = TYPES[name].sensing
    reach_mm = sensing.range_mm - sensing.blind_zone_mm
    nearest_mm = sensing.blind_zone_mm + draw(st.floats(0.05, 0.5)) * reach_mm
    farthest_mm = nearest_mm + draw(st.floats(0.0, 0.35)) * reach_mm
    need: dict[str, Any] = {"nearest_mm": round(nearest_mm, 1), "farthest_mm": round(farthest_mm, 1)}
    if draw(st.booleans()):
        need["background_mm"] = round(farthest_mm + draw(st.floats(0.02, 0.4)) * reach_mm, 1)
    if draw(st.integers(0, 3)) == 0:
        need["foreground_mm"] = round(nearest_mm * draw(st.floats(0.3, 0.95)), 1)
    if draw(st.booleans()):
        need["air"] = draw(airs())
    need["object"] = draw(st.sampled_from(OBJECTS))
    need["broken_wire_reads"] = draw(st.sampled_from(["no object", "an object"]))
    setting = {"tolerance_mm": round(draw(st.floats(0.5, 60.0)), 2)} if draw(st.integers(0, 2)) == 0 else {}
    return NeedCase(name, need, setting)


OBJECTS: tuple[dict[str, Any], ...] = (
    {"shape": "plate", "width_mm": 800.0, "height_mm": 600.0, "tilt_deg": 1.0},
    {"shape": "plate", "width_mm": 60.0, "height_mm": 40.0},
    {"shape": "bar", "diameter_mm": 200.0, "length_mm": 900.0},
    {"shape": "bulk"},
)


@st.composite
def airs(draw: st.DrawFn) -> dict[str, Any]:
    coldest_c = draw(st.floats(-10, 30))
    driest_percent = draw(st.floats(0, 80))
    return {
        "coldest_c": round(coldest_c, 1),
        "warmest_c": round(coldest_c + draw(st.floats(0, 20)), 1),
        "driest_percent": round(driest_percent),
        "dampest_percent": round(driest_percent + draw(st.floats(0, 20))),
        "altitude_m": draw(st.sampled_from([0.0, 900.0])),
    }
