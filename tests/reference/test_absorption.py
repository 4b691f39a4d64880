"""Atmospheric absorption against the tables of ISO 9613-1 and ISO 9613-2, and against other implementations."""

from __future__ import annotations

import math
from itertools import product
from types import ModuleType

import pytest

from rig.planning.absorption import absorption, relaxation_hz
from rig.planning.air import Air


def midband_hz(label_khz: float) -> float:
    """Exact third-octave midband, 1000 * 10^(k/10), which the tables were computed at."""
    return 1000 * 10 ** (round(10 * math.log10(label_khz)) / 10)


def db_per_km(celsius: float, percent: float, frequency_hz: float) -> float:
    return 1000 * absorption(frequency_hz, Air(celsius, percent)).db_per_m


# ISO 9613-1:1993 table 1, two independent transcriptions: °C, % humidity, midband in kHz, dB/km.
TABLE_1 = [
    (-20, 10, 0.05, 0.589),
    (0, 10, 1, 14.0),
    (0, 50, 1, 6.83),
    (0, 100, 1, 3.37),
    (10, 10, 1, 21.6),
    (10, 10, 4, 57.3),
    (10, 70, 1, 3.66),
    (10, 70, 4, 32.8),
    (15, 100, 10, 105),
    (-20, 100, 10, 47.0),
    (20, 10, 1, 14.1),
    (20, 50, 1, 4.66),
    (20, 70, 1, 4.98),
    (20, 100, 1, 5.42),
    (20, 10, 4, 109),
    (20, 15, 6.3, 175),
    (30, 50, 1, 7.03),
    (30, 50, 4, 24.5),
    (40, 50, 1, 9.52),
    (50, 50, 1, 10.0),
    (50, 10, 8, 155),
    (50, 70, 8, 80.3),
]


@pytest.mark.parametrize(("celsius", "percent", "khz", "published"), TABLE_1)
def test_iso_9613_1_table_1(celsius: float, percent: float, khz: float, published: float) -> None:
    assert db_per_km(celsius, percent, midband_hz(khz)) == pytest.approx(published, rel=5e-3)


@pytest.mark.parametrize(
    ("celsius", "published"),
    # ISO 9613-2:1996 table 2, octave bands 63 Hz to 8 kHz at 70 % humidity, printed to 0.1 dB/km.
    [
        (10, (0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117)),
        (20, (0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6)),
        (30, (0.1, 0.3, 1.0, 3.1, 7.4, 12.7, 23.1, 59.3)),
    ],
)
def test_iso_9613_2_table_2(celsius: float, published: tuple[float, ...]) -> None:
    for khz, wanted in zip((0.063, 0.125, 0.25, 0.5, 1, 2, 4, 8), published, strict=True):
        assert db_per_km(celsius, 70, midband_hz(khz)) == pytest.approx(wanted, abs=0.051, rel=5e-3)


@pytest.mark.parametrize(
    ("celsius", "percent", "wanted"),
    # dB/m at 10, 40, 80, 100, 120, 200, 300, 400 kHz and sea level. No published table goes beyond 10 kHz:
    # three independent implementations of the standard agree on these.
    [
        (20, 50, (0.15884, 1.3182, 2.6060, 3.2804, 4.0428, 8.2282, 16.251, 27.450)),
        (20, 20, (0.28376, 0.78317, 1.5773, 2.1561, 2.8611, 6.9554, 14.947, 26.135)),
        (20, 80, (0.10487, 1.2320, 3.0963, 3.9961, 4.9222, 9.4236, 17.571, 28.817)),
        (0, 50, (0.17212, 0.44979, 1.1933, 1.7491, 2.4281, 6.3778, 14.092, 24.891)),
        (40, 50, (0.090381, 1.0936, 3.6750, 5.2062, 6.7936, 13.432, 23.098, 35.302)),
    ],
)
def test_ultrasound(celsius: float, percent: float, wanted: tuple[float, ...]) -> None:
    for khz, db_per_m in zip((10, 40, 80, 100, 120, 200, 300, 400), wanted, strict=True):
        found = absorption(khz * 1000, Air(celsius, percent))
        assert found.db_per_m == pytest.approx(db_per_m, rel=5e-5)
        assert found.accuracy_percent == 10


def test_thin_air_holds_the_same_vapour() -> None:
    # B.1 divides by the pressure: formula and a second implementation give 1.3916 dB/m, multiplying gives 1.1990.
    assert absorption(40_000, Air(20, 50, 80)).db_per_m == pytest.approx(1.3916, abs=1e-4)


def test_relaxation_frequencies() -> None:
    oxygen_hz, nitrogen_hz = relaxation_hz(Air(20, 50))
    assert oxygen_hz == pytest.approx(35413.86, abs=0.05)
    assert nitrogen_hz == pytest.approx(331.8505, abs=5e-4)


def test_pyfar_agrees_at_sea_level(pyfar_constants: ModuleType) -> None:
    frequencies_hz = [500.0, 8e3, 40e3, 200e3, 400e3, 1.2e6]
    for celsius, percent in product((-25, -20, -5, 2, 23, 48, 55), (0, 3, 20, 60, 100)):
        theirs, _, accuracy = pyfar_constants.air_attenuation(celsius, frequencies_hz, percent / 100)
        for index, frequency_hz in enumerate(frequencies_hz):
            ours = absorption(frequency_hz, Air(celsius, percent))
            claimed = int(accuracy.freq.real[..., index].item())
            assert ours.db_per_m == pytest.approx(theirs[..., index].item(), rel=1e-9)
            assert (ours.accuracy_percent or -1) == claimed, (celsius, percent, frequency_hz)


@pytest.mark.parametrize("frequency_hz", [0.0, -1.0, float("nan"), float("inf")])
def test_no_frequency_is_refused(frequency_hz: float) -> None:
    with pytest.raises(ValueError, match="allowed: more than 0"):
        absorption(frequency_hz, Air(20))
