"""The application: one function key for each command on every screen, and the pulse that all screens follow."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import ClassVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.theme import Theme

from rig.screen.base import BenchScreen
from rig.screen.looks import LOOKS, PLAIN, Look
from rig.screen.view.commands import COMMANDS
from rig.screen.view.lines import Role
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.screen.working import WorkingScreen

_PULSE_S = 0.1
# The second step of a command that energises something: not so soon that one scan or a key held down could do both.
_SOONEST_S, _LATEST_S = 0.3, 6.0


class BenchApp(App[int], inherit_bindings=False):
    """Owns the work on an order and the screens; `leave_words` go into the record if it has to end the work.

    Args:
        words: the language.
        look: colours, or none.
        bell: whether a verdict rings.

    """

    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(one.key, f"command('{one.name}')", priority=True, show=False) for one in COMMANDS.values()),
        Binding("ctrl+c", "nothing", priority=True, show=False),
        Binding("ctrl+q", "nothing", priority=True, show=False),
    ]

    def __init__(self, words: Words, look: Look, *, bell: bool = False) -> None:
        super().__init__(ansi_color=True if look is PLAIN else None)
        self.words = words
        self.look = look
        self.work: OrderWork | None = None
        self._bell = bell
        self._armed: tuple[str, float] = ("", 0.0)
        for one in LOOKS.values():
            self.register_theme(_theme(one))
        self.theme = f"bench-{look.name}"

    def on_mount(self) -> None:
        """Start the pulse."""
        self.set_interval(_PULSE_S, self._pulse)

    def open_work(self, work: OrderWork) -> None:
        """Show the working screen of an order, in place of whatever was there."""
        self.work = work
        while len(self.screen_stack) > 1:
            self.pop_screen()
        self.push_screen(WorkingScreen(work))

    def _pulse(self) -> None:
        if self.work is not None:
            self.work.pump()
        screen = self.screen
        if isinstance(screen, BenchScreen):
            screen.tick()

    def ring(self) -> None:
        """Ring the terminal's bell, if that is wished."""
        if self._bell:
            self.bell()

    # -- commands -------------------------------------------------------------------------------------------------

    def action_nothing(self) -> None:
        """Keep a key from doing what the library would let it do."""

    def action_command(self, name: str) -> None:
        """Do a command if it works now; what energises something is asked for a second time."""
        screen = self.screen
        if name == "stop":
            self._stop()
        elif isinstance(screen, BenchScreen) and name in screen.commands():
            command = COMMANDS.get(name)
            if command is None or not command.energises or self._confirmed(name, screen):
                common = _COMMON.get(name)
                if common is None:
                    screen.do(name)
                else:
                    common(self, screen)

    def _stop(self) -> None:
        self._armed = ("", 0.0)
        if self.work is not None and self.work.running:
            self.work.stop()
            self.say(self.words("say.stopped"), Role.BAD)
        else:
            self.say(self.words("say.nothing-runs"))

    def _confirmed(self, name: str, screen: BenchScreen) -> bool:
        before, at_s = self._armed
        waited_s = time.monotonic() - at_s
        if before == name and waited_s < _LATEST_S:
            if waited_s < _SOONEST_S:
                return False
            self._armed = ("", 0.0)
            self.say("")
            return True
        self._armed = (name, time.monotonic())
        words = self.words(f"key.{screen.commands()[name]}")
        self.say(self.words("say.again", key=COMMANDS[name].shown, what=words), Role.WISH)
        return False

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something on the screen that is seen."""
        screen = self.screen
        if isinstance(screen, WorkingScreen):
            screen.say(words, role)

    def leave(self) -> None:
        """Switch everything off, then end."""
        if self.work is not None:
            self.work.leave("left by the person at the screen")
        self.exit(0)


_Common = Callable[[BenchApp, BenchScreen], object]
_COMMON: dict[str, _Common] = {
    "leave": lambda app, _: app.leave(),
}


def _theme(look: Look) -> Theme:
    ground = look.ground or "ansi_default"
    ink = look.paints[Role.PLAIN].ink or "ansi_default"
    return Theme(
        f"bench-{look.name}",
        primary=look.paints[Role.WISH].ink or "ansi_default",
        background=ground,
        surface=ground,
        panel=ground,
        foreground=ink,
        dark=look.dark,
        ansi=look.ground is None,
    )
