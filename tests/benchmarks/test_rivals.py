"""The rivals are what their names say: published examples of each, and independent libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.benchmarks.edges import SimulatedEdge, information_bound
from tests.benchmarks.rivals import adaptive_library, bisection, dixon_mood, probit

# Staircase of steel S34MnV, step 20 MPa, 12 specimens (Open Eng. 10 (2020) 394, doi 10.1515/eng-2020-0048, seen
# second-hand: A = 8, B = 14, N = 5, 282 MPa, 10.6 MPa); a sequence with those counts.
STEEL = [260, 280, 300, 280, 300, 280, 300, 280, 260, 280, 260, 280], [0, 0, 1, 0, 1, 0, 1, 1, 0, 1, 0, 0]
# Made by the same rule: the rarer outcome mirrored, and one over three levels.
MIRRORED = [280, 260, 240, 260, 280, 260, 240], [1, 1, 0, 0, 1, 1, 0]
THREE_LEVELS = [260, 240, 220, 240, 260, 280, 260, 240, 260], [1, 1, 0, 0, 0, 1, 1, 0, 0]


def up_and_down(run: tuple[list[int], list[int]]):
    levels, responses = run
    return dixon_mood([float(level) for level in levels], [bool(one) for one in responses], 20.0)


def test_dixon_and_mood_on_a_published_staircase() -> None:
    found = up_and_down(STEEL)
    assert found.mean == pytest.approx(282.0)
    assert found.standard_deviation == pytest.approx(10.6)
    assert found.count == 5


def test_dixon_and_mood_with_the_rarer_outcome_and_with_wide_scatter() -> None:
    assert up_and_down(MIRRORED).mean == pytest.approx(256.667, abs=1e-3)
    assert up_and_down(THREE_LEVELS).standard_deviation == pytest.approx(17.1396, abs=1e-4)


# Bliss (1935), beetles and carbon disulphide; Finney (1947), rotenone. Fits computed with an independent library.
BLISS = (
    [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839],
    [59.0, 60, 62, 56, 63, 59, 62, 60],
    [6.0, 13, 18, 28, 52, 53, 61, 60],
)
FINNEY = (
    [math.log10(dose) for dose in (2.6, 3.8, 5.1, 7.7, 10.2)],
    [50.0, 48, 46, 49, 50],
    [6.0, 16, 24, 42, 44],
)


def test_probit_on_the_beetles() -> None:
    fit = probit(*BLISS)
    assert (fit.intercept, fit.slope) == pytest.approx((-34.93525, 19.72793), rel=1e-6)
    assert fit.deviance == pytest.approx(10.11976, abs=1e-5)
    assert fit.middle == pytest.approx(1.770852, abs=1e-6)


def test_probit_on_rotenone() -> None:
    fit = probit(*FINNEY)
    assert (fit.intercept, fit.slope) == pytest.approx((-2.887463, 4.213197), rel=1e-6)
    assert fit.middle == pytest.approx(0.685338, abs=1e-6)
    assert fit.middle_error == pytest.approx(0.022068, abs=1e-6)
    assert fit.deviance == pytest.approx(1.73897, abs=1e-5)


def test_probit_agrees_with_statsmodels() -> None:
    api = pytest.importorskip("statsmodels.api", reason="comparison skipped: statsmodels has no wheel here")
    doses, trials, responses = (np.array(column) for column in FINNEY)
    family = api.families.Binomial(link=api.families.links.Probit())
    outcomes = np.column_stack((responses, trials - responses))
    result = api.GLM(outcomes, api.add_constant(doses), family=family).fit()
    fit = probit(*FINNEY)
    assert (fit.intercept, fit.slope) == pytest.approx(tuple(result.params), rel=1e-6)
    assert fit.deviance == pytest.approx(result.deviance, rel=1e-6)


def test_the_information_bound() -> None:
    # log2(500) = 8.966 cells of 1 mm in 500 mm, over 1 - H2(0.02) = 0.8586.
    assert information_bound() == pytest.approx(8.9658 / 0.85856, rel=1e-4)


def test_bisection_from_both_sides_is_off_by_hysteresis() -> None:
    def errors_mm(own_side: bool) -> list[float]:
        edges = [SimulatedEdge(number, false_share=0.0) for number in range(60)]
        reads = [edge.approach if own_side else edge.move for edge in edges]
        answers = [bisection(edge, read, 1) for edge, read in zip(edges, reads, strict=True)]
        return [answer.position_mm - edge.threshold_mm for edge, answer in zip(edges, answers, strict=True)]

    assert abs(np.mean(errors_mm(own_side=True))) < 0.2
    assert np.mean(errors_mm(own_side=False)) > 1.0


def test_the_library_finds_edges() -> None:
    pytest.importorskip("questplus", reason="comparison skipped: questplus is not installed")
    edge = SimulatedEdge(2)
    answer = adaptive_library(edge)
    assert abs(answer.position_mm - edge.threshold_mm) < 1.0
    assert 10 < answer.readings < 40
