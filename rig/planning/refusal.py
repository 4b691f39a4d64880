"""Refusals: what cannot be done, with the limit, the value given and the nearest that would pass."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that stands against an order.

    Attributes:
        what: what is wrong, in words.
        given: the value that the order or type gives.
        nearest: the nearest that would pass, or what else to do.

    """

    what: str
    given: str
    nearest: str

    def __str__(self) -> str:
        return f"{self.what} (given {self.given}); possible: {self.nearest}"


class PlanRefused(ValueError):
    """The order cannot be done with this sensor type on this rig; `refusals` says why, all at once."""

    def __init__(self, refusals: tuple[Refusal, ...]) -> None:
        super().__init__("\n".join(str(refusal) for refusal in refusals))
        self.refusals = refusals
