"""Bench positions: what a unit taught in the shop's air does in the machine's."""

from __future__ import annotations

import math
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.planning.absorption import relaxation_hz
from rig.planning.air import Air, AirOutOfRange, speed_of_sound_m_s
from rig.planning.bench_position import UNCOMPENSATED, AirDoubt, AirRange, AirTransfer, Compensation
from rig.statistics.uncertainty import combine

BENCH = Air(23, 45)
COLD_STORE = Air(2, 85)
STORE_OVER_THE_YEAR = AirRange(coldest_c=0, warmest_c=8, driest_percent=70, dampest_percent=95)

airs = st.builds(Air, st.floats(-30, 60), st.floats(0, 100), st.floats(60, 110))
compensations = st.one_of(st.just(UNCOMPENSATED), st.builds(Compensation, st.floats(0, 0.17)))


def test_far_edge_of_the_bins_is_taught_further_out() -> None:
    # Ratio of Cramer's speeds, 344.93 m/s at 23 °C and 332.92 m/s at 2 °C, independent of this code to 0.04 m/s.
    transfer = AirTransfer(COLD_STORE, BENCH)
    assert transfer.bench_position_mm(420) == pytest.approx(436.2, abs=0.1)
    assert transfer.bench_position_mm(180) == pytest.approx(186.9, abs=0.1)
    assert transfer.machine_distance_mm(420) == pytest.approx(404.4, abs=0.1)


@given(airs, airs, st.floats(20, 6000))
def test_the_echo_takes_as_long_on_the_bench_as_at_the_machine(
    machine: Air, bench: Air, distance_mm: float
) -> None:
    bench_mm = AirTransfer(machine, bench).bench_position_mm(distance_mm)
    there_s, here_s = (
        2 * way_mm / speed_of_sound_m_s(air).value_m_s
        for way_mm, air in ((distance_mm, machine), (bench_mm, bench))
    )
    assert here_s == pytest.approx(there_s, rel=1e-12)


@pytest.mark.parametrize(("celsius", "shown_mm", "within_mm"), [(0, 482.65, 0.01), (40, 516.70, 0.02)])
def test_a_unit_that_ignores_the_air_misreads(celsius: float, shown_mm: float, within_mm: float) -> None:
    # Where the echo takes 2912.33 us, as from 500 mm in dry air at 20 °C: Cramer's speeds, worked out by hand.
    machine, bench = (Air(temperature_c, 0, co2_ppm=314) for temperature_c in (20, celsius))
    assert 1e6 / speed_of_sound_m_s(machine).value_m_s == pytest.approx(2912.33, abs=0.01)
    assert AirTransfer(machine, bench).bench_position_mm(500) == pytest.approx(shown_mm, abs=within_mm)


@given(airs, airs, compensations, st.floats(20, 10_000))
def test_round_trip_to_a_micrometre(
    machine: Air, bench: Air, compensation: Compensation, distance_mm: float
) -> None:
    transfer = AirTransfer(machine, bench, compensation)
    assert transfer.machine_distance_mm(transfer.bench_position_mm(distance_mm)) == pytest.approx(
        distance_mm, abs=1e-3
    )


@given(airs, airs, airs, st.floats(20, 6000))
def test_a_warmer_bench_needs_a_target_further_out(
    machine: Air, one: Air, other: Air, distance_mm: float
) -> None:
    slow, fast = sorted((one, other), key=lambda air: speed_of_sound_m_s(air).value_m_s)
    near, far = (AirTransfer(machine, bench).bench_position_mm(distance_mm) for bench in (slow, fast))
    assert near <= far


def test_a_compensated_unit_is_taught_where_it_shall_switch() -> None:
    transfer = AirTransfer(COLD_STORE, BENCH, Compensation(0.02))
    assert transfer.bench_position_mm(420) == 420


def test_drift_of_an_uncompensated_unit_is_the_drift_of_sound() -> None:
    # 0 to 8 °C about 2 °C: 0.18 % per kelvin (half a part in T = 275 K), humidity adds less than 0.15 %.
    band = AirTransfer(COLD_STORE, BENCH).drift_band_mm(420, STORE_OVER_THE_YEAR)
    assert 420 - band.nearest_mm == pytest.approx(420 * 2 * 0.00182, abs=0.3)
    assert band.farthest_mm - 420 == pytest.approx(420 * 6 * 0.00182, abs=0.3)


def test_drift_of_a_compensated_unit_is_its_residual_and_the_humidity_it_cannot_feel() -> None:
    transfer = AirTransfer(COLD_STORE, Air(20, 50), Compensation(0.02))
    band = transfer.drift_band_mm(420, AirRange(0, 8, 50, 50))
    # 20 K off at the coldest, and no change of humidity against the assumed 50 %.
    assert band.farthest_mm - 420 == pytest.approx(420 * 20 * 0.0002, abs=1e-9)
    assert 420 - band.nearest_mm == pytest.approx(band.farthest_mm - 420)
    damp = transfer.drift_band_mm(420, AirRange(0, 8, 50, 100))
    assert damp.farthest_mm > band.farthest_mm


