"""The questions of an order."""

from __future__ import annotations

import math
from collections.abc import Container, Mapping

from rig.forms.form import Form, a_new_name, choose
from rig.forms.interview import Interview
from rig.forms.need import ask_air, ask_need, within_range
from rig.planning.compile import make_plan
from rig.planning.refusal import PlanRefused
from sequences.order import POINT_KEYS, Order
from sequences.sensor_type import SensorType
from sequences.spoken import offered_words
from sequences.words import SET_POINTS
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, OutputFunction

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


_SETTINGS = {
    "known": "mode and set points are given",
    "proposed": "they are to be proposed from where the objects are at the machine",
}


def order_form(
    interview: Interview, types: Mapping[str, SensorType], taken: Container[str], rig: RigProfile
) -> Form[Order]:
    """Ask for an order of one of some `types` that can be planned on `rig`; names in `taken` are not free."""
    form = Form("order", Order, _PATTERN, interview)
    number = form.ask("number", default=None, check=a_new_name(taken))
    form.ask("customer", default=None)
    titles = {name: one.title for name, one in types.items()}
    sensor_type = types[form.ask("sensor_type", default=None, choices=titles)]
    quantity = form.ask("quantity", default=None)
    form.ask("serial_run", "prefix", default=f"{number}-", optional=True)
    first = form.ask("serial_run", "first")
    form.ask("serial_run", "digits", default=max(_FEWEST_DIGITS, len(str(first + quantity - 1))))
    outputs = sensor_type.output.types
    form.ask("setting", "output_type", choices=dict.fromkeys(outputs, ""), default=outputs[0])
    _ask_setting_or_need(form, sensor_type)
    _must_plan(form, types, sensor_type, rig)
    form.ask("setting", "reference_designation", optional=True)
    form.ask("notes", optional=True)
    return form


def _ask_setting_or_need(form: Form[Order], sensor_type: SensorType) -> None:
    if choose(form.interview, "setting", "is the setting known?", _SETTINGS, default="known") == "known":
        _ask_setting(form, sensor_type)
        if not sensor_type.sensing.temperature_compensated:
            form.heading("need", "air")
            ask_air(form, sensor_type)
    else:
        form.put(("setting", "mode"), None)
        form.put(("setting", "output_function"), None)
        ask_need(form, sensor_type)


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
    points_mm = [
        form.ask("setting", key, default=None, check=within_range(sensor_type)) for key in _point_keys(mode)
    ]
    if points_mm:
        usual_mm = math.ceil(max(points_mm) * _USUAL_TOLERANCE_PERCENT / 100)
        form.ask("setting", "tolerance_mm", default=usual_mm)


_FUNCTION_WORDS = {
    OutputFunction.NO: "on with an object",
    OutputFunction.NC: "on without an object",
}


def _must_plan(
    form: Form[Order], types: Mapping[str, SensorType], sensor_type: SensorType, rig: RigProfile
) -> None:
    """Say what is proposed; go back to what stands against it if the order as it is cannot be done."""
    try:
        plan = make_plan(form.load(), sensor_type, rig, known=types.values())
    except PlanRefused as refused:
        form.interview.say(f"\nthis cannot be done on rig {rig.name}:")
        for line in str(refused).splitlines():
            form.interview.say(f"  {line}")
        keys = [refusal.key for refusal in refused.refusals]
        passing = {one.key: one.passes for one in refused.refusals if one.passes is not None}
        form.interview.ask_again(*keys, "setting.mode", "setting", offers=passing)
    if "mode" not in form.data["setting"]:
        points = "".join(f", {point} {at_mm:g} mm" for point, at_mm in plan.set_points)
        tolerance = f", tolerance {plan.tolerance_mm:g} mm" if points else ""
        form.interview.say(f"\nproposed: {plan.mode} {plan.output_function}{points}{tolerance}")


def _point_keys(mode: str) -> list[str]:
    return [POINT_KEYS[point] for point in SET_POINTS[DetectionMode(mode)]]
