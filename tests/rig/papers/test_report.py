"""Order reports: every unit is counted once, where it belongs, and nothing is drawn that nobody measured."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.events import FigureMeasured, OrderInputs, Purpose, UnitJudged, Verdict
from rig.papers.advice import what_to_do
from rig.papers.chart import Area, Axis, Chart, Words, round_step
from rig.papers.counts import faults, histograms, sides, times
from rig.papers.order_charts import histogram_chart, run_charts
from rig.papers.paper import Cell, Column, Grid, Paper, Part, Said
from rig.papers.paper_pdf import paper_pdf
from rig.papers.report import report
from rig.papers.report_facts import NoReport, ReportFacts, report_of
from rig.papers.tries import Deviation, Read, Try
from rig.sequencer.findings import Reason
from tests.rig.papers.written import BAD, DEAD, GOOD, UNSURE, attempts, pages, report_facts
from tests.rig.recount.replays import without


def a_try(
    serial: str = "Q-1",
    verdict: Verdict | None = Verdict.GOOD,
    *,
    reason: str = "proven",
    seconds: float | None = 20.0,
    deviation_mm: float | None = None,
    read: tuple[Read, ...] = (),
) -> Try:
    deviations = () if deviation_mm is None else (Deviation("outer", deviation_mm, 0.5),)
    return Try(
        serial, "run-1", Purpose.SET, "2026-01-05T07:00:00Z", verdict, reason, "", seconds, deviations, read
    )


any_verdict = st.sampled_from([*Verdict, None])
any_deviations = st.lists(st.tuples(st.floats(-80, 80), any_verdict), min_size=1, max_size=60)


class TestHistogram:
    @given(any_deviations, st.floats(0.1, 60))
    def test_every_unit_is_in_one_bin_and_in_the_right_one(
        self, found: list[tuple[float, Verdict | None]], tolerance_mm: float
    ) -> None:
        (histogram,) = histograms([a_try(deviation_mm=mm, verdict=one) for mm, one in found], tolerance_mm)
        bins = histogram.bins
        assert histogram.count == len(found) == sum(one.good + one.undecided + one.bad for one in bins)
        assert sum(one.bad for one in bins) == sum(verdict is Verdict.BAD for _, verdict in found)
        assert all(math.isclose(one.high_mm, then.low_mm) for one, then in pairwise(bins))
        for one in bins[1:-1]:
            inside = sum(one.low_mm <= mm < one.high_mm for mm, _ in found)
            # Where a deviation lies on the edge of a bin to the last digit, either side is right.
            at_edge = sum(min(abs(mm - one.low_mm), abs(mm - one.high_mm)) < 1e-6 for mm, _ in found)
            assert abs(one.good + one.undecided + one.bad - inside) <= at_edge
        assert histogram.beyond == sum(abs(mm) > bins[-1].high_mm for mm, _ in found)

    @given(any_deviations, st.floats(0.1, 60))
    def test_the_tolerance_is_always_in_the_picture(
        self, found: list[tuple[float, Verdict | None]], tolerance_mm: float
    ) -> None:
        (histogram,) = histograms([a_try(deviation_mm=mm, verdict=one) for mm, one in found], tolerance_mm)
        assert histogram.bins[0].low_mm <= -tolerance_mm + 1e-9
        assert histogram.bins[-1].high_mm >= tolerance_mm - 1e-9
        assert len(histogram.bins) <= 34
        chart = histogram_chart(histogram)
        assert {f"{limit:+g}" for limit in (-tolerance_mm, tolerance_mm)} <= texts(chart)
        assert within(chart)

    def test_mean_and_spread_are_those_of_the_good_units(self) -> None:
        found = [(-1.0, Verdict.GOOD), (2.0, Verdict.GOOD), (90.0, Verdict.BAD)]
        (histogram,) = histograms([a_try(deviation_mm=mm, verdict=one) for mm, one in found], 6.0)
        assert (histogram.good, histogram.mean_mm) == (2, 0.5)
        assert histogram.spread_mm == pytest.approx(3 / math.sqrt(2))

    def test_units_that_were_not_measured_have_none(self) -> None:
        assert list(histograms([a_try()], 6.0)) == []


def texts(chart: Chart) -> set[str]:
    return {shape.text for shape in chart.shapes if isinstance(shape, Words)}


def within(chart: Chart) -> bool:
    corners = [corner for shape in chart.shapes if isinstance(shape, Area) for corner in shape.corners]
    return all(-0.5 <= x <= chart.width + 0.5 and -0.5 <= y <= chart.height + 0.5 for x, y in corners)


class TestFaults:
    @given(st.lists(st.tuples(any_verdict, st.sampled_from([str(one) for one in Reason])), max_size=40))
    def test_every_unit_that_is_not_good_has_one_place_and_the_most_frequent_comes_first(
        self, found: list[tuple[Verdict | None, str]]
    ) -> None:
        tries = [a_try(f"Q-{index}", verdict, reason=reason) for index, (verdict, reason) in enumerate(found)]
        ranked = list(faults(tries))
        wanted = Counter(one for one in found if one[0] in (Verdict.BAD, Verdict.UNDECIDED))
        assert {(one.verdict, one.reason): one.count for one in ranked} == dict(wanted)
        assert [one.count for one in ranked] == sorted((one.count for one in ranked), reverse=True)
        assert not ranked or sum(one.share for one in ranked) == pytest.approx(1)

    @pytest.mark.parametrize("reason", Reason)
    @pytest.mark.parametrize("verdict", [Verdict.BAD, Verdict.UNDECIDED, None])
    def test_there_is_something_to_do_for_every_unit_that_is_not_good(
        self, verdict: Verdict | None, reason: Reason
    ) -> None:
        assert what_to_do(verdict, reason)

    def test_a_good_unit_needs_nothing(self) -> None:
        assert what_to_do(Verdict.GOOD, Reason.PROVEN) == ""


def test_readings_are_counted_by_side_and_what_was_not_read_is_told() -> None:
    read = [(Read("outer", 406.7, right),) for right in (True, True, False, None)]
    (one,) = sides([*(a_try(read=each) for each in read), a_try()])
    assert (one.right, one.wrong, one.unsteady, one.not_read) == (2, 1, 1, 1)


@given(st.lists(st.none() | st.floats(0.1, 1000), max_size=30))
def test_times_are_of_the_attempts_with_a_verdict(seconds: list[float | None]) -> None:
    known = [one for one in seconds if one is not None]
    found = times([a_try(seconds=one) for one in seconds])
    if not known:
        assert found is None
    else:
        assert found is not None
        assert (found.count, found.shortest_s, found.longest_s) == (len(known), min(known), max(known))
        assert found.median_s == median(known)


@given(st.floats(1e-6, 1e9))
def test_steps_of_an_axis_are_round_and_not_too_small(least: float) -> None:
    step = round_step(least)
    assert least * 0.999999 <= step <= 10 * least
    assert f"{step:e}"[0] in "125"


@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e4), st.floats(-2e4, 2e4))
def test_an_axis_keeps_order_and_its_ends(low: float, span: float, value: float) -> None:
    axis = Axis(low, low + span, 10, 100)
    assert 10 - 1e-9 <= axis.at(value) <= 100 + 1e-9
    assert len(axis.ticks(8)) <= 9
    assert all(low - span / 1e3 <= tick <= low + span * 1.001 for tick in axis.ticks(8))


@pytest.mark.parametrize("verdicts", [(), (None,), (Verdict.GOOD,), tuple(Verdict) * 60])
def test_a_run_of_any_length_is_drawn_within_its_picture(verdicts: tuple[Verdict | None, ...]) -> None:
    tries = [
        a_try(f"Q-{index}", one, seconds=None if one is None else index, deviation_mm=index - 3.0)
        for index, one in enumerate(verdicts)
    ]
    for chart in run_charts(tries, 6.0):
        assert within(chart)


def test_what_lies_beyond_the_picture_of_a_run_is_counted() -> None:
    tries = [a_try(f"Q-{index}", deviation_mm=mm) for index, mm in enumerate((1.0, 40.0, -40.0))]
    chart, _ = run_charts(tries, 6.0)
    assert "2 farther out, drawn at the edge" in chart.title
    chart, _ = run_charts(tries[:1], 6.0)
    assert "farther out" not in chart.title


class TestReport:
    def test_it_counts_what_the_bench_found(self) -> None:
        facts = report_facts("point", GOOD, BAD, DEAD, GOOD)
        assert [facts.count(one) for one in (*Verdict, None)] == [2, 1, 1, 0]
        assert (facts.good_share, facts.first_pass_share) == (0.5, 0.5)
        assert [unit.last.serial for unit in facts.units] == ["QOC-1", "QOC-2", "QOC-3", "QOC-4"]
        assert facts.times is not None
        assert facts.times.count == 4
        assert [one.tries for one in facts.runs] == [4]

    def test_measured_units_have_deviations_as_recorded(self) -> None:
        facts = report_facts("measured", GOOD, BAD, DEAD)
        recorded = [
            one.event.value
            for attempt in attempts("measured", GOOD, BAD, DEAD)
            for one in attempt.events
            if isinstance(one.event, FigureMeasured) and one.event.name == "deviation at the machine, outer"
        ]
        outer = next(one for one in facts.histograms if one.edge == "outer")
        assert outer.count == len(recorded) == 2
        assert outer.mean_mm == recorded[0]

    def test_units_read_at_positions_have_no_deviations_and_the_report_says_so(self) -> None:
        facts = report_facts("point", GOOD, BAD)
        assert facts.histograms == ()
        words = [
            one.words for part in report(facts, "").parts for one in part.blocks if isinstance(one, Said)
        ]
        assert any("no deviations to draw" in one for one in words)

    def test_a_unit_that_is_put_in_again_counts_by_its_last_attempt(self) -> None:
        first, second = attempts("point", BAD, GOOD)
        again = replace(second, events=tuple(replace(one, serial="QOC-1") for one in second.events))
        facts = report_of(first.begin.order, (first, again))
        (unit,) = facts.units
        assert (unit.last.verdict, unit.tries, unit.first) == (Verdict.GOOD, 2, Verdict.BAD)
        assert (facts.good_share, facts.first_pass_share) == (1.0, 0.0)
        assert len(facts.tries) == 2

    def test_a_unit_without_a_verdict_is_not_finished(self) -> None:
        (attempt,) = attempts("point", GOOD)
        at = next(index for index, one in enumerate(attempt.events) if isinstance(one.event, UnitJudged))
        facts = report_of(attempt.begin.order, (without(attempt, at),))
        assert (facts.count(None), facts.good_share) == (1, None)
        assert "not finished" in stated(facts)

    def test_an_order_is_complete_only_when_all_units_are_good(self) -> None:
        assert "complete" in stated(report_facts("point", GOOD))
        assert "not complete" not in stated(whole(report_facts("point", GOOD)))
        assert "not complete" in stated(whole(report_facts("point", GOOD, BAD)))

    def test_units_that_were_set_by_other_order_data_are_named(self) -> None:
        first, second = attempts("point", GOOD, GOOD)
        inputs = second.inputs
        assert isinstance(inputs, OrderInputs)
        setting = inputs.order["setting"] | {"at_mm": 405.0}
        other = replace(inputs, order=inputs.order | {"setting": setting})
        moved = replace(second, run="later", inputs=other)
        facts = report_of(first.begin.order, (first, moved))
        assert facts.other_data == ("QOC-1",)
        words = [
            one.words for part in report(facts, "").parts for one in part.blocks if isinstance(one, Said)
        ]
        assert any("by other order data than the last run: QOC-1" in one for one in words)

    def test_a_record_that_has_lost_its_order_still_tells_its_units(self) -> None:
        known = tuple(replace(one, started=None, inputs=None) for one in attempts("point", GOOD, BAD))
        facts = report_of("QOC-0900", known)
        assert facts.setting is None
        paper = report(facts, "")
        (table,) = (
            one
            for part in paper.parts
            if part.title == "All units"
            for one in part.blocks
            if isinstance(one, Grid)
        )
        assert [row[2].words for row in table.rows] == ["good", "bad"]

    def test_without_a_unit_there_is_no_report(self) -> None:
        with pytest.raises(NoReport, match="no unit of order QOC-0900"):
            report_of("QOC-0900", ())

    def test_every_unit_has_its_row(self) -> None:
        facts = report_facts("measured", GOOD, BAD, DEAD, UNSURE, GOOD)
        paper = report(facts, "")
        (table,) = (
            one
            for part in paper.parts
            if part.title == "All units"
            for one in part.blocks
            if isinstance(one, Grid)
        )
        assert [row[0].words for row in table.rows] == [unit.last.serial for unit in facts.units]
        assert table.filter_by in {column.title for column in table.columns}


def whole(facts: ReportFacts) -> ReportFacts:
    return replace(facts, quantity=len(facts.units), not_begun=())


def stated(facts: ReportFacts) -> str:
    return str(report(facts, "").parts[0].blocks)


@pytest.mark.parametrize("kind", ["chart", "table"])
def test_no_heading_stands_alone_at_the_foot_of_a_page(kind: str) -> None:
    column, cell = Column("serial", 1.0), Cell("Q-1")
    block = (
        Chart("what is drawn", "a test", 180.0, 60.0, ())
        if kind == "chart"
        else Grid("what is told", (column,), ((cell,),))
    )
    for lines in range(40, 75, 2):
        before = Part("", tuple(Said(f"line {number}") for number in range(lines)))
        paper = Paper("Order report", "QOC-1", "", (before, Part("Run of the order", (block,))), "foot")
        (page,) = (text for text in pages(paper_pdf(paper)) if "Run of the order" in text)
        assert "what is" in page
