"""Leads a person through the steps, one after the other; what is done is kept at once, and not asked again."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from rig.commissioning.steps import OPEN, Act, Step
from rig.events import RigStepDone
from rig.forms.interview import Terminal
from rig.typed import typed_number

_OPEN_WORDS = frozenset({"open", "ol", "inf"})
_FACTORS = {"k": 1e3, "K": 1e3, "M": 1e6}
_DONE_WORDS = frozenset({"", "y", "yes", "done"})


@dataclass(frozen=True, slots=True)
class Guide:
    """One sitting: `note` keeps a step that is done; the person leaves by ending the input.

    `look` tells what the computer still lacks for the rig, and how to mend it; nothing, if nothing.
    """

    terminal: Terminal
    note: Callable[[RigStepDone], object]
    look: Callable[[], Sequence[str]]

    def lead(self, rig: str, steps: Sequence[Step], done: Collection[tuple[str, str]]) -> None:
        """Ask for every step that is not done; raises `Left`. `done` has key and words of those before."""
        for number, step in enumerate(steps, start=1):
            if (step.key, step.words) not in done:
                measured = self._do(f"{number}/{len(steps)}", step)
                self.note(RigStepDone(rig, step.key, step.words, measured, step.low, step.high, step.unit))

    def _do(self, place: str, step: Step) -> str:
        self.terminal.say(f"\n{place}  {step.words}")
        if step.act is Act.MEASURE:
            return self._measured(step)
        if step.act is Act.CHECK:
            return self._checked()
        while self.terminal.read("   Enter when it is so: ").strip().casefold() not in _DONE_WORDS:
            self.terminal.say(
                "   Enter says that it is so; end the input (Ctrl-D) to put it right and go on later."
            )
        return ""

    def _checked(self) -> str:
        while lacking := self.look():
            for words in lacking:
                self.terminal.say(f"   x {words}")
            self.terminal.read("   Enter when it is mended: ")
        self.terminal.say("   everything is there")
        return ""

    def _measured(self, step: Step) -> str:
        while True:
            typed = self.terminal.read(f"   {step.unit}, has to be {step.wanted}: ").strip()
            value = _value(typed, step)
            if value is None:
                what = (
                    f"{typed!r} is no number of {step.unit}"
                    if typed
                    else f"a number of {step.unit} is wanted"
                )
                self.terminal.say(f"   {what}{_hint(step)}")
            elif step.holds(value):
                return typed
            else:
                self.terminal.say(
                    f"   {typed} {step.unit} is not {step.wanted}: put it right before you go on, then measure again."
                )


def _hint(step: Step) -> str:
    return "; allowed too: open, and as a meter shows it: 1.5k, 2M" if step.unit == "ohm" else ""


def _value(typed: str, step: Step) -> float | None:
    if step.unit == "ohm" and typed.casefold() in _OPEN_WORDS:
        return OPEN
    factor = _FACTORS.get(typed[-1:], 1.0) if step.unit == "ohm" else 1.0
    try:
        return factor * typed_number(typed if factor == 1.0 else typed[:-1])
    except ValueError:
        return None
