"""Kinds of simulated units: what a unit physically is, whatever the order says it should be."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Annotated

from pydantic import Field

from wiring.shipped import shipped_files
from wiring.terms import OutputType
from wiring.tomlfile import Contradiction, DataModel, load_toml_model

Name = Annotated[
    str,
    Field(
        min_length=1,
        max_length=40,
        pattern=r"^[a-z0-9-]+$",
        description="name of a kind of unit, lower-case letters, digits and hyphens",
    ),
]
BlindZone = Annotated[float, Field(gt=0, le=5000, description="end of the blind zone, in mm")]
Range = Annotated[float, Field(gt=0, le=10000, description="end of the sensing range, in mm")]
Hysteresis = Annotated[float, Field(gt=0, le=50, description="differential travel, in % of the distance")]
Noise = Annotated[
    float,
    Field(ge=0, le=20, description="standard deviation of one reading, in % of the distance"),
]
StoreError = Annotated[
    float,
    Field(
        ge=0,
        le=20,
        description="standard deviation of what is stored about what was read while teaching, in % of it",
    ),
]
Residual = Annotated[
    float,
    Field(ge=0, le=1, description="0 to 1, part of the air's change that is not compensated; 1: none is"),
]
Response = Annotated[float, Field(gt=0, le=2, description="longest response time, in seconds")]
Current = Annotated[float, Field(gt=0, le=1, description="current without a load, in A")]


class TeachMethod(StrEnum):
    """How a unit understands its teach wire."""

    RAIL_ORDER = "rail-order"
    CONTACT_LENGTH = "contact-length"
    CONTACT_COUNT = "contact-count"


class UnitKind(DataModel):
    """The physics of one kind of unit.

    A smaller plate than `standard_target_mm` sends back less and is lost earlier. `noise_min_mm` and
    `hysteresis_min_mm` hold close to the face.
    """

    name: Name
    teach_method: TeachMethod = Field(description="how the unit understands its teach wire")
    output_type: OutputType = Field(description="how the output drives its load")
    blind_zone_mm: BlindZone
    range_mm: Range
    standard_target_mm: Annotated[
        float,
        Field(gt=0, le=500, description="side of the plate that is seen to the end of the range, in mm"),
    ]
    smallest_window_mm: Annotated[
        float, Field(gt=0, le=1000, description="least distance between near and far, in mm")
    ]
    residual: Residual
    response_s: Response
    availability_s: Annotated[
        float, Field(ge=0, le=5, description="longest wait after power-up, in seconds")
    ] = 0.3
    hysteresis_percent: Hysteresis = 1.0
    hysteresis_min_mm: Annotated[
        float, Field(gt=0, le=100, description="differential travel is never less, in mm")
    ] = 2.0
    noise_percent: Noise = 0.1
    noise_min_mm: Annotated[
        float, Field(ge=0, le=10, description="standard deviation of one reading is never less, in mm")
    ] = 0.2
    store_error_percent: StoreError = 0.0
    current_a: Current = 0.03
    teach_window_s: Annotated[
        float, Field(gt=0, le=36000, description="teaching is taken this long after power-up, in seconds")
    ] = 300.0
    teach_timeout_s: Annotated[
        float, Field(gt=0, le=3600, description="longest pause between two steps of teaching, in seconds")
    ] = 90.0

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a range that ends within the blind zone."""
        if self.range_mm <= self.blind_zone_mm:
            yield Contradiction(
                ("range_mm",),
                "the sensing range ends within the blind zone",
                allowed=f"more than blind_zone_mm = {self.blind_zone_mm:g}",
            )


def load_kind(path: Path) -> UnitKind:
    """Read a kind of unit; raises `DataFileError` that names every problem and its line."""
    return load_toml_model(path, UnitKind, what="kind of simulated unit")


@cache
def shipped_kinds() -> dict[str, UnitKind]:
    """Return the kinds that come with the program, by name."""
    kinds = map(load_kind, shipped_files("hal.simulated", "kinds").values())
    return {kind.name: kind for kind in kinds}
