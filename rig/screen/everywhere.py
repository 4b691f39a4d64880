"""The commands that mean the same on every screen, and the screens that they lead to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from rig.screen.all_commands import AllCommands
from rig.screen.base import BenchScreen
from rig.screen.bench_screen import RigScreen
from rig.screen.help import HelpScreen
from rig.screen.orders import OrdersScreen
from rig.screen.units import UnitsScreen

if TYPE_CHECKING:
    from rig.screen.app import BenchApp

OWN_COMMAND: Mapping[type, str] = MappingProxyType(
    {
        HelpScreen: "help",
        OrdersScreen: "orders",
        UnitsScreen: "units",
        RigScreen: "rig",
        AllCommands: "all",
    }
)
"""The command that leads to where one is already."""


def _show_units(app: BenchApp) -> None:
    if app.work is not None:
        app.show(UnitsScreen(app.work))


COMMON: Mapping[str, Callable[[BenchApp, BenchScreen], object]] = MappingProxyType(
    {
        "leave": lambda app, _: app.leave(),
        "back": lambda app, _: app.go_back(),
        "help": lambda app, _: app.show(HelpScreen()),
        "orders": lambda app, _: app.show(OrdersScreen()),
        "units": lambda app, _: _show_units(app),
        "rig": lambda app, _: app.show(RigScreen()),
        "all": lambda app, screen: app.push_screen(AllCommands(screen)),
        "who": lambda app, _: app.ask_who(),
    }
)
"""What each of them does, from the screen that is seen."""
