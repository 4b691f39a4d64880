"""One nest: its relays and inputs, and the two ways in which a teach wire may reach the rails."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from wiring.lines import InputLine, RelayLine
from wiring.tomlfile import Contradiction, DataModel


class Topology(StrEnum):
    """How the teach wire reaches the rails."""

    SELECTOR = "selector"
    TWO_RELAY = "two-relay"


# Two isolated inputs of one kind are late by the same time, but for this (common practice, no source).
_INPUTS_ALIKE_S = 0.0005

TEACH_RELAYS = {
    Topology.SELECTOR: ("rail_selector", "teach_contact"),
    Topology.TWO_RELAY: ("plus_contact", "minus_contact"),
}
"""The keys of the relays that make the contacts, by topology."""


class NestProfile(DataModel):
    """The lines of one nest; `None` for what is not fitted."""

    name: Annotated[
        str,
        Field(
            min_length=1,
            max_length=12,
            pattern=r"^[A-Za-z0-9-]+$",
            description="name of the nest, letters, digits and hyphens",
        ),
    ]
    topology: Topology = Field(description="which relays stand between the rails and the teach wire")
    supply: RelayLine = Field(description="relay that gives the unit its L+")
    rail_selector: RelayLine | None = Field(
        None, description="change-over relay between the rails: released L-, operated L+ (selector)"
    )
    teach_contact: RelayLine | None = Field(
        None, description="relay from the rail selector to the teach wire (selector)"
    )
    plus_contact: RelayLine | None = Field(None, description="relay from L+ to the teach wire (two-relay)")
    minus_contact: RelayLine | None = Field(None, description="relay from L- to the teach wire (two-relay)")
    load: RelayLine = Field(description="relay that pulls the output: released to L-, operated to L+")
    teach_at_plus: InputLine = Field(description="input that is on while the teach wire is at L+")
    teach_at_minus: InputLine = Field(description="input that is on while the teach wire is at L-")
    output_at_plus: InputLine = Field(description="input that is on while the unit's output is at L+")
    output_at_minus: InputLine = Field(description="input that is on while the unit's output is at L-")
    led: InputLine | None = Field(None, description="input of the LED pick-up, if fitted")
    supply_sense: InputLine | None = Field(
        None, description="input that is on while the unit has its L+, if fitted"
    )
    series_resistor_ohm: Annotated[
        float, Field(ge=470, le=4700, description="resistor in the teach wire, in ohms")
    ] = 1000.0
    load_resistor_ohm: Annotated[
        float, Field(ge=1000, le=22000, description="resistor that pulls the output, in ohms")
    ] = 4700.0

    @property
    def teach_relays(self) -> tuple[RelayLine, ...]:
        """The relays between the rails and the teach wire, in the order of the topology."""
        relays = (getattr(self, key) for key in TEACH_RELAYS[self.topology])
        return tuple(relay for relay in relays if relay is not None)

    @property
    def supply_doubt_s(self) -> float:
        """How far the moment at which a unit gets its supply may be from the one that is told, in seconds."""
        return _INPUTS_ALIKE_S if self.supply_sense is not None else self.supply.settle_s / 2

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield relays that the topology lacks or has no place for, and a selector that falls too early."""
        yield from self._relays_that_do_not_fit()
        yield from self._selector_that_falls_first()

    def _relays_that_do_not_fit(self) -> Iterator[Contradiction]:
        wanted = TEACH_RELAYS[self.topology]
        for key in (key for relays in TEACH_RELAYS.values() for key in relays):
            if (getattr(self, key) is not None) != (key in wanted):
                yield Contradiction(
                    (key,),
                    f"topology {self.topology} {'needs' if key in wanted else 'has no'} {key}",
                    allowed=" and ".join(wanted),
                )

    def _selector_that_falls_first(self) -> Iterator[Contradiction]:
        # Off must need no software, so when everything drops at once only the relays' own
        # times can keep the selector from moving under a contact that is still closed.
        selector, contact = self.rail_selector, self.teach_contact
        if selector and contact and selector.release_s <= contact.released_s:
            yield Contradiction(
                ("rail_selector", "release_s"),
                "at power-off the selector would move before the teach contact is open",
                given=f"{selector.release_s:g}",
                allowed=f"more than release_s + bounce_s of teach_contact = {contact.released_s:g} "
                "(a plain diode across the selector coil slows it)",
            )
