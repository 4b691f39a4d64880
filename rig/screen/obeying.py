"""What is done with a command, whether a key gave it, the mouse, the list of all commands or a numeric pad."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from rig.screen.base import BenchScreen
from rig.screen.everywhere import COMMON
from rig.screen.two_steps import Pressed, TwoSteps
from rig.screen.view.commands import COMMANDS, PRESS, ROW
from rig.screen.view.lines import Role

if TYPE_CHECKING:
    from rig.screen.app import BenchApp


class Obedience:
    """Does each command if it works now; what energises something is asked for a second time."""

    def __init__(self, app: BenchApp) -> None:
        self._app = app
        self._steps = TwoSteps()

    def command(self, name: str) -> None:
        """Do it, or say what a second press would do."""
        app, screen = self._app, self._app.screen
        if name == "stop":
            self._stop()
        elif name.startswith(PRESS):
            app.simulate_key(name.removeprefix(PRESS))
        elif name == "who":
            app.ask_who()  # says why not, where it cannot be
        elif name.startswith(ROW) and isinstance(screen, BenchScreen):
            screen.pick(name.removeprefix(ROW))
        elif (
            isinstance(screen, BenchScreen) and name in screen.commands() and self._is_confirmed(name, screen)
        ):
            self.carry_out(name)

    def carry_out(self, name: str) -> None:
        """Do a command of the screen that is seen, to which nothing is to be asked any more."""
        app, screen = self._app, self._app.screen
        common = COMMON.get(name)
        if common is not None and isinstance(screen, BenchScreen):
            common(app, screen)
        elif isinstance(screen, BenchScreen):
            screen.do(name)

    def _stop(self) -> None:
        app = self._app
        self._steps.forget()
        if app.stop_work():
            app.say(app.words("say.stopped"), Role.BAD)
        else:
            app.say(app.words("say.nothing-runs"))

    def _is_confirmed(self, name: str, screen: BenchScreen) -> bool:
        app, command = self._app, COMMANDS.get(name)
        if command is None or not (command.energises or (name == "leave" and app.is_at_work)):
            return True
        pressed = self._steps.press(name, time.monotonic())
        if pressed is Pressed.FIRST:
            words = app.words(f"key.{screen.commands()[name]}")
            app.say(app.words("say.again", key=command.shown, what=words), Role.WISH)
        elif pressed is Pressed.SECOND:
            app.say("")
        return pressed is Pressed.SECOND
