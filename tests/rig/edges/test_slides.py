"""Slow slides by hand in figures: against simulated looks, and against budgets added up by hand."""

from __future__ import annotations

import math
import random
from statistics import fmean, pstdev

import pytest

from rig.edges.edge import Method
from rig.edges.lookouts import Early, first_look, largest_noise_mm
from rig.edges.slides import Slide, finest_slid_mm, slid_figures, slide_by_gauge, slide_by_scale
from rig.edges.slots import Gap, finest_slotted_mm, slot_figures
from rig.edges.task import EdgeTask
from rig.statistics.edge_checks import DetectedSide
from wiring.profile import GaugeProfile, HandProfile, Slot, TargetProfile

TASK = EdgeTask(DetectedSide.NEARER, 400.0, 300.0, 800.0, 5.0, (0.2, 0.8), 4.0, 0.05, 0.05)
LAG_S = 0.75 * 0.05  # the middle of what the response time of the data sheet may come to
SCALE = TargetProfile(kind="manual", farthest_mm=1500.0, hand=HandProfile(slide_mm_s=5.0, reading_mm=0.5))
GAUGE = SCALE.model_copy(
    update={"gauge": GaugeProfile(port="x", error_mm=0.1, resolution_mm=0.01, lag_s=0.04)}
)


@pytest.mark.parametrize("apart_sd", [0.05, 0.2, 0.7, 2.0])
def test_the_first_look_in_favour_comes_where_simulated_looks_say(apart_sd: float) -> None:
    draw = random.Random(1)

    def first() -> float:
        place_sd = -5.0 + apart_sd * draw.random()
        while draw.gauss(0.0, 1.0) > place_sd:
            place_sd += apart_sd
        return place_sd

    places = [first() for _ in range(4000)]
    mean, scatter = first_look(apart_sd)
    assert mean == pytest.approx(fmean(places), abs=4 * scatter / math.sqrt(4000))
    assert scatter == pytest.approx(pstdev(places), rel=0.06)


def test_a_quiet_unit_and_a_quick_target_are_not_early() -> None:
    for apart_sd in (5.0, 30.0, 300.0):
        assert apart_sd / 2 - first_look(apart_sd)[0] == pytest.approx(0, abs=0.01)
    assert Early.supposed(5.0, (0.01, 0.02)).middle_mm == pytest.approx(0, abs=0.001)
    assert Early.supposed(0.1, (0.5, 0.6)).middle_mm > 0.5


@pytest.mark.parametrize("sd_mm", [0.1, 0.4, 1.5])
def test_what_a_unit_scatters_by_tells_how_early_it_is(sd_mm: float) -> None:
    way_mm = 0.2
    # Two looks in half of the longest response time.
    mean_sd, scatter_sd = first_look(way_mm / 4 / sd_mm)
    early_mm = way_mm / 8 - mean_sd * sd_mm
    seen = Early.seen(way_mm, scatter_sd * sd_mm, 8)
    assert abs(seen.middle_mm - early_mm) < seen.u_mm
    assert Early.seen(way_mm, scatter_sd * sd_mm, 80).u_mm < seen.u_mm
    # As noisy as that at most if it looks as often as can be; then the first look scatters least.
    _, least_sd = first_look(way_mm / 8 / sd_mm)
    assert largest_noise_mm(way_mm, least_sd * sd_mm) == pytest.approx(1.7 * sd_mm, rel=0.02)


@pytest.mark.parametrize("speed_mm_s", [3.0, -3.0])
def test_a_gauge_is_read_at_the_moment_of_passing_not_of_the_answer(speed_mm_s: float) -> None:
    assert GAUGE.gauge is not None
    times_s = [0.05 * number for number in range(100)]
    # What it shows is 20 ms old, the middle of what it may be; the target passes 400 mm at 2.0 s.
    shown_mm = [400.0 + speed_mm_s * (at_s - 0.02 - 2.0) for at_s in times_s]
    slide = slide_by_gauge(times_s, shown_mm, 2.0 + LAG_S, 0.05, GAUGE.gauge)
    assert slide.place_mm == pytest.approx(400.0, abs=1e-6)
    assert slide.speed_mm_s == pytest.approx(3.0)
    assert slide.speed_doubt == 0


@pytest.mark.parametrize("way", [1, -1])
def test_a_number_from_the_scale_is_taken_back_by_what_the_hand_went_on(way: int) -> None:
    # 1.15 s until the hand moves, 20 mm at 4 mm/s to the edge, 0.04 s until the output, 0.4 s until it stops;
    # at the edge it is a tenth faster than in the mean.
    speed_mm_s, moved_s = 4.0, 5.0 + LAG_S
    stopped_mm = 400.0 + way * speed_mm_s * (LAG_S + 0.4)
    slide = slide_by_scale(400.0 - way * 20.0, stopped_mm, 1.15 + moved_s, 0.05, SCALE)
    assert slide.speed_mm_s == pytest.approx(1.1 * speed_mm_s)
    assert slide.place_mm == pytest.approx(400.0 - way * 0.1 * speed_mm_s * (LAG_S + 0.4), abs=1e-6)
    assert slide.speed_doubt == pytest.approx(0.85 / (moved_s + 0.4) + 0.1)


