"""The rig: its profile, its lines live, why it has tripped and the way to reset and to check it."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import suppress

from textual.containers import Horizontal
from textual.widget import Widget

from hal.bench import BenchState
from rig.journal import JournalError
from rig.screen.base import BenchScreen
from rig.screen.checks_begun import begin_self_check
from rig.screen.view import panels
from rig.screen.view.board import Phase
from rig.screen.view.checks import MARKS, ROLES
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import LinesView
from rig.selfcheck.gate import LastCheck
from rig.selfcheck.history import last_check
from wiring.profile import RigProfile

_STATE_EVERY_S = 0.25
_MOST_FOUND, _MOST_ROWS = 3, 4


class RigScreen(BenchScreen):
    """Shows; whatever it energises takes two steps of F2."""

    DEFAULT_CSS = """
    RigScreen #both { height: 1fr; }
    RigScreen #profile { height: 100%; width: 1fr; }
    RigScreen #live { height: 100%; width: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._asked_s = 0.0
        self._last: LastCheck | None = None

    def on_screen_resume(self) -> None:
        """Look up the last self-check: there may be a newer one."""
        setup = None if self.bench.work is None else self.bench.work.setup
        journal = self.bench.bench.journal if setup is None else setup.journal
        name = self.bench.bench.profile.name if setup is None else setup.profile.name
        with suppress(JournalError):
            self._last = None if journal is None else last_check(journal, name)
        super().on_screen_resume()

    def body(self) -> Iterator[Widget]:
        """Profile and live lines side by side."""
        yield Horizontal(LinesView(id="profile"), LinesView(id="live"), id="both")
        yield LinesView(id="note")

    def heading(self) -> Line:
        """The rig."""
        profile = self.bench.bench.profile if self.bench.work is None else self.bench.work.setup.profile
        return line(
            Span(f" {self.words('rig.title', name=profile.name)}", Role.STRONG), f"   {profile.title}"
        )

    def commands(self) -> Mapping[str, str]:
        """Self-check, reset after a trip, on a simulated bench the stop button, and the other screens."""
        keys: dict[str, str] = {"begin": "selfcheck"} if self.bench.may_check_rig else {}
        work = self.bench.work
        if work is not None:
            phase = work.board.phase
            if phase is Phase.TRIPPED:
                keys["begin"] = "reset"
            if work.running and work.hands is not None:
                keys["hands"] = "button"
        return {**keys, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Check the rig, reset, or press the simulated stop button."""
        work = self.bench.work
        if name == "begin" and self.bench.may_check_rig:
            begin_self_check(self.bench)
        elif work is not None and name == "begin":
            work.reset()
        elif work is not None and work.hands is not None and name == "hands":
            work.hands.press_button()
        self.paint()

    def tick(self) -> None:
        """Follow the lines."""
        now_s = time.monotonic()
        if now_s - self._asked_s >= _STATE_EVERY_S:
            self._asked_s = now_s
            if self.bench.work is not None:
                self.bench.work.ask_state()
            self.paint()

    def paint(self) -> None:
        """Paint both halves."""
        super().paint()
        if not self.can_paint:
            return
        work, half = self.bench.work, self.size.width // 2
        profile = self.bench.bench.profile if work is None else work.setup.profile
        self.query_one("#profile", LinesView).show(list(self._profile(profile, half)))
        state = None if work is None else work.state
        self.query_one("#live", LinesView).show(list(self._live(state, half)))

    def _profile(self, profile: RigProfile, width: int) -> Iterator[Line]:
        words, target, supply, coil = self.words, profile.target, profile.supply, profile.coil_supply
        nest = profile.nest[0]
        near, far = words.short(target.nearest_mm), words.short(target.farthest_mm)
        facts = (
            ("back-end", words(f"rig.{profile.back_end}")),
            ("target", f"{words(f'rig.target-{target.kind}')}, {near} {words('rig.to')} {far} mm"),
            ("placing", f"+/- {words.short(target.placement_mm)} mm"),
            ("supply", f"{words.short(supply.voltage_v)} V, {words.short(supply.current_limit_a * 1000)} mA"),
            ("heartbeat", f"{coil.heartbeat.line}, {words.short(coil.dropout_s * 1000)} ms"),
            ("stop-button", coil.stop_button.line),
            ("nests", ", ".join(one.name for one in profile.nest)),
            ("topology", words(f"rig.{nest.topology}")),
            ("resistor", f"{words.short(nest.series_resistor_ohm)} ohm"),
            (
                "air",
                f"{words.short(profile.air.temperature_c)} °C, {words.short(profile.air.humidity_percent)} %",
            ),
        )
        named = [(words(f"rig.{key}"), value) for key, value in facts]
        column = max(len(name) for name, _ in named) + 2
        for name, value in named:
            for index, text in enumerate(wrapped(value, width - column - 3, 2)):
                yield line(Span(f" {name if not index else '':<{column}}", Role.DIM), text)

    def _live(self, state: BenchState | None, width: int) -> Iterator[Line]:
        words, work = self.words, self.bench.work
        if work is not None and work.noticed:
            yield line(Span(words("rig.found"), Role.DIM))
            for found in work.noticed[-_MOST_FOUND:]:
                yield from (line(Span(text, Role.WARN)) for text in wrapped(words.tell(found), width - 2, 4))
            yield line()
        if work is None or state is None:
            for text in wrapped(words("rig.closed"), width - 2, 3):
                yield line(Span(text, Role.DIM))
            yield line()
            yield from self._self_check(width)
            return
        coil_words = {
            True: f"{panels.ON} {words('state.on')}",
            False: f"{panels.OFF} {words('state.off')}",
            None: f"{panels.UNKNOWN} {words('state.unknown')}",
        }[state.coils_supplied]
        pressed = Span(f"! {words('rig.pressed')}", Role.BAD)
        button = pressed if state.stop_pressed else Span(f"{panels.OFF} {words('rig.pulled')}")
        named = ((words("rig.stop-button"), button), (words("rig.coils"), Span(coil_words)))
        column = max(len(name) for name, _ in named) + 1
        for name, said in named:
            yield line(Span(f"{name:<{column}}", Role.DIM), said)
        yield from panels.states(work.board, state, column)
        yield line()
        yield from self._causes(state, width)
        if not state.causes:
            yield from self._self_check(width)

    def _self_check(self, width: int) -> Iterator[Line]:
        """How the last one came out, and how the next one is begun, or why it cannot be now."""
        words = self.words
        yield line(Span(words("rig.self-check"), Role.DIM))
        if self._last is None:
            yield line(words("rig.never"))
        else:
            said = words.of("outcome", self._last.outcome.replace(" ", "-"))
            role = ROLES[self._last.outcome]
            when = f"{self._last.utc[:16].replace('T', ' ')} UTC"
            yield line(Span(f"{MARKS[self._last.outcome]} {said}", role), Span(f"  {when}", Role.DIM))
        how = words("rig.may-check" if self.bench.may_check_rig else "rig.may-not-check")
        yield from (line(text) for text in wrapped(how, width - 2, _MOST_ROWS))

    def _causes(self, state: BenchState, width: int) -> Iterator[Line]:
        if state.causes:
            yield line(Span(self.words("rig.tripped"), Role.BAD))
        for cause in state.causes:
            yield from (
                line(Span(text, Role.STRONG))
                for text in wrapped(f"{self.words.tell(str(cause))}.", width - 2, 3)
            )
            yield from (line(text) for text in wrapped(self.words.of("trip-check", cause.kind), width - 2, 3))
        if self.commands().get("begin") == "reset":
            yield line(self.words("rig.may-reset"))
