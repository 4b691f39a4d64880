"""The questions of a rig profile: what is fitted, on which lines, and how far the target reaches."""

from __future__ import annotations

import tomllib
from collections.abc import Container
from copy import deepcopy
from string import ascii_uppercase
from typing import Any

from rig.forms.form import Form, a_new_name, choose
from rig.forms.interview import Interview
from rig.forms.lines import Lines
from rig.forms.rig_instruments import ask_code_reader, ask_gauge, ask_probe, ask_stage, ask_supply_port
from rig.library import Section
from wiring.lines import RelayLine
from wiring.nest import TEACH_RELAYS, Topology
from wiring.parts import TargetKind
from wiring.profile import RigProfile

_PATTERN = "single-nest"

_RELAY_TIMES = ("operate_s", "release_s", "bounce_s")
# The rail selector has to fall after the teach contact is open and quiet.
_SELECTOR_LATER_S = 0.007
_SELECTOR_WORDS = (
    "rail selector of nest {}: coil off to contact open, in seconds; more than release and chatter of the others, "
    "as with a diode across its coil"
)
_INPUTS = ("teach_at_plus", "teach_at_minus", "output_at_plus", "output_at_minus")
_IF_FITTED = ("led", "supply_sense")
# Fewest lines of a nest: four relays and four inputs, without LED pick-up and supply sense.
_FEWEST_LINES = 8
_MOST_NESTS = 4
_MOST_SLOTS = 10

_LEVELS = {"high": "on with a high level", "low": "on with a low level"}


def rig_form(interview: Interview, taken: Container[str]) -> Form[RigProfile]:
    """Ask for a rig profile; names in `taken` are not free."""
    pattern = Section.RIGS.shipped()[_PATTERN]
    form = Form("rig", RigProfile, tomllib.loads(pattern.read_text(encoding="utf-8")), interview)
    form.remarks.append(
        "Lines that a reset board pulls low are 9 to 27 but not 14 and 15: there a relay that works with a high level "
        "stays off. Have the wiring checked by a qualified person under local codes."
    )
    lines = Lines(form)
    form.ask("name", default=None, check=a_new_name(taken))
    form.ask("title", default=None)
    form.ask("back_end")
    _ask_coil_supply(form, lines)
    _ask_supply(form)
    _ask_target(form, lines)
    form.heading("air")
    form.ask("air", "temperature_c")
    form.ask("air", "humidity_percent")
    ask_probe(form)
    ask_code_reader(form)
    _ask_nests(form, lines)
    form.ask("dead_time_s")
    return form


def _ask_coil_supply(form: Form[RigProfile], lines: Lines) -> None:
    form.heading("coil_supply")
    lines.ask("coil_supply", "heartbeat")
    form.ask("coil_supply", "dropout_s")
    form.ask("coil_supply", "beat_s")
    lines.ask("coil_supply", "stop_button")
    form.ask("coil_supply", "stop_button", "active", hint=", stop button")
    lines.ask("coil_supply", "sense", optional=True)
    if lines.ask("foot_switch", optional=True):
        form.ask("foot_switch", "active", hint=", foot switch")


def _ask_supply(form: Form[RigProfile]) -> None:
    form.heading("supply")
    if form.ask("supply", "kind") == "scpi":
        ask_supply_port(form)
    else:
        form.put(("supply", "port"), None)
    form.ask("supply", "voltage_v")
    form.ask("supply", "current_limit_a")


def _ask_target(form: Form[RigProfile], lines: Lines) -> None:
    form.heading("target")
    kind = form.ask("target", "kind")
    form.ask("target", "farthest_mm")
    form.ask("target", "nearest_mm")
    form.ask("target", "placement_mm")
    form.ask("target", "side_mm")
    if kind == TargetKind.STAGE:
        ask_stage(form)
        form.ask("target", "speed_mm_s", default=None)
        lines.ask("target", "swing")
    elif kind == TargetKind.SLOTS:
        _ask_slots(form, lines)
    else:
        ask_gauge(form)


def _ask_slots(form: Form[RigProfile], lines: Lines) -> None:
    most = min(_MOST_SLOTS, lines.left - _FEWEST_LINES)
    slots: list[dict[str, Any]] = []
    form.put(("target", "slots"), slots)
    for index in range(_how_many(form, "slots for the target", most)):
        slots.append({"number": index + 1})
        form.ask("target", "slots", index, "position_mm", hint=f", slot {index + 1}", default=None)
        lines.ask("target", "slots", index)


def _how_many(form: Form[RigProfile], words: str, most: int) -> int:
    choices = {str(number): "" for number in range(1, most + 1)}
    return int(choose(form.interview, words, f"how many {words}?", choices, default="1"))


def _ask_nests(form: Form[RigProfile], lines: Lines) -> None:
    count = _how_many(form, "nests", min(_MOST_NESTS, lines.left // _FEWEST_LINES))
    relays = choose(form.interview, "relays", "what do the relays work with?", _LEVELS, default="high")
    inputs = choose(
        form.interview, "inputs", "what do the isolated inputs of a nest show?", _LEVELS, default="high"
    )
    first = form.data["nest"][0]
    form.put(("nest",), [{**deepcopy(first), "name": ascii_uppercase[index]} for index in range(count)])
    for index in range(count):
        form.interview.say(f"\n-- nest {ascii_uppercase[index]} --")
        _ask_nest(form, lines, index, spare=(count - index - 1) * _FEWEST_LINES)
        _set_levels(form.data["nest"][index], relays, inputs)
    _ask_relay_times(form)


def _ask_nest(form: Form[RigProfile], lines: Lines, index: int, *, spare: int) -> None:
    topology = form.ask("nest", index, "topology")
    for kind, relays in TEACH_RELAYS.items():
        for relay in relays if kind != topology else ():
            form.put(("nest", index, relay), None)
    for part in ("supply", *TEACH_RELAYS[Topology(topology)], "load", *_INPUTS):
        lines.ask("nest", index, part)
    for part in _IF_FITTED:
        lines.ask("nest", index, part, optional=True, spare=spare)


def _ask_relay_times(form: Form[RigProfile]) -> None:
    """Ask once for all relays; only the rail selector has to be slower to fall."""
    form.interview.say("\n-- the relays, from their data sheet --")
    usual = {key: RelayLine.model_fields[key].default for key in _RELAY_TIMES}
    times_s = {key: form.ask("nest", 0, "supply", key, default=usual_s) for key, usual_s in usual.items()}
    for index, nest in enumerate(form.data["nest"]):
        for relay in ("supply", "load", *TEACH_RELAYS[Topology(nest["topology"])]):
            form.put(("nest", index, relay), {**nest[relay], **times_s})
        if "rail_selector" in nest:
            late_s = round(times_s["release_s"] + times_s["bounce_s"] + _SELECTOR_LATER_S, 4)
            words = _SELECTOR_WORDS.format(nest["name"])
            form.ask("nest", index, "rail_selector", "release_s", words=words, default=late_s)


def _set_levels(nest: dict[str, Any], relays: str, inputs: str) -> None:
    for key, part in nest.items():
        level = inputs if key in _INPUTS + _IF_FITTED else relays
        if isinstance(part, dict) and level == "low":
            part["active"] = level
