"""Sensor types in words, as a technician reads them before teaching the first unit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sequences.datasheet import Body, Sensing
from sequences.sensor_type import SensorType, TeachMethod
from sequences.steps import Clear, Contact, Cover, Expect, Place, PowerCycle, Rest, Step
from sequences.words import SetPoint
from wiring.terms import DetectionMode, OutputFunction

METHOD_WORDS = {
    TeachMethod.RAIL_ORDER: "by rail order",
    TeachMethod.CONTACT_LENGTH: "by contact length",
    TeachMethod.CONTACT_COUNT: "by contact count",
}
"""How a family codes its teaching."""

Rows = tuple[tuple[str, str], ...]
"""What is told, and what there is to say of it."""


def offered_words(sensor_type: SensorType) -> str:
    """Return what the type can be taught, in file order: `full-range NO; window NO/NC`."""
    by_mode: dict[DetectionMode, list[OutputFunction]] = {}
    for mode, function in sensor_type.offered:
        by_mode.setdefault(mode, []).append(function)
    return "; ".join(f"{mode} {'/'.join(functions)}" for mode, functions in by_mode.items())


def compensation_words(sensing: Sensing) -> str:
    """Return whether the type corrects for the air."""
    return "temperature-compensated" if sensing.temperature_compensated else "not temperature-compensated"


def sheet(sensor_type: SensorType) -> Iterator[tuple[str, Rows]]:
    """Yield the headings of a data sheet, each with its rows."""
    yield "body", _body(sensor_type.body)
    yield "sensing, from the face", tuple(_sensing(sensor_type))
    yield "supply and output", _supply_and_output(sensor_type)
    yield "teach wire", tuple(_teach_wire(sensor_type))
    yield "LED signs", tuple((name, sign.words) for name, sign in sensor_type.led.items())


def steps_in_words(steps: Iterable[Step], sensor_type: SensorType) -> tuple[str, ...]:
    """Return the steps of one of the type's sequences, each as a person would say it."""
    return tuple(_step_words(step, sensor_type) for step in steps)


def _step_words(step: Step, sensor_type: SensorType) -> str:
    match step:
        case Place():
            return "target at the " + ("set point" if step.at is SetPoint.ONLY else f"{step.at} end")
        case Cover():
            return "cover the face"
        case Clear():
            return "clear the beam"
        case Contact():
            return _contact_words(step, sensor_type)
        case Rest():
            return f"wait {step.for_s:g} s"
        case PowerCycle():
            return f"supply off for {step.off_s:g} s, then on"
        case Expect(led=str(name)):
            return f"LED must show {_sign(name, sensor_type)} within {step.within_s:g} s"
        case Expect():
            return f"output must be {step.output} within {step.within_s:g} s"


def _contact_words(contact: Contact, sensor_type: SensorType) -> str:
    how = f"until {_sign(contact.until, sensor_type)}" if contact.until else f"for {contact.for_s:g} s"
    often = f"{contact.times} times " if contact.times > 1 else ""
    gap = f", {contact.gap_s:g} s apart" if contact.gap_s else ""
    good = f"good from {contact.shortest_s:g} to {contact.longest_s:g} s"
    return f"teach wire to {contact.rail} {often}{how}{gap}; {good}"


def _sign(name: str, sensor_type: SensorType) -> str:
    return f"{name} ({sensor_type.led[name].words})"


def _body(body: Body) -> Rows:
    shape = f"M{body.thread_mm:g} {body.shape}" if body.thread_mm else f"{body.shape} body"
    angle = f", beam {body.beam_angle_deg:g} degrees" if body.beam_angle_deg else ""
    face = f"{body.transducer_diameter_mm:g} mm, {body.frequency_khz:g} kHz{angle}"
    return ("shape", f"{shape}, {body.length_mm:g} mm long"), ("sounding face", face)


def _sensing(sensor_type: SensorType) -> Iterator[tuple[str, str]]:
    sensing, derating = sensor_type.sensing, sensor_type.derating
    side = f"{sensing.standard_target_mm:g} x {sensing.standard_target_mm:g} mm"
    yield "blind zone", f"up to {sensing.blind_zone_mm:g} mm"
    yield "range", f"up to {sensing.range_mm:g} mm, on a plate of {side}"
    yield (
        "weaker echoes",
        ", ".join(
            f"{words} up to {sensing.range_mm * percent / 100:g} mm"
            for words, percent in (
                ("rough or loose goods", derating.rough_percent),
                ("round", derating.round_percent),
                ("soft", derating.soft_percent),
            )
        ),
    )
    usual, largest = sensing.hysteresis_percent, sensing.hysteresis_largest_percent
    least = f"never under {sensing.hysteresis_min_mm:g} mm"
    yield "hysteresis", f"usually {usual:g} % of the distance, in a good unit up to {largest:g} %, {least}"
    yield "repeat accuracy", f"{sensing.repeat_accuracy_percent:g} % of the distance"
    if sensing.teach_error_percent is not None:
        yield "stores within", f"{sensing.teach_error_percent:g} % of the taught distance"
    if sensing.resolution_mm is not None:
        yield "resolution", f"{sensing.resolution_mm:g} mm"
    yield "smallest window", f"{sensing.smallest_window_mm:g} mm"
    yield (
        "air",
        (
            f"{sensing.temperature_min_c:g} to {sensing.temperature_max_c:g} degrees C; {compensation_words(sensing)}, "
            f"drift {sensing.drift_percent_per_k:g} % per K"
        ),
    )


def _supply_and_output(sensor_type: SensorType) -> Rows:
    supply, output, timing = sensor_type.supply, sensor_type.output, sensor_type.timing
    current = (
        f"{_milliamperes(supply.no_load_current_min_a)} to {_milliamperes(supply.no_load_current_max_a)} mA"
    )
    factory = sensor_type.factory
    return (
        ("supply", f"{supply.voltage_min_v:g} to {supply.voltage_max_v:g} V, {current} without load"),
        ("output", f"{' or '.join(output.types)}, up to {_milliamperes(output.load_current_max_a)} mA"),
        ("LED", "lit while the output is on" if sensor_type.led_shows_output else "does not show the output"),
        ("ready", f"{timing.availability_delay_s:g} s after power-up"),
        ("response", f"{timing.response_on_s:g} s on, {timing.response_off_s:g} s off"),
        ("out of the box", f"{factory.mode} {factory.output_function}"),
    )


def _teach_wire(sensor_type: SensorType) -> Iterator[tuple[str, str]]:
    contact, timing = sensor_type.contact, sensor_type.timing
    yield "taught", METHOD_WORDS[sensor_type.teach_method]
    yield "contact", f"{contact.shortest_s:g} to {contact.longest_s:g} s, no sequence goes beyond"
    if contact.longest_gap_s is not None:
        yield "gap", f"up to {contact.longest_gap_s:g} s between contacts that are counted together"
    yield (
        "time to teach",
        (
            f"{timing.teach_window_s:g} s from power-up, {timing.teach_timeout_s:g} s from one step to the next"
        ),
    )
    once = "the whole sequence once more" if sensor_type.retry_after_refusal else "no second try"
    yield "when refused", once


def _milliamperes(current_a: float) -> str:
    return f"{current_a * 1000:g}"
