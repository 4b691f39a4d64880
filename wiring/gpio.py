"""How the lines of a profile are found on the board, and through which library."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from wiring.lines import GpioLine
from wiring.tomlfile import Contradiction, DataModel

_NAME = {"min_length": 1, "max_length": 64}
ChipName = Annotated[
    str, Field(**_NAME, description="label of a GPIO chip, as `teachrig rig` lists it; its number may change")
]


class LineElsewhere(DataModel):
    """A line that this board calls otherwise, or has on another chip."""

    line: GpioLine
    name: Annotated[str, Field(**_NAME)] | None = Field(None, description="what the board calls it")
    number: Annotated[int, Field(ge=0, le=1023)] | None = Field(None, description="its number on the chip")
    chip: ChipName | None = Field(None, description="label of its chip, where it is not gpio.chip")

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a line with both a name and a number, or with neither."""
        if (self.name is None) == (self.number is None):
            key = "name" if self.name is None else "number"
            yield Contradiction((key,), "a line has a name or a number", allowed="one of name, number")


class GpioProfile(DataModel):
    """Where the board has its lines; only read with `back_end = "gpio"`."""

    library: Literal["gpiod", "lgpio"] = Field(
        "gpiod",
        description="gpiod: the kernel's GPIO devices; lgpio: an older way, with the traps that the guide lists",
    )
    chip: ChipName | None = Field(
        None, description="label of the chip that has the lines (default: whichever has lines of these names)"
    )
    find: Literal["by-name", "by-number"] = Field(
        "by-name", description="GPIO17 is the line of that name, or line 17 of the chip"
    )
    elsewhere: tuple[LineElsewhere, ...] = Field(
        (), description="lines that this board calls otherwise, one [[gpio.elsewhere]] each"
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield numbers without a chip, a line told twice, and what lgpio does not know."""
        if self.find == "by-number" and self.chip is None and self.library == "gpiod":
            yield Contradiction(
                ("chip",), "numbers say nothing without their chip", allowed="the label of the chip"
            )
        yield from self._lines_told_badly()
        for key in ("chip", "elsewhere"):
            if self.library == "lgpio" and getattr(self, key):
                yield Contradiction((key,), f"lgpio has no {key}", allowed='with library = "gpiod" only')

    def _lines_told_badly(self) -> Iterator[Contradiction]:
        told = [place.line for place in self.elsewhere]
        for index, place in enumerate(self.elsewhere):
            if place.line in told[:index]:
                yield Contradiction(
                    ("elsewhere", index, "line"), "this line is told twice", allowed="each line once"
                )
            if place.number is not None and place.chip is None and self.chip is None:
                yield Contradiction(
                    ("elsewhere", index, "chip"), "a number says nothing without its chip",
                    allowed="the label of the chip, here or as gpio.chip",
                )  # fmt: skip
