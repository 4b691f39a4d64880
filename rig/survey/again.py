"""Works out once more, from the record alone, what a surveyed unit is set to."""

from __future__ import annotations

import json
from collections.abc import Iterable

from rig.events import EdgeMeasured, OrderInputs, OutputRead, Stamped, UnitRecognised
from rig.sequencer.output_type import Drive
from rig.sequencer.work import drive_of
from rig.survey.bounds import bounds_of
from rig.survey.edges import edge_of
from rig.survey.exploring import CLEAR, INSIDE
from rig.survey.recognise import Evidence, recognise, switching_of
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import Rail


def recognised_again(events: Iterable[Stamped]) -> UnitRecognised | None:
    """The setting by the recorded files, readings and edges of one survey; None where they lead to none."""
    inputs: OrderInputs | None = None
    edges: dict[str, EdgeMeasured] = {}
    read: dict[str, dict[Rail, OutputRead]] = {CLEAR: {}, INSIDE: {}}
    for stamped in events:
        match stamped.event:
            case OrderInputs() as files:
                inputs = files
            case EdgeMeasured() as measured:
                edges[measured.edge] = measured
            case OutputRead(where=where, load=load) as reading if where in read:
                read[where][load] = reading
    drives = [drive_of(one) if len(one) == len(Rail) else Drive.UNCLEAR for one in read.values()]
    switching = switching_of(*drives)
    if inputs is None or switching is None:
        return None
    sensor_type = SensorType.model_validate_json(json.dumps(inputs.sensor_type))
    bounds = bounds_of(sensor_type, RigProfile.model_validate_json(json.dumps(inputs.rig)))
    near, far = (edge_of(edges[name]) if name in edges else None for name in ("inner", "outer"))
    return recognise(Evidence(switching, near, far), bounds, sensor_type).as_event(switching)
