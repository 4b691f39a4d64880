"""The questions of a need: where the objects are at the machine, what they are, and in what air."""

from __future__ import annotations

from rig.forms.form import Form
from sequences.need import SIZES, ObjectShape
from sequences.order import Order


def ask_need(form: Form[Order], *, compensated: bool) -> None:
    """Ask for what mode, set points and tolerance are proposed from."""
    form.heading("need")
    for key in ("nearest_mm", "farthest_mm"):
        form.ask("need", key, default=None)
    for key in ("background_mm", "foreground_mm"):
        form.ask("need", key, optional=True)
    form.ask("need", "broken_wire_reads", optional=True)
    _ask_object(form)
    ask_air(form, compensated=compensated)


def ask_air(form: Form[Order], *, compensated: bool) -> None:
    """Ask for the air at the machine; a type that is not compensated cannot be set without."""
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
