"""An order: a batch of units to be set to one setting, and how each is to be proved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from sequences.words import SET_POINTS, Line, Notes, SetPoint, must_rise
from wiring.terms import DetectionMode, OutputFunction, OutputType
from wiring.tomlfile import Contradiction, DataModel

# Order numbers and serials become file names and bar codes, so they keep to what both can hold.
_CODE = r"[A-Za-z0-9][A-Za-z0-9._-]*"
_CODE_WORDS = "letters, digits, . _ and -, with a letter or digit first"

OrderNumber = Annotated[str, Field(max_length=30, pattern=rf"^{_CODE}$", description=_CODE_WORDS)]
Serial = Annotated[str, Field(max_length=40, pattern=rf"^{_CODE}$", description=_CODE_WORDS)]
SerialPrefix = Annotated[str, Field(max_length=30, pattern=rf"^({_CODE})?$", description=_CODE_WORDS)]
ReferenceDesignation = Annotated[
    str,
    Field(
        max_length=60,
        pattern=r"^([=+#-]{1,2}[A-Z0-9]+(\.[A-Z0-9]+)*)+$",
        description="capital letters and digits behind = + - or #, such as =A1-BG3",
    ),
]
DistanceMm = Annotated[float, Field(gt=0, le=10000, description="mm from the sensing face")]
ToleranceMm = Annotated[float, Field(gt=0, le=500, description="mm between set point and operate point")]

_POINT_KEYS: Mapping[SetPoint, str] = MappingProxyType(
    {SetPoint.ONLY: "at_mm", SetPoint.NEAR: "near_mm", SetPoint.FAR: "far_mm"}
)


class SerialRun(DataModel):
    """Serials that count up: a prefix, then a number padded with zeros."""

    prefix: SerialPrefix = ""
    first: int = Field(ge=0, le=9_999_999_999, description="number of the first unit")
    digits: int = Field(ge=1, le=10, description="digits of the number, padded with zeros")

    def serials(self, quantity: int) -> tuple[str, ...]:
        """Return the first `quantity` serials of the run."""
        numbers = range(self.first, self.first + quantity)
        return tuple(f"{self.prefix}{number:0{self.digits}d}" for number in numbers)


class Setting(DataModel):
    """What every unit of an order is set to; distances and tolerance in mm."""

    mode: DetectionMode = Field(description="which objects the unit reports")
    output_function: OutputFunction = Field(description="output on with an object, or without")
    output_type: OutputType = Field(description="how the output drives its load")
    at_mm: DistanceMm | None = None
    near_mm: DistanceMm | None = None
    far_mm: DistanceMm | None = None
    tolerance_mm: ToleranceMm | None = None
    reference_designation: ReferenceDesignation | None = None

    @property
    def set_points_mm(self) -> Mapping[SetPoint, float]:
        """Distance in mm of each set point of the mode, nearest first; empty for full range."""
        return {point: getattr(self, _POINT_KEYS[point]) for point in SET_POINTS[self.mode]}

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield distances that the mode lacks or does not have, and a zone or tolerance that cannot be."""
        misfits = tuple(self._misfits())
        yield from misfits
        if misfits or self.tolerance_mm is None:
            return
        if self.mode is DetectionMode.WINDOW:
            yield from must_rise(self, "near_mm", "far_mm")
        yield from self._tolerance_too_large(self.tolerance_mm)

    def _misfits(self) -> Iterator[Contradiction]:
        wanted = [_POINT_KEYS[point] for point in SET_POINTS[self.mode]]
        if wanted:
            wanted.append("tolerance_mm")
        for key in (*_POINT_KEYS.values(), "tolerance_mm"):
            if (getattr(self, key) is not None) != (key in wanted):
                yield Contradiction(
                    (key,),
                    f"mode {self.mode} {'needs' if key in wanted else 'has no'} {key}",
                    allowed=", ".join(wanted) or "no distance and no tolerance",
                )

    def _tolerance_too_large(self, tolerance_mm: float) -> Iterator[Contradiction]:
        points_mm = list(self.set_points_mm.values())
        # The tolerances of two set points must not meet, nor that of the first the sensing face.
        rooms_mm = [points_mm[0], *((far - near) / 2 for near, far in pairwise(points_mm) if far > near)]
        if tolerance_mm >= min(rooms_mm):
            yield Contradiction(
                ("tolerance_mm",),
                "too large for these set points",
                allowed=f"less than {min(rooms_mm):g}",
            )


class CheckPlan(DataModel):
    """How thoroughly each unit is proved after teaching."""

    positions: Literal["planned"] = Field("planned", description="where to check")
    readings: int = Field(5, ge=1, le=100, description="readings at each check position")
    settle_factor: float = Field(
        3.0, ge=1, le=20, description="wait before a reading, in response times of the sensor type"
    )
    near_blind_zone: bool = Field(True, description="also check close to the end of the blind zone")
    clear_beam: bool = Field(True, description="also check with a clear beam")


class Order(DataModel):
    """A batch of units of one sensor type, set to one setting."""

    number: OrderNumber
    customer: Line
    quantity: int = Field(ge=1, le=10000, description="how many units")
    sensor_type: Line = Field(description="name of a shipped sensor type, or a .toml file")
    serials: tuple[Serial, ...] | None = Field(
        None, min_length=1, max_length=10000, description="one for each unit"
    )
    serial_run: SerialRun | None = None
    notes: Notes = ""
    setting: Setting
    checks: CheckPlan = CheckPlan()

    def unit_serials(self) -> tuple[str, ...]:
        """Return the serial of every unit, in the order in which they are to be set."""
        counted = self.serial_run.serials(self.quantity) if self.serial_run else ()
        return self.serials or counted

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield serials that are missing, too few or many, repeated, or outgrow their digits."""
        if (self.serials is None) == (self.serial_run is None):
            yield Contradiction(
                ("serials",),
                "serials are either listed or counted up",
                given="neither serials nor serial_run"
                if self.serials is None
                else "both serials and serial_run",
                allowed="serials or serial_run",
            )
        if self.serials is not None:
            yield from self._wrong_number_of(self.serials)
            yield from _repeated(self.serials)
        if self.serial_run is not None:
            yield from self._outgrown(self.serial_run)

    def _wrong_number_of(self, serials: tuple[str, ...]) -> Iterator[Contradiction]:
        if len(serials) != self.quantity:
            yield Contradiction(
                ("serials",), "not one serial for each unit", allowed=f"{self.quantity}, as in quantity"
            )

    def _outgrown(self, run: SerialRun) -> Iterator[Contradiction]:
        last = run.first + self.quantity - 1
        if last >= 10**run.digits:
            yield Contradiction(
                ("serial_run", "digits"),
                f"the last unit has number {last}",
                allowed=f"{len(str(last))} or more",
            )


def _repeated(serials: tuple[str, ...]) -> Iterator[Contradiction]:
    # Compared without case: file systems, some bar codes and most readers take q7 for Q7.
    first: dict[str, int] = {}
    for index, serial in enumerate(serials):
        earlier = first.setdefault(serial.casefold(), index)
        if earlier != index:
            yield Contradiction(
                ("serials", index),
                f"the same serial as serials#{earlier + 1}",
                allowed="serials that differ in more than capital letters",
            )
