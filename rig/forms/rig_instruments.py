"""The questions of a rig profile about its serial instruments: where they are, and what they say and are told."""

from __future__ import annotations

from rig.forms.form import Form, choose
from wiring.instruments import CodeReaderProfile, ProbeProfile, ProbeRegister, StageDialect
from wiring.profile import GaugeProfile, RigProfile
from wiring.tomllines import KeyPath

_STAGE_WORDS = {
    "usual": "homes with G28, moves with G0, reports with M114, stops with !",
    "other": "as the controller's manual says; every word is asked for",
}
_SPOKEN = tuple(StageDialect.model_fields)
_REGISTERS = ("temperature", "humidity")


def ask_supply_port(form: Form[RigProfile]) -> None:
    """Port and speed of the bench supply."""
    form.ask("supply", "port")
    _ask_speed(form, "supply")


def ask_stage(form: Form[RigProfile]) -> None:
    """Port and speed of the stage's controller, and its words where they are not the usual ones."""
    form.ask("target", "port", default=None)
    _ask_speed(form, "target")
    question = "which words does the stage's controller know?"
    if choose(form.interview, "stage words", question, _STAGE_WORDS, default="usual") == "usual":
        return
    usual = StageDialect().model_dump(mode="json")
    for key in _SPOKEN:
        hint = "; several with commas between" if isinstance(usual[key], list) else ""
        form.ask("target", "dialect", key, hint=hint, default=usual[key])


def ask_gauge(form: Form[RigProfile]) -> None:
    """The distance gauge at a target that a hand moves, if one is fitted."""
    if _ask_port(form, ("target", "gauge")):
        for key, field in GaugeProfile.model_fields.items():
            if key != "port":
                form.ask("target", "gauge", key, hint=", gauge", default=field.default)


def ask_probe(form: Form[RigProfile]) -> None:
    """The air probe, if one is fitted: its port, and which register holds what."""
    if not _ask_port(form, ("air", "probe")):
        return
    usual = ProbeProfile.model_fields
    for key in ("baud", "parity", "unit", "table"):
        form.ask("air", "probe", key, hint=", probe", default=usual[key].default)
    scale = ProbeRegister.model_fields["scale"].default
    for key in _REGISTERS:
        form.ask("air", "probe", key, "address", hint=f", {key}", default=usual[key].default.address)
        form.ask("air", "probe", key, "scale", hint=f", {key}", default=scale)


def ask_code_reader(form: Form[RigProfile]) -> None:
    """The code reader on a serial line, if one is fitted; one that types like a keyboard needs no entry."""
    if _ask_port(form, ("code_reader",)):
        form.ask(
            "code_reader",
            "baud",
            hint=", code reader",
            default=CodeReaderProfile.model_fields["baud"].default,
        )


def _ask_port(form: Form[RigProfile], instrument: KeyPath) -> bool:
    words = f"serial port of the {form.meaning(*instrument)}"
    if form.ask(*instrument, "port", words=words, optional=True) is not None:
        return True
    form.put(instrument, None)
    return False


def _ask_speed(form: Form[RigProfile], part: str) -> None:
    usual = RigProfile.model_fields[part].annotation
    assert usual is not None, "every part of a rig has a model"
    form.ask(part, "baud", hint=f", {part}", default=usual.model_fields["baud"].default)
