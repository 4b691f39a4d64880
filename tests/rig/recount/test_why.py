"""Words for every verdict: each reason says why it is none of the others, and each rule says what it does."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.truths import PersonTruth
from rig.events import RequirementJudged, ToleranceScanned, Verdict
from rig.recount.numbers import numbers_of
from rig.recount.recount import recount
from rig.recount.row import Part
from rig.recount.rows import rows_of
from rig.recount.why import rule_words, why
from rig.sequencer.findings import Finding, Reason
from sequences.checks import CheckPlan
from sequences.words import Rule
from tests.rig.measuring.by_hand import GAUGE, SCALE
from tests.rig.planned import BY_HAND, job
from tests.rig.recount.replays import attempts_in
from tests.rig.recount.test_recount import attempt_of
from tests.rig.sequencer import test_measured
from tests.rig.sequencer.floor import SETTINGS, on, work_through
from wiring.profile import RigProfile
from wiring.terms import Verification


@pytest.mark.parametrize("verdict", [Verdict.BAD, Verdict.UNDECIDED])
@pytest.mark.parametrize("reason", Reason)
def test_every_reason_says_why_it_is_none_of_the_other_verdicts(reason: Reason, verdict: Verdict) -> None:
    told = dict(why(attempt_of("18 point"), Finding(verdict, reason, "what was found")))
    others = {str(one) for one in Verdict} - {str(verdict)}
    assert told.keys() == {f"why {verdict}"} | {f"why not {one}" for one in others}
    assert told[f"why {verdict}"] == "what was found."
    assert all(words.endswith(".") and not words.endswith("..") for words in told.values())


def test_a_good_unit_says_how_much_was_read() -> None:
    for made, said in (
        (SETTINGS["18 point"], "all 6 check positions of the plan were read"),
        (test_measured.SETTINGS["18 point"], "all 10 requirements of the plan were held against"),
    ):
        (attempt,) = attempts_in(work_through(made).events)
        told = dict(why(attempt, Finding(Verdict.GOOD, Reason.PROVEN, "found")))
        assert told["why not undecided"].startswith(said)


@pytest.mark.parametrize(
    ("rule", "risk", "said"),
    [
        (Rule.SIMPLE, None, ("at the limits of the tolerance", "inside its limits is good")),
        (Rule.GUARDED, None, ("outside the tolerance by the guard", "by the guard w = U")),
        (Rule.RISK, 0.01, ("outside the tolerance by the guard", "by the guard that keeps this risk")),
    ],
)
def test_every_rule_is_told_for_both_ways_of_proving(
    rule: Rule, risk: float | None, said: tuple[str, str]
) -> None:
    for made, words in zip((SETTINGS["18 point"], test_measured.SETTINGS["18 point"]), said, strict=True):
        plan = replace(made.plan, rule=rule, largest_risk=risk)
        first, *_ = rule_words(plan)
        assert first.startswith(plan.decision.words)
        assert words in first


class TestRows:
    def test_everything_that_was_read_is_in_a_row_with_its_entry(self) -> None:
        attempt = attempt_of("12 window")
        rows = list(rows_of(attempt))
        entries = [row.entry for row in rows]
        assert entries == sorted(set(entries))
        assert set(entries) <= {one.number for one in attempt.account}
        assert {row.part for row in rows} == {Part.INSPECTION, Part.TEACHING, Part.PROOF}
        assert sum(row.what.startswith("teach wire to") for row in rows) == 10
        paused = [row for row in rows if "after the one before" in row.read]
        assert paused
        assert all("at most 1 s after the one before" in row.wanted for row in paused)

    def test_a_trip_and_a_silent_person_are_rows_too(self) -> None:
        (tripped,) = attempts_in(
            work_through(SETTINGS["18 point"], bench=(BenchFault(kind="teach-contact-welded"),)).events
        )
        assert any(row.what == "TRIPPED, everything off" for row in rows_of(tripped))
        silent = BenchFault(kind="person-silent", after_contacts=1)
        (alone,) = attempts_in(work_through(on(SETTINGS["18 point"], BY_HAND), bench=(silent,)).events)
        assert list(rows_of(alone))[-1].wanted == "an answer"

    def test_the_way_out_through_the_tolerance_is_one_row(self) -> None:
        noisy = attempt_of("18 point", UnitFault(kind="noisy-echo", factor=40.0))
        for attempt in (attempt_of("18 point"), noisy):
            scans = [one for one in attempt.account if isinstance(one.event, ToleranceScanned)]
            rows = [row for row in rows_of(attempt) if row.proves == "output changes once"]
            assert [row.entry for row in rows] == [one.number for one in scans]
            assert all(re.fullmatch(r"12 readings from \d+\.\d to \d+\.\d mm", row.what) for row in rows)
        assert attempt_of("18 point").planned.plan.scans_mm
        assert rows_of(attempt_of("18 point"))

    @pytest.mark.parametrize("rig", [GAUGE, SCALE], ids=["gauge", "scale"])
    def test_what_a_person_slid_is_told(self, rig: RigProfile) -> None:
        guided = CheckPlan(method=Verification.GUIDED)
        made = job("barrel-18-rail", at_mm=400, tolerance_mm=60, rig=rig, checks=guided)
        (attempt,) = attempts_in(work_through(made).events)
        assert recount(attempt).agrees
        answers = [row.what for row in rows_of(attempt) if row.part is Part.ANSWERS]
        assert any(what.startswith("slid ") for what in answers)

    def test_a_unit_that_does_not_answer_shows_what_its_led_did_instead(self) -> None:
        rows = list(rows_of(attempt_of("18 point", UnitFault(kind="wrong-kind", actual="block-rail"))))
        assert rows
        dark = list(rows_of(attempt_of("18 point", UnitFault(kind="led-dark"))))
        assert [row.read for row in dark if row.what == "LED now"] == ["dark"]

    def test_a_contact_that_would_come_too_late_is_a_row(self) -> None:
        made = SETTINGS["18 full"]
        timing = made.sensor_type.timing.model_copy(update={"teach_timeout_s": 15.0})
        hasty = type(made)(made.order, made.sensor_type.model_copy(update={"timing": timing}), made.rig)
        person = PersonTruth(reaction_s=30.0)
        shift = work_through(on(hasty, BY_HAND), person=person)
        assert shift.finding.reason is Reason.TOO_SLOW, shift.finding
        (attempt,) = attempts_in(shift.events)
        last = list(rows_of(attempt))[-1]
        assert last.what == "a contact would begin"
        assert "s after power-up" in last.read
        assert "within" in last.wanted


class TestNumbers:
    @pytest.mark.parametrize(
        ("checks", "formulas"),
        [
            ({}, {"a = L + U", "b = H - U"}),
            ({"rule": Rule.SIMPLE}, set()),
            ({"rule": Rule.RISK, "largest_risk": 0.01}, set()),
        ],
    )
    def test_the_limits_of_what_was_measured_are_worked_out_under_the_rule_of_the_order(
        self, checks: dict[str, object], formulas: set[str]
    ) -> None:
        plan = CheckPlan.model_validate({"method": "measured", **checks})
        made = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=plan)
        (attempt,) = attempts_in(work_through(made).events)
        assert recount(attempt).agrees
        found = {
            f"{one.symbol} = {one.formula}"
            for chapter in numbers_of(attempt, full=True)
            for one in chapter.formulas
            if one.symbol != "p"
        }
        assert found == formulas

    def test_the_chance_of_a_wrong_verdict_is_the_one_on_record(self) -> None:
        (attempt,) = attempts_in(work_through(test_measured.SETTINGS["18 point"]).events)
        judged = {
            one.event.requirement: one.event
            for one in attempt.account
            if isinstance(one.event, RequirementJudged)
        }
        worked = {
            chapter.title: float(one.result)
            for chapter in numbers_of(attempt, full=True)
            for one in chapter.formulas
            if one.symbol == "p"
        }
        assert worked
        for requirement, risk in worked.items():
            recorded = judged[requirement].risk
            # The last digits of a value that is many deviations inside its limit change such a chance a lot.
            if recorded is not None and recorded > 1e-9:
                assert risk == pytest.approx(recorded, rel=0.02)
