"""The questions of a need: where the objects are at the machine, what they are, and in what air."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rig.forms.form import Form
from sequences.need import SIZES, ObjectShape
from sequences.order import Order
from sequences.sensor_type import SensorType


def within_range(sensor_type: SensorType) -> Callable[[float], Sequence[str]]:
    """Return a check that a distance lies beyond the blind zone and within the range of the type."""
    blind_mm, range_mm = sensor_type.sensing.blind_zone_mm, sensor_type.sensing.range_mm

    def check(at_mm: float) -> Sequence[str]:
        if blind_mm < at_mm <= range_mm:
            return ()
        where = "in the blind zone" if at_mm <= blind_mm else "beyond the range"
        return (f"{where} of {sensor_type.name}; allowed: above {blind_mm:g} to {range_mm:g}",)

    return check


def ask_need(form: Form[Order], sensor_type: SensorType) -> None:
    """Ask for what mode, set points and tolerance are proposed from."""
    form.heading("need")
    for key in ("nearest_mm", "farthest_mm"):
        form.ask("need", key, default=None, check=within_range(sensor_type))
    for key in ("background_mm", "foreground_mm"):
        form.ask("need", key, optional=True)
    form.ask("need", "broken_wire_reads", optional=True)
    _ask_object(form)
    ask_air(form, sensor_type)


def ask_air(form: Form[Order], sensor_type: SensorType) -> None:
    """Ask for the air at the machine; a type that is not compensated cannot be set without."""
    compensated = sensor_type.sensing.temperature_compensated
    warmest_c = form.ask("need", "air", "warmest_c", default=None, optional=compensated)
    if warmest_c is None:
        form.put(("need", "air"), None)
    else:
        form.ask("need", "air", "coldest_c", default=None)


def _ask_object(form: Form[Order]) -> None:
    shape = form.ask("need", "object", "shape", optional=True)
    if shape is None:
        form.put(("need", "object"), None)
        return
    for key in SIZES[ObjectShape(shape)]:
        form.ask("need", "object", key, default=None)
    form.ask("need", "object", "surface", default="hard")
    if shape != ObjectShape.BULK:
        form.ask("need", "object", "tilt_deg", optional=True)
