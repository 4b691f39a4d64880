"""Tests the unit in the nest by a receiving plan; keeps to `AnyWork`, so that its record leads to the same verdict."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from rig.events import CharacteristicJudged, SettingLeft, SupplyMeasured, Verdict
from rig.planning.plan import Plan, Requirement
from rig.receiving.planned import Planned
from rig.sequencer.any_work import AnyWork
from rig.sequencer.checking import read_check
from rig.sequencer.findings import Finding, Reason, bad, good, undecided
from rig.sequencer.inspection import inspect_supply
from rig.sequencer.output_stage import output_stage
from rig.sequencer.teaching import teach
from sequences.receiving import Characteristic
from wiring.terms import DetectionMode, OutputFunction

# Without supply a unit forgets a half-finished teaching; its teach window begins anew (common practice, no source).
_OFF_S = 1.0
_LED_SETTLES_S = 3.0
# The output does the same with a target inside the zone and without: told apart by what it does at the ends.
_STILL = frozenset({Reason.OUTPUT_OPEN, Reason.OUTPUT_STUCK, Reason.NOT_DETECTED})
_OF_THE_OUTPUT = frozenset(
    {Reason.OUTPUT_TYPE, Reason.OUTPUT_INVERSE, Reason.OUTPUT_UNCLEAR, Reason.OUTPUT_UNSTEADY, *_STILL}
)
_ENDS = (Characteristic.BLIND_ZONE, Characteristic.FAR_END)
_GRAVEST = (Verdict.BAD, Verdict.UNDECIDED)

_W = TypeVar("_W", bound=AnyWork)


@dataclass(frozen=True)
class Receiving(Generic[_W]):
    """The one stage of the work on a unit of a lot, at the bench or from the record.

    Attributes:
        proof: proves a setting that was taught, by the plan that the work has.

    """

    planned: Planned
    proof: Callable[[_W], Awaitable[Finding]]

    async def receive(self, work: _W) -> Finding:
        """Test whatever the plan asks for, as far as the unit lets it be tested."""
        return await _Unit(self.planned, self.proof, work).receive()


@dataclass
class _Unit(Generic[_W]):
    """One unit on its way through the tests; what was judged of each characteristic so far."""

    planned: Planned
    proof: Callable[[_W], Awaitable[Finding]]
    work: _W
    judged: dict[Characteristic, Finding] = field(default_factory=dict)
    current: SupplyMeasured | None = None

    async def receive(self) -> Finding:
        # What comes next tells nothing, or may harm, where this was not right; the LED may be dark, and all else right.
        if await self._supply() and await self._output():
            await self._ends()
            if await self._led() and await self._trial():
                await self._restore()
            else:
                self._note_left("untouched")
        else:
            self._note_left("untouched")
        return self._conclude()

    async def _supply(self) -> bool:
        finding = await inspect_supply(self.work)
        if finding is None:
            self.current = await self.work.measure_supply()
            self._judge(Characteristic.SUPPLY_CURRENT, None)
            return True
        of_output = finding.reason in (*_OF_THE_OUTPUT, Reason.HARNESS_SWAPPED)
        self._judge(Characteristic.OUTPUT if of_output else Characteristic.SUPPLY_CURRENT, finding)
        return False

    async def _output(self) -> bool:
        """Output type and rest state, and whether the unit is set to the whole of its range; false ends the tests."""
        finding = await output_stage(self.work)
        if finding is not None and finding.reason in _STILL and self._whole_range:
            finding = await self._set_to_less() or finding
        if finding is not None and finding.reason is Reason.WRONG_ZONE:
            self._judge(Characteristic.OUTPUT, None)
            self._judge(Characteristic.FACTORY_SETTING, finding)
            return False
        self._judge(Characteristic.OUTPUT, finding)
        return finding is None

    @property
    def _whole_range(self) -> bool:
        return self.planned.delivered.mode is DetectionMode.FULL_RANGE

    async def _set_to_less(self) -> Finding | None:
        """Whether a unit that does not see a target in the middle of its range sees it at an end."""
        for check in self.planned.delivered.checks:
            at_an_end = check.requirement in (Requirement.BLIND_END, Requirement.RANGE_END)
            if at_an_end and await read_check(self.work, check) is None:
                return bad(
                    Reason.WRONG_ZONE,
                    f"detects a target at {check.position_mm:g} mm, not at {self.planned.delivered.inside_mm:g} mm: "
                    "not set to the whole of its range, as a new unit is",
                )
        return None

    async def _ends(self) -> None:
        if not self._whole_range:
            return
        for one in _ENDS:
            if self.planned.receiving.test.of(one) is not None:
                self._judge(one, await read_check(self.work, self.planned.end(one)))
        self._judge(Characteristic.FACTORY_SETTING, None)

    async def _led(self) -> bool:
        """The LED with a target and without; false where it stays dark, so that no answer of it can be waited for."""
        work, plan = self.work, self.planned.delivered
        asked = self.planned.receiving.test.led is not None
        if not (plan.led_shows_output and work.led_fitted and (asked or self.planned.trial is not None)):
            return True
        await work.clear_beam()
        clear = await work.led_at_rest(_LED_SETTLES_S)
        await work.place("LED", plan.inside_mm)
        inside = await work.led_at_rest(_LED_SETTLES_S)
        inverse = plan.output_function is OutputFunction.NC
        if (clear, inside) == (inverse, not inverse):
            work.led_proven = True
            self._judge(Characteristic.LED, None)
            return True
        dark = (clear, inside) == (False, False)
        if asked:
            self._judge(Characteristic.LED, _led_finding(clear, inside))
        elif dark:
            self._judge(Characteristic.TRIAL_SETTING, _led_finding(clear, inside))
        return not dark

    async def _trial(self) -> bool:
        """Teach and prove the trial setting; false where nothing has been taught."""
        trial = self.planned.trial
        if trial is None:
            return False
        await self._supply_anew(trial)
        finding = await teach(self.work)
        taught = finding is None
        if finding is None:
            proof = await self.proof(self.work)
            finding = None if proof.verdict is Verdict.GOOD else proof
            if self.work.led_proven and Characteristic.LED not in self.judged:
                self._judge(Characteristic.LED, None)
        self._judge(Characteristic.TRIAL_SETTING, finding)
        if not taught:
            self._note_left("teaching broken off")
        return taught

    async def _restore(self) -> None:
        """Teach the factory setting again, if the plan says so, and see that it is there."""
        if not self.planned.receiving.restore:
            self._note_left(_words(self.planned.trial or self.planned.delivered), as_delivered=False)
            return
        await self._supply_anew(self.planned.delivered)
        finding = await teach(self.work) or await output_stage(self.work)
        if finding is None:
            await self._ends_once_more()
        elif self.judged[Characteristic.TRIAL_SETTING].verdict is Verdict.GOOD:
            words = f"factory setting not taught again: {finding.words}"
            self._judge(Characteristic.TRIAL_SETTING, Finding(finding.verdict, finding.reason, words))
        self._note_left(
            _words(self.planned.delivered) if finding is None else "not known", as_delivered=finding is None
        )

    async def _ends_once_more(self) -> None:
        """Tell an end that lies wrong from a setting that ended there: after teaching, the unit's own end is left."""
        for one in _ENDS:
            first = self.judged.get(one)
            if first is None or first.verdict is not Verdict.BAD:
                continue
            if await read_check(self.work, self.planned.end(one)) is None:
                words = (
                    f"{first.words}; right once its factory setting was taught: it came with another setting"
                )
                self._judge(one, None)
                self._judge(Characteristic.FACTORY_SETTING, bad(Reason.WRONG_ZONE, words))

    async def _supply_anew(self, plan: Plan) -> None:
        await self.work.power_off()
        await self.work.rest(_OFF_S)
        self.work = self.work.by_plan(plan)
        await self.work.power_on()

    def _judge(self, one: Characteristic, finding: Finding | None) -> None:
        if self.planned.receiving.test.of(one) is not None or finding is not None:
            self.judged[one] = finding or good("right")

    def _note_left(self, setting: str, *, as_delivered: bool | None = None) -> None:
        self.work.note(SettingLeft(setting, setting == "untouched" if as_delivered is None else as_delivered))

    def _conclude(self) -> Finding:
        asked = self.planned.receiving.test
        for one in Characteristic:
            test, finding = asked.of(one), self.judged.get(one)
            if test is not None and finding is not None:
                self.work.note(self._event(one, test.defect, finding))
        for verdict in _GRAVEST:
            found = [(one, self.judged[one]) for one in asked.asked if self._is(one, verdict)]
            if found:
                words = "; ".join(f"{one}: {each.words}" for one, each in found)
                return Finding(verdict, found[0][1].reason, words)
        return self._beyond_the_plan() or good(f"{len(asked.asked)} characteristics tested, all right")

    def _is(self, one: Characteristic, verdict: Verdict) -> bool:
        return one in self.judged and self.judged[one].verdict is verdict

    def _beyond_the_plan(self) -> Finding | None:
        """What keeps a unit from being good of which nothing that is asked for is wrong: a person has to look at it."""
        asked = self.planned.receiving.test.asked
        for one, each in self.judged.items():
            if one not in asked and each.verdict is not Verdict.GOOD:
                return undecided(each.reason, f"{one}, which the plan does not ask for: {each.words}")
        missing = [str(one) for one in asked if one not in self.judged]
        return undecided(Reason.NOT_TESTED, f"not tested: {', '.join(missing)}") if missing else None

    def _event(self, one: Characteristic, defect: str, finding: Finding) -> CharacteristicJudged:
        measured = self.current if one is Characteristic.SUPPLY_CURRENT else None
        value = None if measured is None else measured.current_a
        inspection = self.planned.delivered.inspection
        return CharacteristicJudged(
            str(one),
            str(defect),
            finding.verdict,
            str(finding.reason),
            value,
            None if value is None else inspection.current_min_a,
            None if value is None else inspection.current_max_a,
            "" if value is None else "A",
            finding.words,
        )


def _led_finding(clear: bool | None, inside: bool | None) -> Finding:
    if clear is None or inside is None:
        return undecided(
            Reason.ANSWER_FOREIGN, "LED is neither lit nor dark at rest, where it shows the output"
        )
    if clear is inside:
        how = "lit" if clear else "dark"
        reason = Reason.LED_ROOM_LIGHT if clear else Reason.LED_SILENT
        return undecided(reason, f"LED stays {how} with a target and without: LED or pick-up at fault")
    return bad(Reason.LED_SILENT, "LED shows the opposite of the output")


def _words(plan: Plan) -> str:
    points = " to ".join(f"{at_mm:g}" for _, at_mm in plan.set_points)
    return f"{plan.mode} {plan.output_function}{f' {points} mm' if points else ''}"
