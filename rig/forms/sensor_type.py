"""The questions of a sensor type, begun from one that is taught in the same way."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from rig.forms.form import Form, a_new_name, choose
from rig.forms.interview import Interview
from rig.library import Entry
from sequences.datasheet import AIR_DRIFT_PERCENT_PER_K, BodyShape
from sequences.sensor_type import SensorType

# What a usual compensation leaves over (common practice, no source).
_COMPENSATED_DRIFT_PERCENT_PER_K = 0.02

_LENGTHS = ("shortest_s", "for_s", "longest_s")

# A rule between two keys names the lower one, so the higher one is asked for first.
_QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "supply": ("voltage_max_v", "voltage_min_v", "no_load_current_max_a", "no_load_current_min_a"),
    "output": ("types", "load_current_max_a"),
    "timing": (
        "availability_delay_s",
        "response_on_s",
        "response_off_s",
        "teach_window_s",
        "teach_timeout_s",
    ),
    "contact": ("longest_s", "shortest_s"),
}


def type_form(
    interview: Interview, types: Mapping[str, SensorType], known: Mapping[str, Entry]
) -> Form[SensorType]:
    """Ask for a sensor type that is begun from one of some `types`; `known` are all files of the kind.

    Its sequences are those of the one it is begun from, fitted to its contacts.
    """
    pattern = choose(
        interview,
        "pattern",
        "which type is it taught like? Its figures are offered, its sequences are taken over",
        {name: one.title for name, one in types.items()},
        default=None,
    )
    text = known[pattern].path.read_text(encoding="utf-8-sig")
    form = Form("type", SensorType, tomllib.loads(text), interview)
    form.remarks.append(
        f"Its sequences are those of {pattern}, their contacts moved between its own limits: compare every step "
        "with the maker's instructions before the first unit is taught."
    )
    limits = dict(form.data["contact"])
    form.put(("notes",), None)
    form.ask("name", default=None, check=a_new_name(known))
    form.ask("title", default=None)
    _ask_body(form)
    _ask_sensing(form)
    for table, keys in _QUESTIONS.items():
        form.heading(table)
        for key in keys:
            form.ask(table, key)
    _ask_teaching(form, limits)
    form.ask("notes", optional=True)
    return form


def _ask_body(form: Form[SensorType]) -> None:
    form.heading("body")
    if form.ask("body", "shape") == BodyShape.BARREL:
        form.ask("body", "thread_mm")
    else:
        form.put(("body", "thread_mm"), None)
    for key in ("length_mm", "transducer_diameter_mm", "frequency_khz"):
        form.ask("body", key)


def _ask_sensing(form: Form[SensorType]) -> None:
    form.heading("sensing")
    for key in ("range_mm", "blind_zone_mm", "standard_target_mm", "smallest_window_mm"):
        form.ask("sensing", key)
    for key in (
        "hysteresis_largest_percent",
        "hysteresis_percent",
        "hysteresis_min_mm",
        "repeat_accuracy_percent",
    ):
        form.ask("sensing", key)
    for key in ("resolution_mm", "teach_error_percent"):
        form.put(("sensing", key), None)
    before = form.data["sensing"]["temperature_compensated"]
    compensated = form.ask("sensing", "temperature_compensated")
    drift = _COMPENSATED_DRIFT_PERCENT_PER_K if compensated else AIR_DRIFT_PERCENT_PER_K
    if compensated == before:
        drift = form.data["sensing"]["drift_percent_per_k"]
    form.ask("sensing", "drift_percent_per_k", default=drift)
    form.ask("sensing", "temperature_max_c")
    form.ask("sensing", "temperature_min_c")


def _ask_teaching(form: Form[SensorType], before: Mapping[str, float]) -> None:
    if "longest_gap_s" in before:
        form.ask("contact", "longest_gap_s")
    for sequence in form.data["sequence"]:
        sequence["steps"] = [fitted(step, before, form.data["contact"]) for step in sequence["steps"]]
    form.heading("led")
    for name, sign in form.data["led"].items():
        if "rate_hz" in sign:
            form.ask("led", name, "rate_hz", hint=f", in Hz, for: {name}")
    form.ask("led_shows_output")
    form.ask("retry_after_refusal")


def fitted(
    step: Mapping[str, Any], before: Mapping[str, float], after: Mapping[str, float]
) -> dict[str, Any]:
    """Return a step whose contact lies between the new limits as it lay between the old ones."""
    if step["do"] != "contact":
        return dict(step)
    old_s, new_s = (limits["longest_s"] - limits["shortest_s"] for limits in (before, after))
    share = {key: (step[key] - before["shortest_s"]) / old_s for key in _LENGTHS if key in step}
    moved = {key: round(after["shortest_s"] + part * new_s, 3) for key, part in share.items()}
    if "gap_s" in step:
        moved["gap_s"] = round(step["gap_s"] * after["longest_gap_s"] / before["longest_gap_s"], 3)
    return {**step, **moved}
