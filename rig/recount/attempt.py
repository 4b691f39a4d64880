"""One attempt at one unit, as the record holds it: from the nest to the verdict, with the order that it was for."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from pydantic import ValidationError

from rig.events import OrderInputs, OrderStarted, Purpose, Stamped, UnitJudged, UnitStarted
from rig.planning.compile import make_plan
from rig.planning.planned import Planned, planned
from rig.planning.refusal import PlanRefused
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.tomlfile import DataModel

_M = TypeVar("_M", bound=DataModel)


class NotRebuilt(ValueError):
    """The record does not hold what a plan can be made from once more; says what is missing or wrong."""


@dataclass(frozen=True)
class Attempt:
    """A unit that was put into the nest once.

    Attributes:
        run: name of the run of the program.
        started: what began with the order; None where the record has lost it.
        inputs: what the plan was made from; None where the record has lost it.
        events: from the unit's begin in the nest on, in order.

    """

    run: str
    started: OrderStarted | None
    inputs: OrderInputs | None
    events: tuple[Stamped, ...]

    @property
    def begin(self) -> Stamped:
        """Its first event."""
        return self.events[0]

    @property
    def is_survey(self) -> bool:
        """Whether it was found out what the unit was set to, and nothing else."""
        return self.started is not None and self.started.purpose is Purpose.SURVEY

    @property
    def is_received(self) -> bool:
        """Whether it was tested as a unit of a lot that was delivered."""
        return self.started is not None and self.started.purpose is Purpose.RECEIVE

    @property
    def nest(self) -> str:
        """The nest that the unit was put into; raises NotRebuilt."""
        if isinstance(self.begin.event, UnitStarted):
            return self.begin.event.nest
        raise NotRebuilt("the record does not begin with the unit in its nest")

    @property
    def judged(self) -> UnitJudged | None:
        """The verdict that was recorded; None if the unit never got one."""
        return next((one.event for one in self.events if isinstance(one.event, UnitJudged)), None)

    @property
    def account(self) -> tuple[Stamped, ...]:
        """All up to the verdict, and that too."""
        ends = (index for index, one in enumerate(self.events, 1) if isinstance(one.event, UnitJudged))
        return self.events[: next(ends, len(self.events))]

    @property
    def evidence(self) -> tuple[Stamped, ...]:
        """All that the verdict rests on."""
        return tuple(one for one in self.account if not isinstance(one.event, UnitJudged))

    @cached_property
    def planned(self) -> Planned:
        """The plan, made once more from the recorded files; raises NotRebuilt."""
        if self.started is None or self.inputs is None:
            raise NotRebuilt("the record does not hold the order, the sensor type and the rig that were used")
        if self.is_received:
            raise NotRebuilt("it was tested as a unit of a lot, by a receiving plan and not for an order")
        order = rebuilt("order", Order, self.inputs.order)
        sensor_type = rebuilt("sensor type", SensorType, self.inputs.sensor_type)
        rig = rebuilt("rig profile", RigProfile, self.inputs.rig)
        if (order.number, sensor_type.name, rig.name) != (
            self.begin.order,
            self.started.sensor_type,
            self.started.rig,
        ):
            raise NotRebuilt("order, sensor type and rig of the record are not those that it was begun with")
        try:
            plan = make_plan(order, sensor_type, rig)
        except PlanRefused as refused:
            raise NotRebuilt(f"this program refuses the recorded order: {refused}") from None
        return planned(order, sensor_type, rig, plan)


def rebuilt(what: str, model: type[_M], data: dict[str, object]) -> _M:
    """A recorded file; raises NotRebuilt."""
    try:
        return model.model_validate_json(json.dumps(data))
    except ValidationError as problems:
        where = "; ".join(
            f"{'.'.join(map(str, one['loc'])) or what}: {one['msg']}" for one in problems.errors()
        )
        raise NotRebuilt(f"the recorded {what} cannot be used: {where}") from None
