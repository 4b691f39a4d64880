"""The working screen: what each key and each line that is scanned or typed does in the work on an order."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping

from textual import events, on

from rig.events import Verdict
from rig.screen.pad import ACTS, NAMES_NEXT, NumericPad
from rig.screen.view.board import Phase
from rig.screen.view.lines import Role
from rig.screen.view.wording import read_number
from rig.screen.widgets import Entry
from rig.screen.work import OrderWork
from rig.screen.work_picture import WorkPicture

# States that only run on, such as a time, are painted no more often.
_PAINT_EVERY_S = 0.25
_STATE_EVERY_S = 0.2


class WorkingScreen(WorkPicture):
    """The work on one order."""

    def __init__(self, work: OrderWork) -> None:
        super().__init__(work)
        self._painted_s = 0.0
        self._asked_s = 0.0
        self._pad = NumericPad()
        self._keyed_s = -math.inf
        self._noticed = 0

    def on_screen_resume(self) -> None:
        """Look up whether units may be taught: a self-check may have been done meanwhile."""
        self._keyed_s = time.monotonic()  # what was sent to the screen before may end in two Enters
        self.work.look_whether_barred()
        super().on_screen_resume()

    # -- commands -------------------------------------------------------------------------------------------------

    def commands(self) -> Mapping[str, str]:
        """The keys that work in this phase."""
        return {**self._own_commands(), **self._by_pad(), **self.bench.everywhere()}

    def _own_commands(self) -> dict[str, str]:
        phase = self.work.board.phase
        keys: dict[str, str] = {}
        if phase in (Phase.FIT, Phase.ASKED, Phase.TAKE_OUT):
            keys |= {} if self.work.theirs else {"enter": "done"}
        elif phase.takes_serial or phase is Phase.ASIDE or (phase is Phase.ENDED and self._has_undecided):
            keys["enter"] = "take"
        keys |= {Phase.TRIPPED: {"begin": "reset"}, Phase.FAILED: {"begin": "reopen"}}.get(phase, {})
        if phase is Phase.ASIDE or self.work.can_close:
            keys["aside"] = "aside" if phase is Phase.ASIDE else "close-lot"
        if self.work.hands is not None and self.work.hands.can_change:
            keys["hands"] = "hands"
        if self._can_move:
            keys |= {"arrows": "move", "pages": "move", "end": "beam"}
        return keys

    @property
    def _has_undecided(self) -> bool:
        """Whether a unit of an order that is done may be scanned again."""
        return self.work.board.standing.count(Verdict.UNDECIDED) > 0

    @property
    def _can_move(self) -> bool:
        """Whether the target is in the user's hands, and a unit is at hand for which it matters."""
        return self.mine is not None and self.work.running and self.work.enter_counts

    def _by_pad(self) -> dict[str, str]:
        return {"pad": "pad"} if self._pad_acts() else {}

    def _pad_acts(self) -> list[str]:
        """What a numeric pad can ask for: only where Enter alone means nothing else."""
        if self.work.enter_counts or NAMES_NEXT in self.work.board.standing.units:
            return []
        works = {**self._own_commands(), **self.bench.everywhere()}
        return [name for name in ACTS if name in works]

    def do(self, name: str) -> None:
        """Do one of them."""
        if name == "begin":
            self.work.reset()
        elif name == "aside":
            self.work.put_aside()
        elif name == "hands" and self.work.hands is not None:
            self.work.hands.change()
            self.say(self.words("say.your-hands" if self.work.hands.mine else "say.their-hands"))
        elif name == "enter":
            self.field.enter()
        elif name == "pad":
            self._enter(NAMES_NEXT, time.monotonic())
        self.work.pump()
        self._follow(at_once=True)

    def on_key(self, event: events.Key) -> None:
        """Move the target of a simulated bench that the user has in hand."""
        if self._can_move and self.mine is not None and self.mine.obey(event.key):
            event.stop()

    @on(Entry.Changed, "#scan")
    def _typed(self, message: Entry.Changed) -> None:
        self._pad.typed(message.text)
        self._keyed_s = message.at_s

    @on(Entry.Entered, "#scan")
    def _entered(self, message: Entry.Entered) -> None:
        behind_s, self._keyed_s = message.at_s - self._keyed_s, message.at_s
        # A scanner that ends in two Enters sends the second right behind: it must not say 'done' for anybody.
        if message.text or behind_s >= self.work.setup.quickest_s:
            self._enter(message.text, message.at_s)

    def _enter(self, text: str, at_s: float) -> None:
        if self._enter_by_pad(text, at_s):
            return
        placed_mm = self._place_typed(text)
        if placed_mm is not None:
            self.say(self.words("say.carried", at=self.words.mm(placed_mm)))
            return
        scan = self.work.enter(text)
        if scan is not None:
            role = Role.PLAIN if scan.serial is not None else Role.WARN
            self.say(self.words(scan.key, **scan.values), role)
        else:
            self.say("")
        self.work.pump()
        self._follow(at_once=True)

    def _enter_by_pad(self, text: str, at_s: float) -> bool:
        """What a numeric pad asks for in two steps, if this is one of them."""
        acts = self._pad_acts()
        if named := self._pad.names(text, acts, at_s):
            what = self.words(f"key.{self.commands()[named]}")
            self.say(self.words("say.by-pad", what=what, next=NAMES_NEXT), Role.WISH)
            return True
        act = self._pad.does(text, acts, at_s)
        if act:
            self.say("")
            self.bench.carry_out(act)
        return bool(act)

    def _place_typed(self, text: str) -> float | None:
        """A position that was typed while the user has to place the target; carried there."""
        asked, hands = self.work.board.request, self.mine
        if hands is None or asked is None or asked.position_mm is None:
            return None
        at_mm = read_number(text)
        if at_mm is not None:
            hands.move(to_mm=at_mm)
        return at_mm

    # -- what happens meanwhile ----------------------------------------------------------------------------------

    def tick(self) -> None:
        """Paint what has changed, and what runs on a few times a second."""
        now_s = time.monotonic()
        if now_s - self._asked_s >= _STATE_EVERY_S:
            self._asked_s = now_s
            self.work.ask_state()
        for code in self.work.take_codes():
            self._enter(code, now_s)
        if len(self.work.noticed) > self._noticed:
            self._noticed = len(self.work.noticed)
            self.say(self.words("say.noticed", words=self.words.tell(self.work.noticed[-1])), Role.PLAIN)
        self._follow()

    def _follow(self, *, at_once: bool = False) -> None:
        now_s = time.monotonic()
        said = self.work.instruction()
        if said != self.said and self.said is not None and self.work.board.phase is Phase.TAKE_OUT:
            self.flash.begin(now_s)
            self.bench.ring()
        if self.flash.follow(now_s, wished=self.bench.flashes):
            at_once = True
        if at_once or said != self.said or now_s - self._painted_s >= _PAINT_EVERY_S:
            self._painted_s = now_s
            self.paint()
