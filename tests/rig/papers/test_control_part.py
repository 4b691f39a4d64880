"""The page of the order report about control: charts, capability and the check unit, as paper and browser get them."""

from __future__ import annotations

import random

import pytest

from rig.control.chart import Watching
from rig.control.check_unit import Account, Cause, CheckUnit, LookedAt, Measured, charted
from rig.events import Purpose, Verdict
from rig.papers.chart import Area, Chart, Ink, Stroke, Words
from rig.papers.control_part import ControlFacts, control_blocks, control_of
from rig.papers.control_sheet import check_unit_paper
from rig.papers.paper import Block, Grid, Pairs, Paper, Part, Said
from rig.papers.paper_html import paper_html
from rig.papers.paper_pdf import paper_pdf
from rig.papers.tries import Deviation, Try


def lasts(count: int, drift: float = 0.0) -> list[Try]:
    draw = random.Random(3)
    return [
        Try(
            f"Q-{n}", "r", Purpose.SET, f"2026-03-04T{8 + n // 60:02d}:{n % 60:02d}Z", Verdict.GOOD, "proven", "", 20.0,
            (Deviation("outer", draw.gauss(0, 0.4) + drift * max(0, n - 15), 0.5),), (),
        )
        for n in range(count)
    ]  # fmt: skip


def account() -> Account:
    draw, utc = random.Random(3), "2026-03-04T06:10:00.000Z"
    values = [*(draw.gauss(0, 0.15) for _ in range(22)), 0.9, 0.0, 0.1]
    measured = tuple(Measured(utc, {"outer": (one, 0.6)}) for one in values)
    looked = (
        LookedAt(23, utc, "Tobias", "belt slack, tightened", Cause.RIG, "outer edge since measurement 23: x"),
    )
    return charted(
        Account(CheckUnit("simulated", "Q-KEPT", {}, {}, Watching()), measured, looked, measured[-1])
    )


def words(blocks: list[Block]) -> str:
    said = [one.words for one in blocks if isinstance(one, Said)]
    pairs = [f"{name}: {value}" for one in blocks if isinstance(one, Pairs) for name, value in one.rows]
    cells = [cell.words for one in blocks if isinstance(one, Grid) for row in one.rows for cell in row]
    return "\n".join((*said, *pairs, *cells))


def test_an_order_in_control_is_told_with_its_capability() -> None:
    blocks = list(control_blocks(control_of(lasts(40), 2.0)))
    text = words(blocks)
    assert "this order: in control" in text
    assert "Cpk: " in text
    assert "Anderson-Darling" in text
    assert "Only 40 values" in text
    assert len([one for one in blocks if isinstance(one, Chart)]) == 3


def test_a_drifting_order_names_the_rule_and_where() -> None:
    blocks = list(control_blocks(control_of(lasts(40, 0.1), 2.0)))
    text = words(blocks)
    assert "NOT IN CONTROL at the outer edge" in text
    assert "Ppk: " in text
    assert "Cpk: " not in text
    assert "the exponentially weighted mean beyond its limits" in text


def test_the_check_unit_stands_there_with_who_has_looked() -> None:
    facts = ControlFacts((), account())
    text = words(list(control_blocks(facts)))
    assert "check unit Q-KEPT: in control, last measured 2026-03-04 06:10 UTC" in text
    assert "belt slack, tightened" in text


def test_where_nothing_was_measured_and_nothing_is_kept_there_is_nothing_to_say() -> None:
    assert not list(control_blocks(control_of(lasts(4), 2.0)))


@pytest.mark.parametrize("count", [5, 40, 300])
def test_every_shape_lies_on_its_chart_and_every_signal_has_its_cross(count: int) -> None:
    facts = control_of(lasts(count, 0.1), 2.0)
    drawn = [one for one in control_blocks(facts) if isinstance(one, Chart)]
    for chart in drawn:
        for shape in chart.shapes:
            match shape:
                case Stroke():
                    places = [(shape.x1, shape.y1), (shape.x2, shape.y2)]
                case Words():
                    places = [(shape.x, shape.y)]
                case Area():
                    places = list(shape.corners)
            assert all(0 <= x <= chart.width and 0 <= y <= chart.height for x, y in places)
    found = {one.at for one in facts.edges[0].chart.signals if one.rule != "ewma-beyond-limits"}
    crosses = [one for one in drawn[0].shapes if isinstance(one, Stroke) and one.ink is Ink.BAD]
    assert len(crosses) == 2 * len([at for at in found if at >= count - 200])


def test_the_paper_of_a_check_unit_says_how_it_stands_and_who_is_to_be_looked_at_again() -> None:
    well = check_unit_paper(account(), (), "teachrig", simulated=False)
    assert "Q-KEPT" in well.name
    assert "In control" in html(well)
    assert "SIMULATED" not in html(well)
    worse = account().with_measurement(Measured("2026-03-05T06:10:00.000Z", {"outer": (3.0, 0.6)}))
    text = html(check_unit_paper(worse, ("Q-7", "Q-8"), "teachrig", simulated=True))
    assert "Judged since the last measurement before the signal, to be looked at again: Q-7, Q-8." in text
    assert "SIMULATED" in text
    assert "released by" in text


def html(paper: Paper) -> str:
    return " ".join(paper_html(paper).decode().split())


def test_paper_and_browser_take_it() -> None:
    blocks = tuple(control_blocks(ControlFacts(control_of(lasts(30), 2.0).edges, account())))
    paper = Paper("Order report", "Q-1", "", (Part("Staying in control", blocks),), "foot")
    assert paper_pdf(paper, one_page=False).startswith(b"%PDF")
    assert "belt slack, tightened" in paper_html(paper).decode()
