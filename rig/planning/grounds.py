"""The grounds of a plan: why it is as it is, in figures that a command can print and a program can read.

Distances `machine_mm` hold at the machine, in the middle of its air where that is stated; `bench_mm` on the bench.
"""

from __future__ import annotations

from dataclasses import dataclass

from sequences.words import SetPoint


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that the order says of the machine: `name` in words, `value` with its unit."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Reason:
    """One choice of the setting, and why: proposed, or as ordered."""

    choice: str
    value: str
    why: str
    proposed: bool


@dataclass(frozen=True, slots=True)
class AirGrounds:
    """What the change of air between bench and machine does to this type.

    Attributes:
        middle_c: temperature in which set points are stated to hold at the machine.
        middle_percent: relative humidity in which they are.
        bench_m_s: speed of sound on the bench.
        middle_m_s: speed of sound in the middle of the machine's air.
        scale: bench distance over machine distance; 1 for a compensated type.
        published: whether all these airs lie within the published validity of the law of the speed of sound.

    """

    bench_c: float
    bench_percent: float
    bench_kpa: float
    coldest_c: float
    warmest_c: float
    driest_percent: float
    dampest_percent: float
    pressure_kpa: float
    middle_c: float
    middle_percent: float
    bench_m_s: float
    middle_m_s: float
    compensated: bool
    scale: float
    published: bool


@dataclass(frozen=True, slots=True)
class Clearance:
    """How much room is left between a set point at its worst and a thing at the machine.

    At its worst is: over the machine's air, with its tolerance, its guard and, on the side where the output lets
    go, its largest differential travel.
    """

    of: str
    at_mm: float
    spare_mm: float


@dataclass(frozen=True, slots=True)
class PointGrounds:
    """One set point at the machine and on the bench.

    Attributes:
        bench_mm: where the target stands when it is taught.
        guard_mm: expanded uncertainty at the far end of the tolerance, at the machine.
        drift_nearest_mm: nearest place over the machine's air of a set point that is right, in the middle of that air
            or, of a compensated type, on the bench; the tolerance of one that is not quite right comes on top.
        drift_farthest_mm: farthest place of it.
        clear_of: what it has to keep clear of, and what is left.

    """

    point: SetPoint
    machine_mm: float
    bench_mm: float
    tolerance_mm: float
    guard_mm: float
    drift_nearest_mm: float
    drift_farthest_mm: float
    clear_of: tuple[Clearance, ...]


@dataclass(frozen=True, slots=True)
class EchoGrounds:
    """How well a target is heard at one distance; 0 dB is the weakest echo that the type promises to hear.

    Attributes:
        largest_tilt_deg: tilt of a flat target at which its echo leaves the beam; stated at the farthest distance,
            where it is least; None for loose goods.
        doubts: why the figure is less certain than it looks.

    """

    target: str
    at_mm: float
    at_machine: bool
    margin_db: float
    largest_tilt_deg: float | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BeamGrounds:
    """The beam, and the room that it wants.

    Attributes:
        ka: circumference of the sounding face over the wavelength.
        half_angle_deg: angle to -3 dB off the axis.
        near_field_mm: nearer than this, levels rise and fall with distance.
        machine_radius_mm: nearer to the axis than this, an edge at the machine that gives as much back as the
            standard target is heard; None for an order without a need.
        bench_radius_mm: the same on the bench, out to the farthest position.
        neighbour_spacing_mm: nearer to one another than this, two units hear each other; None without a need.
        deepest_recess_mm: deepest recess of the hole that the need states; None without one.

    """

    ka: float
    half_angle_deg: float
    near_field_mm: float
    machine_radius_mm: float | None
    bench_radius_mm: float
    neighbour_spacing_mm: float | None
    deepest_recess_mm: float | None


@dataclass(frozen=True, slots=True)
class MotionGrounds:
    """Whether passing objects are caught. Times in seconds, of an object and of the gap behind it."""

    present_s: float
    response_on_s: float
    absent_s: float | None
    response_off_s: float
    fastest_m_s: float


@dataclass(frozen=True, slots=True)
class TeachGrounds:
    """Times of teaching against the limits of the type.

    Attributes:
        longest_pause_s: longest expected time between two contacts of the sequence; 0 with a single contact.
        last_contact_s: expected end of the last contact after power-up.

    """

    longest_pause_s: float
    timeout_s: float
    last_contact_s: float
    window_s: float


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One source of uncertainty (JCGM 100): in its own `unit`, with the sensitivity in mm per unit.

    `degrees_of_freedom` None is endless; `share` is the part of the combined variance.
    """

    source: str
    standard_uncertainty: float
    unit: str
    sensitivity: float
    contribution_mm: float
    degrees_of_freedom: float | None
    share: float


@dataclass(frozen=True, slots=True)
class PositionBudget:
    """The uncertainty of one position on the bench; `degrees_of_freedom` None is endless."""

    position_mm: float
    rows: tuple[BudgetRow, ...]
    combined_mm: float
    degrees_of_freedom: float | None
    coverage: float
    coverage_factor: float
    expanded_mm: float


@dataclass(frozen=True, slots=True)
class PointRisk:
    """What the checks of one set point may decide wrongly (JCGM 106).

    Attributes:
        spread_mm: standard deviation of the operate points of good and bad units of this type about the set point.
        doubt_mm: standard uncertainty of one reading.
        passes_at_limit: specific risk: probability that a unit just outside its tolerance passes.
        fails_at_limit: probability that a unit just inside its tolerance fails.
        passed_outside: global risk of the consumer: share of all units passed though outside.
        failed_inside: global risk of the producer: share of all units failed though inside.
        undecided: share of all units left undecided.
        why_open: why units outside can only be left undecided on some side; empty where they are proven bad.

    """

    point: SetPoint
    spread_mm: float
    doubt_mm: float
    guard_mm: float
    passes_at_limit: float
    fails_at_limit: float
    passed_outside: float
    failed_inside: float
    undecided: float
    why_open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimePart:
    """A part of the expected time on the bench for one unit."""

    what: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Grounds:
    """Everything that a plan rests on; parts that the order does not speak of are empty or None."""

    need: tuple[Fact, ...]
    reasons: tuple[Reason, ...]
    air: AirGrounds | None
    points: tuple[PointGrounds, ...]
    echoes: tuple[EchoGrounds, ...]
    beam: BeamGrounds
    motion: MotionGrounds | None
    teaching: TeachGrounds
    budgets: tuple[PositionBudget, ...]
    risks: tuple[PointRisk, ...]