@given(st.floats(-30, 50), st.floats(0, 10), st.floats(0, 90), st.floats(0, 10), st.data())
def test_no_air_of_the_range_leaves_the_band(
    coldest_c: float, kelvin: float, driest: float, percent: float, data: st.DataObject
) -> None:
    airs = AirRange(coldest_c, coldest_c + kelvin, driest, driest + percent)
    transfer = AirTransfer(COLD_STORE, BENCH)
    band = transfer.drift_band_mm(420, airs)
    celsius = data.draw(st.floats(airs.coldest_c, airs.warmest_c))
    air = Air(celsius, data.draw(st.floats(airs.driest_percent, airs.dampest_percent)))
    place_mm = AirTransfer(air, BENCH).machine_distance_mm(transfer.bench_position_mm(420))
    assert band.nearest_mm - 1e-9 <= place_mm <= band.farthest_mm + 1e-9


def test_components_name_what_to_measure_better() -> None:
    rows = AirTransfer(COLD_STORE, BENCH).components(420, AirDoubt(1, 10), AirDoubt(0.5, 5))
    budget = combine(rows)
    worst = max(budget.components, key=lambda row: row.contribution)
    assert worst.name == "temperature, machine"
    # 0.182 % per kelvin of 420 mm, plus or minus 1 K as a rectangle.
    assert worst.contribution == pytest.approx(420 * 0.00182 / math.sqrt(3), rel=0.05)
    assert budget.combined == pytest.approx(0.53, abs=0.02)


def test_components_cover_what_a_wrong_air_reading_does() -> None:
    # The bench is really 0.5 K warmer than it reads: the set point moves by no more than that row's half-width.
    rows = {
        row.name: row
        for row in AirTransfer(COLD_STORE, BENCH).components(420, AirDoubt(0, 0, 0), AirDoubt(0.5, 0, 0))
    }
    told_mm = AirTransfer(COLD_STORE, BENCH).bench_position_mm(420)
    really_mm = AirTransfer(COLD_STORE, Air(23.5, 45)).machine_distance_mm(told_mm)
    half_width_mm = math.sqrt(3) * rows["temperature, bench"].contribution
    assert abs(really_mm - 420) == pytest.approx(half_width_mm, rel=0.02)


def test_a_wide_doubt_is_judged_by_both_its_ends() -> None:
    row = AirTransfer(COLD_STORE, BENCH).components(420, AirDoubt(30, 0, 0), AirDoubt(0, 0, 0))[2]
    speeds = [speed_of_sound_m_s(Air(celsius, 85)).value_m_s for celsius in (-28, 2, 32)]
    half_width_mm = 420 * (speeds[2] - speeds[0]) / 2 / speeds[1]
    assert row.contribution == pytest.approx(half_width_mm / math.sqrt(3), rel=1e-9)


@pytest.mark.parametrize("percent", [0, 100])
def test_a_doubt_at_the_end_of_the_scale(percent: float) -> None:
    row = AirTransfer(Air(20, percent), BENCH).components(420, AirDoubt(0, 10, 0), AirDoubt(0, 0, 0))[3]
    # 0.63 m/s from dry to half saturated at 20 °C (Cramer): 10 % is 0.13 m/s of 344, as a rectangle.
    assert row.contribution == pytest.approx(420 * 0.126 / 344 / math.sqrt(3), rel=0.02)


def test_residual_of_a_compensated_unit_is_its_only_component() -> None:
    transfer = AirTransfer(Air(2, 50), Air(22, 50), Compensation(0.02))
    (row,) = transfer.components(420, AirDoubt(1, 0), AirDoubt(0.5, 0))
    assert row.contribution == pytest.approx(420 * 0.0002 * (20 + 1 + 0.5) / math.sqrt(3))


def dispersion(frequency_hz: float, air: Air) -> float:
    """Part by which a burst outruns sound at zero frequency (Morfey and Howell, AIAA J. 18 (1980), from memory)."""
    oxygen_hz, nitrogen_hz = relaxation_hz(air)
    kelvin = air.temperature_k
    slow = sum(
        strength * math.exp(-theta_k / kelvin) / (1 + (relaxation / frequency_hz) ** 2)
        for strength, theta_k, relaxation in ((0.01275, 2239.1, oxygen_hz), (0.1068, 3352, nitrogen_hz))
    )
    return speed_of_sound_m_s(air).value_m_s * (kelvin / 293.15) ** -2.5 * slow / (2 * math.pi)


def test_dispersion_stays_below_its_row_of_the_budget() -> None:
    row = AirTransfer(COLD_STORE, BENCH).components(1, AirDoubt(1, 10), AirDoubt(1, 10))[0]
    half_width = math.sqrt(3) * row.contribution
    worst = max(
        abs(dispersion(hz, bench) - dispersion(hz, machine))
        for hz in (40e3, 120e3, 200e3, 400e3)
        for bench in (Air(celsius, percent) for celsius, percent in product((18, 23, 28), (20, 50, 80)))
        for machine in (
            Air(celsius, percent) for celsius, percent in product(range(-25, 61, 5), (10, 50, 100))
        )
    )
    assert half_width / 2 < worst < half_width


@pytest.mark.parametrize("residual", [-0.01, 1.0, math.nan])
def test_a_residual_that_is_none_is_refused(residual: float) -> None:
    with pytest.raises(ValueError, match="allowed: 0 to less than 1"):
        Compensation(residual)


def test_a_range_that_falls_is_refused() -> None:
    with pytest.raises(ValueError, match="coldest to warmest"):
        AirRange(8, 0)
    with pytest.raises(AirOutOfRange):
        AirRange(0, 90)
