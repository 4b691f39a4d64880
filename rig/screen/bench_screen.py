"""The rig: its profile, its lines live, why it has tripped and the way to reset it."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping

from textual.containers import Horizontal
from textual.widget import Widget

from hal.bench import BenchState
from rig.screen.base import BenchScreen
from rig.screen.view import panels
from rig.screen.view.board import Phase
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.widgets import LinesView
from wiring.profile import RigProfile

_STATE_EVERY_S = 0.25


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
        """Reset after a trip, on a simulated bench the stop button, and the other screens."""
        keys: dict[str, str] = {}
        work = self.bench.work
        if work is not None:
            phase = work.board.phase
            keys |= {Phase.TRIPPED: {"begin": "reset"}, Phase.FAILED: {"begin": "reopen"}}.get(phase, {})
            if work.running and work.hands is not None:
                keys["hands"] = "button"
        return {**keys, **self.bench.everywhere()}

    def do(self, name: str) -> None:
        """Reset, or press the simulated stop button."""
        work = self.bench.work
        if work is not None and name == "begin":
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
                f"{words.short(profile.air.temperature_c)} C, {words.short(profile.air.humidity_percent)} %",
            ),
        )
        named = [(words(f"rig.{key}"), value) for key, value in facts]
        column = max(len(name) for name, _ in named) + 2
        for name, value in named:
            for index, text in enumerate(wrapped(value, width - column - 2, 2)):
                yield line(Span(f" {name if not index else '':<{column}}", Role.DIM), text)

    def _live(self, state: BenchState | None, width: int) -> Iterator[Line]:
        words, work = self.words, self.bench.work
        if work is None or state is None:
            for text in wrapped(words("rig.closed"), width - 2, 3):
                yield line(Span(text, Role.DIM))
            return
        coils = {True: "state.on", False: "state.off", None: "state.unknown"}[state.coils_supplied]
        pressed = "rig.pressed" if state.stop_pressed else "rig.pulled"
        role = Role.BAD if state.stop_pressed else Role.PLAIN
        yield line(Span(f"{words('rig.stop-button')}: ", Role.DIM), Span(words(pressed), role))
        yield line(Span(f"{words('rig.coils')}: ", Role.DIM), words(coils))
        yield from panels.states(work.board, state)
        yield line()
        yield from self._causes(state, width)

    def _causes(self, state: BenchState, width: int) -> Iterator[Line]:
        if state.causes:
            yield line(Span(self.words("rig.tripped"), Role.BAD))
        for cause in state.causes:
            yield from (line(Span(text, Role.STRONG)) for text in wrapped(f"{cause}.", width - 2, 3))
            yield from (line(text) for text in wrapped(self.words.of("trip-check", cause.kind), width - 2, 3))
