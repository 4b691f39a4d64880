"""What a unit is set to, from what its output did and where it switches. Pure: readings and figures in, words out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.events import UnitRecognised
from rig.sequencer.output_type import Drive, stage_of
from rig.survey.bounds import Bounds
from sequences.sensor_type import SensorType
from sequences.spoken import offered_words
from wiring.terms import DetectionMode, OutputFunction, OutputType

# So much slower than its data sheet allows is no unit of a type, only one of another.
_SLOW = 1.2


@dataclass(frozen=True, slots=True)
class Switching:
    """How an output drives its load with a clear beam and with the target in the zone."""

    output_type: OutputType
    output_function: OutputFunction


@dataclass(frozen=True, slots=True)
class Edge:
    """An operate point with its expanded uncertainty, in mm, and the longest mean response with its own, in s."""

    at_mm: float
    u_mm: float
    response_s: float | None = None
    response_u_s: float = 0.0

    def __str__(self) -> str:
        return f"{self.at_mm:.1f} mm ± {self.u_mm:.1f} mm"


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that a setting is recognised by.

    Attributes:
        near: where the zone begins; None if the unit detects at the first position that is read.
        far: where it ends; None if the unit detects at the last one.

    """

    switching: Switching
    near: Edge | None
    far: Edge | None


@dataclass(frozen=True, slots=True)
class Recognised:
    """What a unit is set to. `doubts` says what cannot be told, or what speaks against it; empty if all is clear."""

    mode: DetectionMode | None
    doubts: tuple[str, ...]

    def as_event(self, switching: Switching) -> UnitRecognised:
        """The same as it is recorded."""
        return UnitRecognised(
            mode=str(self.mode or ""),
            output_function=str(switching.output_function),
            output_type=str(switching.output_type),
            doubts="; ".join(self.doubts),
        )


def switching_of(clear: Drive, inside: Drive) -> Switching | None:
    """Output type and function, from the drive in either state; None for a pair that no output stage shows."""
    if (output_type := stage_of(when_on=inside, when_off=clear)) is not None:
        return Switching(output_type, OutputFunction.NO)
    if (output_type := stage_of(when_on=clear, when_off=inside)) is not None:
        return Switching(output_type, OutputFunction.NC)
    return None


def recognise(evidence: Evidence, bounds: Bounds, sensor_type: SensorType) -> Recognised:
    """Tell full range, single point and window apart; what cannot be told is said, never guessed."""
    doubts = [*_doubts_of_near(evidence.near, bounds), *_doubts_of_far(evidence.far, bounds, sensor_type)]
    mode = None if doubts else _mode(evidence, bounds)
    if mode is DetectionMode.WINDOW and evidence.far is not None and _ends_with_range(evidence.far, bounds):
        doubts.append(
            f"far end of the window at {evidence.far} lies at the end of the range: set there, or farther out"
        )
    doubts += _misfits(mode, evidence, sensor_type)
    return Recognised(mode, tuple(doubts))


def _mode(evidence: Evidence, bounds: Bounds) -> DetectionMode:
    if evidence.near is not None:
        return DetectionMode.WINDOW
    assert evidence.far is not None, "a zone without an end is in doubt"
    full = _ends_with_range(evidence.far, bounds)
    return DetectionMode.FULL_RANGE if full else DetectionMode.SINGLE_POINT


def _ends_with_range(far: Edge, bounds: Bounds) -> bool:
    return far.at_mm >= bounds.range_near_mm


def _doubts_of_near(near: Edge | None, bounds: Bounds) -> Iterator[str]:
    if near is not None and near.at_mm - near.u_mm <= bounds.blind_far_mm:
        yield (
            f"zone begins at {near}, too close to the blind zone: near end of a window, or a unit with a longer "
            "blind zone than its type"
        )
    if near is None and not bounds.blind_seen:
        yield (
            f"unit detects the target at {bounds.first_mm:.1f} mm, where the reach of the target begins: "
            "a window may begin nearer"
        )


def _doubts_of_far(far: Edge | None, bounds: Bounds, sensor_type: SensorType) -> Iterator[str]:
    range_mm = sensor_type.sensing.range_mm
    if far is None and not bounds.range_seen:
        yield (
            f"unit detects the target as far as it reaches ({bounds.last_mm:.1f} mm): set farther out, or full range"
        )
    elif far is None or far.at_mm > bounds.odd_mm:
        at_mm = bounds.last_mm if far is None else far.at_mm
        yield f"unit detects the target up to {at_mm:.1f} mm, far beyond the {range_mm:g} mm of its type: another type?"
    elif not bounds.heard(min(far.at_mm, range_mm)):
        yield (
            f"zone ends at {far}, but the target plate is too small to be heard that far: set there, or not heard "
            "any more"
        )
    elif far.at_mm < bounds.range_near_mm <= far.at_mm + far.u_mm:
        yield f"zone ends at {far}, too close to the end of the range: a set point, or full range"


def _misfits(mode: DetectionMode | None, evidence: Evidence, sensor_type: SensorType) -> Iterator[str]:
    """What no unit of the type that was named could show."""
    switching, name = evidence.switching, sensor_type.name
    if switching.output_type not in sensor_type.output.types:
        types = ", ".join(sensor_type.output.types)
        yield f"output is {switching.output_type}, {name} has {types}: another type?"
    if mode is not None and (mode, switching.output_function) not in sensor_type.offered:
        yield (
            f"{name} cannot be set to {mode} {switching.output_function} "
            f"({offered_words(sensor_type)}): another type?"
        )
    longest_s = max(sensor_type.timing.response_on_s, sensor_type.timing.response_off_s)
    for edge in (evidence.near, evidence.far):
        if edge and edge.response_s is not None and edge.response_s - edge.response_u_s > _SLOW * longest_s:
            yield (
                f"output answers after {1000 * edge.response_s:.0f} ms, {name} after "
                f"{1000 * longest_s:.0f} ms at most: another type?"
            )
            return