def figures_of(target: TargetProfile, doubt: float = 0.0):
    inwards = [Slide(400.0 + off_mm, 4.0, doubt) for off_mm in (-0.2, 0.0, 0.2)]
    outwards = [Slide(404.0 + off_mm, 4.0, doubt) for off_mm in (-0.2, 0.0, 0.2)]
    return slid_figures(inwards, outwards, TASK, target)


def test_the_budget_with_a_gauge_is_the_sum_of_its_parts() -> None:
    figures = figures_of(GAUGE)
    early = Early.seen(0.2, 0.2, 4)
    rows = {row.name: row.contribution for row in figures.operate_mm.budget.components}
    root = math.sqrt(3)
    assert rows.pop("tilt of the target's way") < 0.04
    assert rows == {
        "scatter of the passes": pytest.approx(0.2 / root),
        "response time": pytest.approx(4.0 * LAG_S / root),
        "lag of the gauge": pytest.approx(4.0 * (0.02 + 0.006) / root),
        "looks of the unit": pytest.approx(early.u_mm),
        "zero of the scale": pytest.approx(0.2 / root),
        "gauge": pytest.approx(0.1 / root),
        "step of the gauge": pytest.approx(0.005 / root),
    }
    # Each point is early along its own way: the operate point seems too far out, the release point too near.
    assert figures.operate_mm.value == pytest.approx(400.0 - early.middle_mm)
    assert figures.release_mm.value == pytest.approx(404.0 + early.middle_mm)
    assert figures.travel_mm.value == pytest.approx(4.0 + 2 * early.middle_mm)
    travel = {row.name: row.contribution for row in figures.travel_mm.budget.components if row.name in rows}
    assert travel["looks of the unit"] == pytest.approx(2 * early.u_mm)
    assert travel["response time"] == pytest.approx(2 * 4.0 * LAG_S / root)
    assert "zero of the scale" not in travel


def test_the_budget_with_a_scale_holds_eye_and_hand() -> None:
    rows = {row.name: row.contribution for row in figures_of(SCALE, 0.2).operate_mm.budget.components}
    root = math.sqrt(3)
    assert rows["stopping of the hand"] == pytest.approx(4.0 * 0.25 / root)
    assert rows["speed of the slide"] == pytest.approx(0.2 * 4.0 * (LAG_S + 0.4) / root)
    assert rows["reading of the scale"] == pytest.approx(0.5 / root)
    assert rows["scale of the target"] == pytest.approx(0.0005 * 400 / root, rel=0.01)
    assert figures_of(SCALE).repeat.method is Method.SCALE
    assert figures_of(GAUGE).repeat.method is Method.GAUGE


def test_the_finest_is_what_the_quickest_allowed_hand_leaves() -> None:
    def with_hand(**change: float) -> TargetProfile:
        return SCALE.model_copy(update={"hand": SCALE.by_hand.model_copy(update=change)})

    finest_mm = finest_slid_mm(TASK, SCALE)
    assert finest_slid_mm(TASK, GAUGE) < 0.6 * finest_mm
    assert finest_slid_mm(TASK, with_hand(slide_mm_s=2.0)) < finest_mm
    assert finest_slid_mm(TASK, with_hand(reading_mm=2.0)) > finest_mm
    assert finest_slid_mm(TASK, with_hand(stop_most_s=1.5)) > finest_mm
    # Slides that scatter as little as can be come out no worse than the finest that may be wanted.
    quick = [Slide(400.0 + 0.01 * number, 5.0, 0.27) for number in range(3)]
    assert slid_figures(quick, quick, TASK, SCALE).operate_mm.expanded <= finest_mm


def test_an_edge_between_slots_is_in_the_middle_and_may_be_anywhere_between() -> None:
    slots = tuple(
        Slot(number=n, position_mm=at_mm, line=f"GPIO{n + 1}")
        for n, at_mm in ((1, 390.0), (2, 400.0), (3, 430.0))
    )
    target = TargetProfile(kind="slots", farthest_mm=1000.0, placement_mm=0.3, slots=slots)
    figures = slot_figures([Gap(390.0, 400.0)] * 2, [Gap(390.0, 400.0), Gap(400.0, 430.0)], target)
    assert figures.operate_mm.value == 395.0
    assert figures.release_mm.value == 410.0
    root = math.sqrt(3)
    rows = {row.name: row.contribution for row in figures.operate_mm.budget.components}
    assert rows["between the slots"] == pytest.approx(5.0 / root)
    assert rows["placing in the slot"] == pytest.approx(0.3 / root)
    assert figures.operate_mm.expanded == pytest.approx(1.96 * math.hypot(*rows.values()), rel=1e-3)
    # At a slot the edge may be found on either side of it; beyond the last there is none.
    assert finest_slotted_mm(TASK, target) > 1.96 * 15 / root
    few = target.model_copy(update={"slots": slots[:2]})
    assert finest_slotted_mm(TASK, few) < 1.96 * 5.5 / root
    assert finest_slotted_mm(TASK, few.model_copy(update={"slots": slots[:1]})) == math.inf
