"""A sensor type: what a family of units is, and how it is taught."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from enum import StrEnum
from itertools import combinations
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, PlainSerializer

from sequences.datasheet import Body, ContactLimits, Derating, Output, Sensing, Supply, Timing
from sequences.steps import LONGEST_S, Contact, Rest, Sequence, Step
from sequences.words import Line, Notes, TypeName
from wiring.terms import DetectionMode, LedKind, OutputFunction
from wiring.tomlfile import Contradiction, DataModel

REFUSED = "refused"
"""The LED sign, if the type has it, by which a unit says no."""

_SIGN_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")

# A pick-up sees only a few periods: two flashing rates closer than this ratio are one sign to it.
_TELL_APART = 1.4

_StepPath = tuple[str | int, ...]


class LedSign(DataModel):
    """What the unit's LED does to say something."""

    kind: Literal[LedKind.DARK, LedKind.STEADY, LedKind.FLASHING, LedKind.BLINKS] = Field(
        description="what the LED does"
    )
    rate_hz: float | None = Field(None, ge=0.2, le=20, description="flashes per second")
    count: int | None = Field(None, ge=1, le=20, description="how many blinks")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a figure that is missing, or that belongs to another kind of sign."""
        for key, owner in (("rate_hz", LedKind.FLASHING), ("count", LedKind.BLINKS)):
            if (getattr(self, key) is not None) != (self.kind is owner):
                yield Contradiction(
                    (key,),
                    f"a sign of kind {self.kind} {'needs' if self.kind is owner else 'has no'} {key}",
                    allowed=f'{key} with kind = "{owner}" and only there',
                )

    @property
    def words(self) -> str:
        """The sign as a person would say it: `steady`, `flashing at 2 Hz`, `3 blinks`."""
        if self.rate_hz is not None:
            return f"flashing at {self.rate_hz:g} Hz"
        if self.count is not None:
            return "1 blink" if self.count == 1 else f"{self.count} blinks"
        return self.kind

    def looks_like(self, other: LedSign) -> bool:
        """Whether a LED pick-up could take one for the other."""
        if self.kind is not other.kind:
            return False
        if self.rate_hz is None or other.rate_hz is None:
            return self.count == other.count
        return max(self.rate_hz, other.rate_hz) < _TELL_APART * min(self.rate_hz, other.rate_hz)


_Signs = Annotated[
    Mapping[str, LedSign],
    AfterValidator(MappingProxyType),
    PlainSerializer(dict, return_type=dict[str, LedSign]),
]


class FactorySetting(DataModel):
    """How a unit comes out of its box."""

    mode: DetectionMode = Field(description="detection mode of a new unit")
    output_function: OutputFunction = Field(description="output function of a new unit")


class TeachMethod(StrEnum):
    """How a family codes its teaching."""

    RAIL_ORDER = "rail-order"
    CONTACT_LENGTH = "contact-length"
    CONTACT_COUNT = "contact-count"


class SensorType(DataModel):
    """One family of units, whole: its limits, its signs and its teach sequences."""

    name: TypeName
    title: Line = Field(description="what a person calls the family, printable, on one line")
    notes: Notes = Field(
        "", description="what whoever teaches such a unit has to know, printable, on any number of lines"
    )
    teach_method: TeachMethod = Field(description="how the family codes its teaching")
    retry_after_refusal: bool = Field(description="whether a refused sequence may be tried once more")
    led_shows_output: bool = Field(
        description="whether the LED is lit while the output is on, but for teaching"
    )
    body: Body = Field(description="the unit as it lies in the hand")
    sensing: Sensing = Field(description="what the unit measures, and how well")
    derating: Derating = Field(description="what is left of the range on weak echoes")
    supply: Supply = Field(description="what the unit wants between L+ and L-")
    output: Output = Field(description="what the unit can switch")
    timing: Timing = Field(description="the unit's own times")
    contact: ContactLimits = Field(description="what contacts of the teach wire the unit takes")
    led: _Signs = Field(min_length=1, max_length=20, description="the LED's signs, each under its name")
    factory: FactorySetting = Field(description="how a unit comes out of its box")
    sequence: tuple[Sequence, ...] = Field(min_length=1, max_length=12, description="the teach sequences")

    @property
    def offered(self) -> tuple[tuple[DetectionMode, OutputFunction], ...]:
        """Every mode with its output function that units of this type can be taught, in file order."""
        return tuple((sequence.mode, sequence.taught_function) for sequence in self.sequence)

    def sequence_for(self, mode: DetectionMode, output_function: OutputFunction) -> Sequence | None:
        """Return the sequence that teaches `mode` with `output_function`; None if the type cannot do it."""
        wanted = (mode, output_function)
        return next((one for one in self.sequence if (one.mode, one.taught_function) == wanted), None)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield signs and sequences that do not fit one another or the type's limits."""
        yield from self._bad_sign_names()
        yield from self._signs_alike()
        yield from self._taught_twice()
        yield from self._unknown_signs()
        yield from self._contacts_beyond_limits()
        yield from self._contacts_against_method()
        yield from self._pauses_too_long()

    def _bad_sign_names(self) -> Iterator[Contradiction]:
        for name in self.led:
            if len(name) > 30 or not _SIGN_NAME.fullmatch(name):
                yield Contradiction(
                    ("led", name),
                    "is no name for a sign",
                    given=f'"{name}"',
                    allowed="up to 30 lower-case letters, digits and single hyphens",
                )

    def _signs_alike(self) -> Iterator[Contradiction]:
        for (name, sign), (later_name, later) in combinations(self.led.items(), 2):
            if sign.looks_like(later):
                yield Contradiction(
                    ("led", later_name),
                    f"a LED pick-up cannot tell this sign from {name}",
                    given=later.words,
                    allowed=f"one name for one sign, and flashing rates a factor of {_TELL_APART:g} apart",
                )

    def _taught_twice(self) -> Iterator[Contradiction]:
        first: dict[tuple[DetectionMode, OutputFunction | None], int] = {}
        for index, one in enumerate(self.sequence):
            earlier = first.setdefault((one.mode, one.output_function), index)
            if earlier != index:
                yield Contradiction(
                    ("sequence", index),
                    f"teaches the same as sequence#{earlier + 1}",
                    given=f"{one.mode} {one.output_function or ''}".rstrip(),
                    allowed="each mode and output function once",
                )
            elif one.output_function is not None and any(
                other.mode is one.mode and other.output_function is None for other in self.sequence
            ):
                yield Contradiction(
                    ("sequence", index, "output_function"),
                    f"another sequence says that mode {one.mode} has no choice of output function",
                    allowed="output_function in every sequence of a mode, or one sequence without it",
                )

    def _unknown_signs(self) -> Iterator[Contradiction]:
        known = [name for name in self.led if name != REFUSED]
        for path, step in self._steps():
            key = "until" if isinstance(step, Contact) else "led"
            name = getattr(step, key, None)
            if name is not None and name not in known:
                yield Contradiction(
                    (*path, key),
                    "a refusal cannot confirm a step"
                    if name == REFUSED
                    else "there is no such sign in [led]",
                    allowed=", ".join(known),
                )

    def _contacts_beyond_limits(self) -> Iterator[Contradiction]:
        limits = self.contact
        for path, contact in self._contacts():
            for key in ("shortest_s", "longest_s"):
                if not limits.shortest_s <= getattr(contact, key) <= limits.longest_s:
                    yield Contradiction(
                        (*path, key),
                        "the contact goes beyond what this type takes",
                        allowed=f"{limits.shortest_s:g} to {limits.longest_s:g}, as in [contact]",
                    )

    def _contacts_against_method(self) -> Iterator[Contradiction]:
        counted = self.teach_method is TeachMethod.CONTACT_COUNT
        if (self.contact.longest_gap_s is not None) != counted:
            yield Contradiction(
                ("contact", "longest_gap_s"),
                f"teach method {self.teach_method} {'needs' if counted else 'has no'} longest_gap_s",
                allowed=f'longest_gap_s with teach_method = "{TeachMethod.CONTACT_COUNT}" and only there',
            )
        for path, contact in self._contacts():
            if counted and contact.for_s is None:
                yield Contradiction((*path, "until"), "counted contacts have a fixed length", allowed="for_s")
            if not counted and contact.times > 1:
                message = f"teach method {self.teach_method} does not count contacts"
                yield Contradiction((*path, "times"), message, allowed="1")

    def _pauses_too_long(self) -> Iterator[Contradiction]:
        timeout_s = self.timing.teach_timeout_s
        longest_gap_s = self.contact.longest_gap_s or LONGEST_S
        for path, step in self._steps():
            if isinstance(step, Rest) and step.for_s >= timeout_s:
                yield Contradiction(
                    (*path, "for_s"),
                    "the unit gives up during this rest",
                    allowed=f"less than timing.teach_timeout_s = {timeout_s:g}",
                )
            if isinstance(step, Contact) and (step.gap_s or 0) > longest_gap_s:
                yield Contradiction(
                    (*path, "gap_s"),
                    "the unit stops counting during this gap",
                    allowed=f"up to contact.longest_gap_s = {longest_gap_s:g}",
                )

    def _steps(self) -> Iterator[tuple[_StepPath, Step]]:
        for number, sequence in enumerate(self.sequence):
            for index, step in enumerate(sequence.steps):
                yield ("sequence", number, "steps", index), step

    def _contacts(self) -> Iterator[tuple[_StepPath, Contact]]:
        return ((path, step) for path, step in self._steps() if isinstance(step, Contact))
