"""The paper of a study: PDF and HTML say the same, charts stay within their picture, figures are those of the study."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from rig.events import Stamped, StudyOpened
from rig.gauge.bias import Bias
from rig.gauge.components import Part
from rig.gauge.course import Course, Reading, Study
from rig.gauge.figures import Figures, Scale
from rig.gauge.told import conclusion_event
from rig.gauge.verdict import conclude
from rig.papers.chart import Area, Chart, Words
from rig.papers.gauge_bias_chart import bias_chart
from rig.papers.gauge_charts import by_level_chart, by_unit_chart, shares_chart
from rig.papers.gauge_study import gauge_study
from rig.papers.paper_html import paper_html
from rig.papers.paper_pdf import paper_pdf
from tests.rig.gauge.test_verdict import figures
from tests.rig.papers.written import closed_up, pages, words_of

SCALE = Scale(
    Bias((50.0, 300.0, 560.0, 800.0), (0.12, 0.08, 0.11, 0.05)), True, 0.05, "2026-01-05", "gauge blocks"
)
UTC = "2026-01-05T07:00:00.000Z"


def study_of(told: Figures) -> Study:
    course = Course(told.design)
    for trial in told.design.trials:
        unit, level = told.design.units.index(trial.unit), told.design.levels.index(trial.level)
        value = told.values.by[unit][level][trial.repeat - 1]
        course.readings[trial] = Reading(value, 0.4, UTC)
    opened = Stamped(1, 0, UTC, told.design.study, "", StudyOpened("G-1", told.design.content(), {}))
    concluded = Stamped(1, 0, UTC, told.design.study, "", conclusion_event(told, conclude(told)))
    return Study(opened, course, True, "0.1.0", concluded)


def within(chart: Chart) -> bool:
    places = []
    for shape in chart.shapes:
        if isinstance(shape, Area):
            places += shape.corners
        elif isinstance(shape, Words):
            places.append((shape.x, shape.y))
        else:
            places += [(shape.x1, shape.y1), (shape.x2, shape.y2)]
    return all(-0.5 <= x <= chart.width + 0.5 and -0.5 <= y <= chart.height + 0.5 for x, y in places)


@settings(max_examples=12)
@given(st.floats(0.01, 2.0), st.floats(0.0, 2.0), st.floats(0.0, 1.0), st.floats(1.0, 30.0))
def test_charts_stay_within_their_picture(
    error: float, level: float, both: float, tolerance_mm: float
) -> None:
    told = figures(error=error, level=(0.0, level, -level / 2), both=both, tolerance_mm=tolerance_mm)
    for chart in (by_unit_chart(told), by_level_chart(told), shares_chart(told), bias_chart(told, SCALE)):
        assert within(chart), chart.title


def test_pdf_and_html_say_what_the_study_comes_to() -> None:
    told = replace(figures(error=0.3, level=(0.0, 0.4, -0.2)), scale=SCALE)
    paper = gauge_study(study_of(told), told, "teachrig 0.1.0")
    pdf = closed_up(" ".join(pages(paper_pdf(paper))))
    html = closed_up(words_of(paper_html(paper)))
    found = conclude(told)
    for words in (
        str(found.fitness),
        found.judging,
        found.telling,
        found.first,
        f"{told.deviation(Part.GAUGE):.4f}",
        f"{100 * told.share_of_tolerance(Part.GAUGE):.1f}",
        *told.bias_words,
        "Graybill and Wang",
        "KEPT-10",
        "Tobias",
        "drawn from seed 1",
        "SIMULATED",
        "released by",
    ):
        assert closed_up(words) in pdf, words
        assert closed_up(words) in html, words


def test_a_record_that_leads_elsewhere_says_so_on_paper() -> None:
    told = figures(error=0.3)
    study = study_of(told)
    other = figures(error=0.9)
    paper = gauge_study(replace(study, concluded=study_of(other).concluded), told, "teachrig 0.1.0")
    assert closed_up("The record does not lead to what was recorded") in closed_up(
        words_of(paper_html(paper))
    )
