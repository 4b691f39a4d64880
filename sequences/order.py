"""An order: a batch of units to be set to one setting."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Annotated

from pydantic import Field

from sequences.checks import CheckPlan
from sequences.need import Need
from sequences.words import SET_POINTS, DistanceMm, Line, Notes, SetPoint, must_rise
from wiring.saying import say
from wiring.terms import DetectionMode, OutputFunction, OutputType
from wiring.tomlfile import Contradiction, DataModel

# Order numbers and serials become file names and bar codes, so they keep to what both can hold.
_CODE = r"[A-Za-z0-9][A-Za-z0-9._-]*"
_CODE_WORDS = "letters, digits, . _ and -, with a letter or digit first"

OrderNumber = Annotated[
    str,
    Field(
        max_length=30, pattern=rf"^{_CODE}$", description=say("number of the order, {code}", code=_CODE_WORDS)
    ),
]
Serial = Annotated[
    str,
    Field(
        max_length=40, pattern=rf"^{_CODE}$", description=say("serial of a unit, {code}", code=_CODE_WORDS)
    ),
]
SerialPrefix = Annotated[
    str,
    Field(
        max_length=30,
        pattern=rf"^({_CODE})?$",
        description=say("what all serials begin with, {code}", code=_CODE_WORDS),
    ),
]
ReferenceDesignation = Annotated[
    str,
    Field(
        max_length=60,
        pattern=r"^([=+#-]{1,2}[A-Z0-9]+(\.[A-Z0-9]+)*)+$",
        description="capital letters and digits behind = + - or #, such as =A1-BG3",
    ),
]
ToleranceMm = Annotated[float, Field(gt=0, le=500, description="mm between set point and operate point")]

POINT_KEYS: Mapping[SetPoint, str] = MappingProxyType(
    {SetPoint.ONLY: "at_mm", SetPoint.NEAR: "near_mm", SetPoint.FAR: "far_mm"}
)
"""The key of a setting that holds each set point."""


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
    """What every unit of an order is set to; distances at the machine, distances and tolerance in mm.

    What is left out is proposed from the order's `need`; without a need nothing may be left out.
    """

    mode: DetectionMode | None = Field(None, description="which objects the unit reports")
    output_function: OutputFunction | None = Field(None, description="output on with an object, or without")
    output_type: OutputType = Field(description="how the output drives its load")
    at_mm: DistanceMm | None = Field(None, description="the only set point, in mm from the sensing face")
    near_mm: DistanceMm | None = Field(None, description="near end of a window, in mm from the sensing face")
    far_mm: DistanceMm | None = Field(None, description="far end of a window, in mm from the sensing face")
    tolerance_mm: ToleranceMm | None = Field(
        None, description="allowed distance between set point and operate point, either side, in mm"
    )
    reference_designation: ReferenceDesignation | None = Field(
        None, description="where the unit sits at the machine"
    )

    @property
    def set_points_mm(self) -> Mapping[SetPoint, float]:
        """Distance in mm of each set point of the mode, nearest first; empty for full range, or if left out."""
        if self.mode is None:
            return {}
        points_mm = {point: getattr(self, POINT_KEYS[point]) for point in SET_POINTS[self.mode]}
        return {point: at_mm for point, at_mm in points_mm.items() if at_mm is not None}

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left out."""
        return next(self.left_out(), None) is None

    @property
    def lacks_points(self) -> bool:
        """Whether mode or set points are left out."""
        return self.mode is None or len(self.set_points_mm) < len(SET_POINTS[self.mode])

    def left_out(self) -> Iterator[Contradiction]:
        """Yield what is left to a proposal, as contradictions for an order that has no need."""
        words = {"mode": DetectionMode, "output_function": OutputFunction}
        for key, kind in words.items():
            if getattr(self, key) is None:
                allowed = ", ".join(f'"{one}"' for one in kind)
                yield Contradiction(
                    (key,), "is missing, and there is no [need] to propose it", allowed=allowed
                )
        for key in self._wanted:
            if getattr(self, key) is None:
                yield self._misfit(key, "needs")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield distances that the mode does not have, and a zone or tolerance that cannot be."""
        misfits = tuple(self._misfits())
        yield from misfits
        if misfits:
            return
        yield from must_rise(self, "near_mm", "far_mm")
        if self.tolerance_mm is not None and self.set_points_mm:
            yield from self._tolerance_too_large(self.tolerance_mm)

    @property
    def _wanted(self) -> tuple[str, ...]:
        points = () if self.mode is None else SET_POINTS[self.mode]
        return (*(POINT_KEYS[point] for point in points), "tolerance_mm") if points else ()

    def _misfits(self) -> Iterator[Contradiction]:
        if self.mode is None:
            yield from self._points_of_no_mode()
            return
        given = [key for key in (*POINT_KEYS.values(), "tolerance_mm") if getattr(self, key) is not None]
        some_point = any(key in given for key in POINT_KEYS.values())
        for key in (*POINT_KEYS.values(), "tolerance_mm"):
            if key in given and key not in self._wanted:
                yield self._misfit(key, "has no")
            elif key not in given and key in self._wanted and key != "tolerance_mm" and some_point:
                yield self._misfit(key, "needs")

    def _points_of_no_mode(self) -> Iterator[Contradiction]:
        for point, key in POINT_KEYS.items():
            if getattr(self, key) is not None:
                modes = [
                    say('mode = "{mode}"', mode=mode)
                    for mode, points in SET_POINTS.items()
                    if point in points
                ]
                yield Contradiction((key,), "a set point needs a mode", allowed=" or ".join(modes))

    def _misfit(self, key: str, needs: str) -> Contradiction:
        return Contradiction(
            (key,),
            say("mode {mode} {needs} {key}", mode=self.mode, needs=needs, key=key),
            allowed=", ".join(self._wanted) or "no distance and no tolerance",
        )

    def _tolerance_too_large(self, tolerance_mm: float) -> Iterator[Contradiction]:
        points_mm = list(self.set_points_mm.values())
        # The tolerances of two set points must not meet, nor that of the first the sensing face.
        rooms_mm = [points_mm[0], *((far - near) / 2 for near, far in pairwise(points_mm) if far > near)]
        if tolerance_mm >= min(rooms_mm):
            yield Contradiction(
                ("tolerance_mm",),
                "too large for these set points",
                allowed=say("less than {rooms_mm:g}", rooms_mm=min(rooms_mm)),
            )


class Order(DataModel):
    """A batch of units of one sensor type, set to one setting."""

    number: OrderNumber
    customer: Line = Field(description="whom the units are set for: printable, on one line")
    quantity: int = Field(ge=1, le=10000, description="how many units")
    sensor_type: Line = Field(description="name of a sensor type, or the path of its .toml file")
    serials: tuple[Serial, ...] | None = Field(
        None, min_length=1, max_length=10000, description="one for each unit"
    )
    serial_run: SerialRun | None = Field(None, description="serials that count up, instead of a list")
    notes: Notes = Field(
        "", description="what whoever does the order has to know, printable, on any number of lines"
    )
    setting: Setting = Field(description="what every unit is set to")
    need: Need | None = Field(None, description="what the units have to do at the machine")
    checks: CheckPlan = Field(CheckPlan(), description="how thoroughly each unit is proved")

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
        yield from self._nothing_to_propose_from()

    def _nothing_to_propose_from(self) -> Iterator[Contradiction]:
        setting = self.setting
        if self.need is None:
            for gap in setting.left_out():
                yield Contradiction(("setting", *gap.key_path), gap.message, allowed=gap.allowed)
        elif self.need.nearest_mm is None and setting.lacks_points:
            yield Contradiction(
                ("need", "nearest_mm"),
                "set points can only be proposed for objects whose distances are stated",
                allowed="nearest_mm and farthest_mm, or the set points in [setting]",
            )

    def _wrong_number_of(self, serials: tuple[str, ...]) -> Iterator[Contradiction]:
        if len(serials) != self.quantity:
            yield Contradiction(
                ("serials",),
                "not one serial for each unit",
                allowed=say("{quantity}, as in quantity", quantity=self.quantity),
            )

    def _outgrown(self, run: SerialRun) -> Iterator[Contradiction]:
        last = run.first + self.quantity - 1
        if last >= 10**run.digits:
            yield Contradiction(
                ("serial_run", "digits"),
                say("the last unit has number {last}", last=last),
                allowed=say("{count} or more", count=len(str(last))),
            )


def _repeated(serials: tuple[str, ...]) -> Iterator[Contradiction]:
    # Compared without case: file systems, some bar codes and most readers take q7 for Q7.
    first: dict[str, int] = {}
    for index, serial in enumerate(serials):
        earlier = first.setdefault(serial.casefold(), index)
        if earlier != index:
            yield Contradiction(
                ("serials", index),
                say("the same serial as serials#{earlier}", earlier=earlier + 1),
                allowed="serials that differ in more than capital letters",
            )
