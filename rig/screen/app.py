"""The application: one function key for each command on every screen, and the pulse that all screens follow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import Binding, BindingType

from rig.events import PersonSignedIn
from rig.screen.base import BenchScreen
from rig.screen.everywhere import OWN_COMMAND
from rig.screen.looks import DARK, LIGHT, PLAIN, Look, theme_of
from rig.screen.obeying import Obedience
from rig.screen.orders import OrdersScreen
from rig.screen.setup import Bench
from rig.screen.sign_in import SignInScreen
from rig.screen.view.commands import COMMANDS, EVERYWHERE
from rig.screen.view.lines import Role
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.screen.working import WorkingScreen

if TYPE_CHECKING:
    from rig.screen.checkup import Checkup
    from rig.screen.unit_check import UnitCheck

_PULSE_S = 0.1
_WITH_SOMETHING_BELOW = 2  # the library's own empty screen is the lowest


class BenchApp(App[int], inherit_bindings=False):
    """Owns the work on an order and the screens.

    Args:
        words: the language.
        look: colours, or none.
        bench: where orders are read, planned and done.
        bell: whether a verdict rings.
        flash: whether its large word flashes.

    Attributes:
        work: the order in hand.
        checkup: the self-check, or measurement of the check unit, that was begun last; None if none was.
        first: the order to begin with; None lets the person pick one.
        rings: whether a verdict rings.
        flashes: whether its large word flashes.
        ends_with: set from any thread to end the screen with this exit code.
        signed_in: who works at the bench; None if nobody has said so.
        asks_who: whether the first screen asks that.

    """

    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(one.key, f"command('{one.name}')", priority=True, show=False) for one in COMMANDS.values()),
        Binding("ctrl+c", "nothing", priority=True, show=False),
        Binding("ctrl+q", "nothing", priority=True, show=False),
    ]

    def __init__(
        self, words: Words, look: Look, bench: Bench, *, bell: bool = False, flash: bool = False
    ) -> None:
        super().__init__(ansi_color=True if look is PLAIN else None)
        self.words = words
        self.look = look
        self.bench = bench
        self.work: OrderWork | None = None
        self.checkup: Checkup | UnitCheck | None = None
        self.first: OrderWork | None = None
        self.ends_with: int | None = None
        self.signed_in: PersonSignedIn | None = None
        self.asks_who = False
        self.flashes = flash
        self.rings = bell
        self._obedience = Obedience(self)
        for one in (DARK, LIGHT):
            self.register_theme(theme_of(one))
        self.theme = "ansi-dark" if look is PLAIN else f"bench-{look.name}"

    def on_mount(self) -> None:
        """Show the first screen and start the pulse."""
        if self.first is not None:
            self.open_work(self.first)
        else:
            self.show(OrdersScreen())
        if self.asks_who:
            self.push_screen(SignInScreen())
        self.set_interval(_PULSE_S, self._pulse)

    # -- screens --------------------------------------------------------------------------------------------------

    def open_work(self, work: OrderWork) -> None:
        """Show the working screen of an order, in place of whatever was there; not while a unit is in work."""
        if self.work is not None and self.work.running:
            if self.work.board.phase.unit_in_work:
                self.say(self.words("say.unit-in-work"), Role.WARN)
                return
            self.work.leave("another order was taken")
        work.sign_in(self.signed_in)
        self.work = work
        self._only(_screen_of(work))

    def show(self, screen: BenchScreen) -> None:
        """Show a screen above the working screen; Esc leads back."""
        while len(self.screen_stack) > (1 if self.work is None else 2):
            self.pop_screen()
        self.push_screen(screen)

    @property
    def may_check_rig(self) -> bool:
        """Whether a self-check may be begun: not while a unit is in the nest, or the bench has tripped."""
        return not self._is_checking and (self.work is None or self.work.may_close)

    @property
    def _is_checking(self) -> bool:
        return self.checkup is not None and self.checkup.running

    @property
    def person(self) -> str:
        """The name of who has signed in; empty for nobody."""
        return "" if self.signed_in is None else self.signed_in.person

    def sign_in(self, person: str) -> None:
        """Take note of who works from the next unit on; forgotten when the screen ends."""
        self.signed_in = PersonSignedIn(person, "bench screen")
        if self.work is not None:
            self.work.sign_in(self.signed_in)

    def ask_who(self) -> None:
        """Ask who works here, unless a unit or a self-check is in work."""
        if self._is_checking:
            self.say(self.words("selfcheck.under-way"), Role.WARN)
        elif self._has_unit_in_work:
            self.say(self.words("say.unit-in-work"), Role.WARN)
        else:
            self.push_screen(SignInScreen())

    def go_back(self) -> None:
        """Leave the screen that is seen for the one below, if there is one of ours."""
        if len(self.screen_stack) > _WITH_SOMETHING_BELOW:
            self.pop_screen()

    def everywhere(self) -> Mapping[str, str]:
        """The commands that work on every screen."""
        missing = {OWN_COMMAND.get(type(self.screen))}
        if len(self.screen_stack) <= _WITH_SOMETHING_BELOW:
            missing.add("back")
        if self.work is None:
            missing.add("units")
        if self.is_at_work:
            missing.add("who")
        return {name: name for name in EVERYWHERE if name not in missing}

    def _only(self, screen: BenchScreen) -> None:
        while len(self.screen_stack) > 1:
            self.pop_screen()
        self.push_screen(screen)

    def _pulse(self) -> None:
        if self.ends_with is not None:
            self.exit(self.ends_with)
            return
        if self.work is not None:
            self.work.pump()
        screen = self.screen_stack[-1] if self.screen_stack else None  # none while the application ends
        if isinstance(screen, BenchScreen) and screen.can_paint:
            screen.tick()
        if self.work is not None:
            self.work.take_codes()  # read while something else is on the screen: obeyed later, they would surprise

    def ring(self) -> None:
        """Ring the terminal's bell, if that is wished."""
        if self.rings:
            self.bell()

    # -- commands -------------------------------------------------------------------------------------------------

    def action_nothing(self) -> None:
        """Keep a key from doing what the library would let it do."""

    def action_command(self, name: str) -> None:
        """Do a command if it works now; what energises something is asked for a second time."""
        self._obedience.command(name)

    def carry_out(self, name: str) -> None:
        """Do a command of the screen that is seen, to which nothing is to be asked any more."""
        self._obedience.carry_out(name)

    @property
    def _has_unit_in_work(self) -> bool:
        return self.work is not None and self.work.running and self.work.board.phase.unit_in_work

    @property
    def is_at_work(self) -> bool:
        """Whether a unit or the rig itself is in work, so that leaving is asked for twice."""
        return self._has_unit_in_work or self._is_checking

    def say(self, words: str, role: Role = Role.DIM) -> None:
        """Say something on the screen that is seen."""
        screen = self.screen
        if isinstance(screen, BenchScreen):
            screen.say(words, role)

    def leave(self) -> None:
        """Switch everything off, then end."""
        self.end_work("left by the person at the screen")
        self.exit(0)

    def end_work(self, words: str) -> None:
        """Switch everything off and see the record whole; safe to call twice, from any thread."""
        if self.checkup is not None:
            self.checkup.leave(words)
        if self.work is not None:
            self.work.leave(words)

    def stop_work(self) -> bool:
        """Release the relays now; tells whether anything was at work."""
        if self.checkup is not None and self.checkup.running:
            self.checkup.stop("the stop key was pressed")
        elif self.work is not None and self.work.running:
            self.work.stop()
        else:
            return False
        return True

    def stop_for_good(self, words: str) -> None:
        """Release the relays now, from whatever thread this is called in, and let all work end."""
        if self.checkup is not None:
            self.checkup.stop(words)
        if self.work is not None:
            self.work.stop_for_good(words)


def _screen_of(work: OrderWork) -> WorkingScreen:
    if work.is_study:
        # What they are made of loads much.
        from rig.screen.study import StudyScreen
        from rig.screen.study_work import StudyWork

        assert isinstance(work, StudyWork), "it says so"
        return StudyScreen(work)
    return WorkingScreen(work)
