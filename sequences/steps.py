"""The steps of a teach sequence, and what makes a list of them one sequence."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from sequences.words import SET_POINTS, SetPoint, must_rise
from wiring.terms import DetectionMode, OutputFunction, Rail
from wiring.tomlfile import Contradiction, DataModel

LONGEST_S = 60.0
"""No step of a sequence may take longer than this, in seconds."""

SignName = Annotated[str, Field(min_length=1, max_length=30, description="name of a sign in [led]")]


class OutputState(StrEnum):
    """What a unit's output does, whatever its output type."""

    ON = "on"
    OFF = "off"


class Place(DataModel):
    """Put the target at a set point."""

    do: Literal["place"] = Field(description="kind of step")
    at: SetPoint = Field(description="which set point of the order")


class Cover(DataModel):
    """Hold the target against the sensing face."""

    do: Literal["cover"] = Field(description="kind of step")


class Clear(DataModel):
    """Take every object out of the beam."""

    do: Literal["clear"] = Field(description="kind of step")


class Contact(DataModel):
    """Hold the teach wire to a rail, until the LED shows a sign or for a fixed time.

    The length as read back must lie between `shortest_s` and `longest_s`; anything else is a
    failed step, whatever the LED said.
    """

    do: Literal["contact"] = Field(description="kind of step")
    rail: Rail = Field(description="the rail that the teach wire is held to")
    until: SignName | None = Field(None, description="the sign in [led] that ends the contact")
    for_s: float | None = Field(None, gt=0, le=LONGEST_S, description="length of the contact in seconds")
    shortest_s: float = Field(gt=0, le=LONGEST_S, description="shortest good length in seconds")
    longest_s: float = Field(gt=0, le=LONGEST_S, description="longest good length in seconds")
    times: int = Field(1, ge=1, le=20, description="how many equal contacts")
    gap_s: float | None = Field(None, gt=0, le=LONGEST_S, description="open time between them in seconds")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield what is wrong with how the contact ends, its limits and its repeats."""
        yield from must_rise(self, "shortest_s", "longest_s")
        if (self.until is None) == (self.for_s is None):
            yield Contradiction(
                ("for_s",),
                "a contact ends either at a LED sign or after a fixed time",
                given="neither until nor for_s" if self.until is None else "both until and for_s",
                allowed="until or for_s",
            )
        if self.for_s is not None and not self.shortest_s <= self.for_s <= self.longest_s:
            limits = f"{self.shortest_s:g} to {self.longest_s:g}"
            yield Contradiction(("for_s",), "its own limits would call the contact bad", allowed=limits)
        if (self.times > 1) != (self.gap_s is not None):
            yield Contradiction(
                ("gap_s",),
                "several contacts need a gap and a single one has none",
                allowed="gap_s together with times of 2 or more",
            )


class Rest(DataModel):
    """Leave the teach wire open and the target where it is."""

    do: Literal["rest"] = Field(description="kind of step")
    for_s: float = Field(gt=0, le=LONGEST_S, description="length of the rest in seconds")


class PowerCycle(DataModel):
    """Take the unit's supply away and give it back; the teach window starts anew."""

    do: Literal["power-cycle"] = Field(description="kind of step")
    off_s: float = Field(gt=0, le=LONGEST_S, description="time without supply in seconds")


class Expect(DataModel):
    """Go on only if the LED shows a sign, or the output takes a state, in time."""

    do: Literal["expect"] = Field(description="kind of step")
    led: SignName | None = Field(None, description="the sign in [led] that confirms")
    output: OutputState | None = Field(None, description="the output state that confirms")
    within_s: float = Field(gt=0, le=LONGEST_S, description="how long to wait for it in seconds")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield that nothing, or more than one thing, is waited for."""
        if (self.led is None) == (self.output is None):
            yield Contradiction(
                ("led",),
                "a confirmation is either a LED sign or an output state",
                given="neither led nor output" if self.led is None else "both led and output",
                allowed="led or output",
            )


Step = Annotated[
    Place | Cover | Clear | Contact | Rest | PowerCycle | Expect,
    Field(discriminator="do"),
]


class Sequence(DataModel):
    """The ordered steps that teach one detection mode and output function.

    `output_function` is absent where the family offers no choice in this mode; its output then works as NO.
    """

    mode: DetectionMode = Field(description="the detection mode that it teaches")
    output_function: OutputFunction | None = Field(None, description="NO or NC; absent without a choice")
    steps: tuple[Step, ...] = Field(min_length=1, max_length=50, description="what to do, in order")

    @property
    def taught_function(self) -> OutputFunction:
        """The output function that the unit has after this sequence."""
        return self.output_function or OutputFunction.NO

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield steps that do not fit the mode, contacts without a target, contacts that nothing confirms."""
        yield from tuple(self._wrong_places()) or self._missing_places()
        yield from self._blind_contacts()
        yield from self._unconfirmed_contacts()

    def _wrong_places(self) -> Iterator[Contradiction]:
        wanted = SET_POINTS[self.mode]
        for index, step in enumerate(self.steps):
            if isinstance(step, Place) and step.at not in wanted:
                yield Contradiction(
                    ("steps", index, "at"),
                    f"mode {self.mode} has no such set point",
                    allowed=" or ".join(wanted) or "no place step; cover or clear instead",
                )

    def _missing_places(self) -> Iterator[Contradiction]:
        placed = {step.at for step in self.steps if isinstance(step, Place)}
        for point in SET_POINTS[self.mode]:
            if point not in placed:
                yield Contradiction(
                    ("steps",),
                    f"mode {self.mode} is taught without a target at {point}",
                    allowed=f'a step {{ do = "place", at = "{point}" }}',
                )

    def _blind_contacts(self) -> Iterator[Contradiction]:
        kinds = [type(step) for step in self.steps]
        if Contact not in kinds:
            yield Contradiction(("steps",), "nothing is taught", given="no contact", allowed="a contact step")
            return
        first = kinds.index(Contact)
        if not {Place, Cover, Clear}.intersection(kinds[:first]):
            yield Contradiction(
                ("steps", first),
                "the first contact comes before the target has a place",
                given="contact",
                allowed="place, cover or clear first",
            )

    def _unconfirmed_contacts(self) -> Iterator[Contradiction]:
        for index, step in enumerate(self.steps):
            if isinstance(step, Contact) and step.for_s is not None and not self._confirmed_after(index):
                yield Contradiction(
                    ("steps", index),
                    "nothing confirms this contact of fixed length",
                    given="no expect step after it",
                    allowed="expect as the next step, or after a rest",
                )

    def _confirmed_after(self, index: int) -> bool:
        following = next((step for step in self.steps[index + 1 :] if not isinstance(step, Rest)), None)
        return isinstance(following, Expect)
