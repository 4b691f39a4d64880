"""Commands that are too rare for a key; they stand in the list of all commands, F6."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from rig.screen.checks_begun import show_check_unit
from rig.screen.looks import DARK, LIGHT, PLAIN
from rig.screen.widgets import LinesView

if TYPE_CHECKING:
    from rig.screen.app import BenchApp


def _change_light(app: BenchApp) -> None:
    if app.look is PLAIN:
        return
    app.look = LIGHT if app.look is DARK else DARK
    app.theme = f"bench-{app.look.name}"
    app.refresh_css(animate=False)
    for view in app.query(LinesView):
        view.refresh()


def _change_bell(app: BenchApp) -> None:
    app.rings = not app.rings
    app.say(app.words("say.bell-on" if app.rings else "say.bell-off"))


def _change_flash(app: BenchApp) -> None:
    app.flashes = not app.flashes
    app.say(app.words("say.flash-on" if app.flashes else "say.flash-off"))


EXTRAS: Mapping[str, Callable[[BenchApp], object]] = MappingProxyType(
    {
        "control": show_check_unit,
        "light": _change_light,
        "bell": _change_bell,
        "flash": _change_flash,
    }
)
"""`command.NAME` of the catalogue names it in the list, `about.NAME` explains it beside."""
