"""The straight line against the GUM's worked example and other people's code."""

from __future__ import annotations

import pytest
import statsmodels.api as sm
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.stats import linregress

from rig.statistics.line import fit_line

# JCGM 100:2008, annex H.3, table H.6: calibration of a thermometer (from memory; that the printed results come out of
# it to the last digit is the proof).
T_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B_C = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def test_the_thermometer_of_the_gum() -> None:
    line = fit_line([one - 20 for one in T_C], B_C)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert line.covariance / line.u_intercept / line.u_slope == pytest.approx(-0.930, abs=5e-4)
    assert line.scatter == pytest.approx(0.0035, abs=5e-5)
    # H.3.4: the correction at 30 degrees C, with its uncertainty.
    assert line.at(10) == pytest.approx(-0.1494, abs=5e-5)
    assert line.u_at(10) == pytest.approx(0.0041, abs=5e-5)


@given(st.lists(st.tuples(st.integers(0, 5000), st.integers(-3000, 3000)), min_size=3, max_size=15))
@example([(0, 42), (1, 42), (42, 42)])
def test_as_scipy_and_statsmodels_fit_it(pairs: list[tuple[int, int]]) -> None:
    x, y = [float(one) for one, _ in pairs], [one + other / 1000 for one, other in pairs]
    if len(set(x)) < 3:
        return
    line, other = fit_line(x, y), linregress(x, y)
    fitted = sm.OLS(y, sm.add_constant(x)).fit()
    assert line.slope == pytest.approx(other.slope, abs=1e-9)
    assert line.intercept == pytest.approx(other.intercept, abs=1e-6)
    # scipy takes its standard errors from 1 - r^2, which leaves half the digits where the points lie on the line.
    assert line.u_slope == pytest.approx(other.stderr, rel=1e-5, abs=1e-7 * (1 + abs(line.slope)))
    assert line.u_intercept == pytest.approx(other.intercept_stderr, rel=1e-5, abs=1e-7 * max(x) + 1e-6)
    assert line.u_slope == pytest.approx(fitted.bse[1], rel=1e-5, abs=1e-9)
    assert line.covariance == pytest.approx(fitted.cov_params()[0][1], rel=1e-4, abs=1e-9)


@pytest.mark.parametrize("x", [[1.0, 2.0], [3.0, 3.0, 3.0]])
def test_too_few_places_make_no_line(x: list[float]) -> None:
    with pytest.raises(ValueError, match=r"pairs|place"):
        fit_line(x, x)
