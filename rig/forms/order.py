"""The questions of an order."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from rig.forms.form import Form, a_new_name
from rig.forms.interview import Interview
from rig.library import Library, Section
from rig.planning.compile import make_plan
from rig.planning.refusal import PlanRefused
from sequences.order import POINT_KEYS, Order
from sequences.sensor_type import SensorType
from sequences.spoken import offered_words
from sequences.words import SET_POINTS
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, OutputFunction
from wiring.tomlfile import DataFileError

# Stands in for what is not asked yet, so that the model can look at the whole from the first answer on.
_PATTERN = {
    "number": "1",
    "customer": "-",
    "quantity": 1,
    "sensor_type": "-",
    "serial_run": {"first": 1, "digits": 3},
    "setting": {"mode": "full-range", "output_function": "NO", "output_type": "PNP"},
}

_FEWEST_DIGITS = 3

# A tolerance to begin with, in % of the farthest set point (common practice, no source).
_USUAL_TOLERANCE_PERCENT = 2.0


def order_form(interview: Interview, library: Library, rig: RigProfile) -> Form[Order]:
    """Ask for an order that can be planned on `rig`."""
    form = Form("order", Order, _PATTERN, interview)
    known = library.entries(Section.ORDERS)
    number = form.ask("number", default=None, check=a_new_name("order file", known))
    form.ask("customer", default=None)
    types = usable_types(library)
    remarks = {name: f"{one.title}" for name, one in types.items()}
    sensor_type = types[form.ask("sensor_type", default=None, choices=remarks)]
    quantity = form.ask("quantity", default=None)
    form.ask("serial_run", "prefix", default=f"{number}-", optional=True)
    first = form.ask("serial_run", "first")
    form.ask("serial_run", "digits", default=max(_FEWEST_DIGITS, len(str(first + quantity - 1))))
    _ask_setting(form, sensor_type)
    _must_plan(form, sensor_type, rig)
    form.ask("setting", "reference_designation", optional=True)
    form.ask("notes", optional=True)
    return form


def usable_types(library: Library) -> dict[str, SensorType]:
    """Return the sensor types that can be named and are right."""
    types = {}
    for name in library.entries(Section.TYPES):
        try:
            types[name] = library.read_type(name)
        except DataFileError:
            continue
    return types


def _ask_setting(form: Form[Order], sensor_type: SensorType) -> None:
    modes = {str(mode): "" for mode, _ in sensor_type.offered}
    mode = form.ask(
        "setting",
        "mode",
        choices=modes,
        default=None,
        hint=f"; {sensor_type.name}: {offered_words(sensor_type)}",
    )
    functions = {
        str(function): _FUNCTION_WORDS[function] for one, function in sensor_type.offered if one == mode
    }
    form.ask("setting", "output_function", choices=functions, default=next(iter(functions)))
    form.ask(
        "setting",
        "output_type",
        choices=dict.fromkeys(sensor_type.output.types, ""),
        default=sensor_type.output.types[0],
    )
    points_mm = [
        form.ask("setting", key, default=None, check=_within(sensor_type)) for key in _point_keys(mode)
    ]
    if points_mm:
        usual_mm = math.ceil(max(points_mm) * _USUAL_TOLERANCE_PERCENT / 100)
        form.ask("setting", "tolerance_mm", default=usual_mm)


_FUNCTION_WORDS = {
    OutputFunction.NO: "on with an object",
    OutputFunction.NC: "on without an object",
}


def _within(sensor_type: SensorType) -> Callable[[float], Sequence[str]]:
    blind_mm, range_mm = sensor_type.sensing.blind_zone_mm, sensor_type.sensing.range_mm

    def check(at_mm: float) -> Sequence[str]:
        if blind_mm < at_mm <= range_mm:
            return ()
        where = "in the blind zone" if at_mm <= blind_mm else "beyond the range"
        return (f"{where} of {sensor_type.name}; allowed: above {blind_mm:g} to {range_mm:g}",)

    return check


def _must_plan(form: Form[Order], sensor_type: SensorType, rig: RigProfile) -> None:
    """Go back to the set points if the order as it stands cannot be done."""
    try:
        make_plan(form.load(), sensor_type, rig)
    except PlanRefused as refused:
        form.interview.say(f"\nthis cannot be done on rig {rig.name}:")
        for refusal in refused.refusals:
            form.interview.say(f"  {refusal}")
        keys = _point_keys(form.data["setting"]["mode"])
        form.interview.ask_again(f"setting.{keys[0]}" if keys else "setting.mode")


def _point_keys(mode: str) -> list[str]:
    return [POINT_KEYS[point] for point in SET_POINTS[DetectionMode(mode)]]
