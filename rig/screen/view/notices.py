"""What the work on an order tells the screen beside its events."""

from __future__ import annotations

from dataclasses import dataclass, field

from hal.errors import TripCause
from rig.events import Verdict
from rig.sequencer.order_run import OrderResult


@dataclass(frozen=True, slots=True)
class SerialWanted:
    """The nest is empty, everything is off: the next unit may come."""


@dataclass(frozen=True, slots=True)
class AsideWanted:
    """A unit that is not good is out of the nest and has to be put aside."""

    serial: str
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class ResetWanted:
    """The bench has tripped; `still` if a reset was tried and this stood in the way."""

    cause: TripCause
    in_work: str | None
    still: bool


@dataclass(frozen=True, slots=True)
class CodeRead:
    """The code reader of the bench has read something."""

    text: str


@dataclass(frozen=True, slots=True)
class Noticed:
    """Something was found when the bench was opened or closed that stops nobody, but has to be known."""

    words: str


@dataclass(frozen=True, slots=True)
class WorkEnded:
    """The engine has ended its job: with a result, or with what ended it."""

    result: OrderResult | None
    failure: BaseException | None


@dataclass(frozen=True, slots=True)
class Barred:
    """Why no unit may be taught now: `key` of the catalogue with its values.

    `about` names what is in the way, in the keys of what is said of it and of how to go on.
    """

    key: str
    values: dict[str, object] = field(default_factory=dict)
    about: str = "barred"


Notice = SerialWanted | AsideWanted | ResetWanted | WorkEnded | CodeRead | Noticed
