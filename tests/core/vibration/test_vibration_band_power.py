"""Band power of real flights: data of Hurwitz & Klein, arXiv:2310.13452, CC BY 4.0, eight flights of one quadrotor.

Read from the folder ``shared`` beside the project; 120 Hz, so that rotor lines fold into the bands.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from asflown.core.vibration.band_power import (
    BANDS,
    band_power,
    compare_band_power,
    flight_against,
    range_limit,
)
from asflown.errors import InputError

FOLDER = Path(__file__).parents[4] / "shared" / "data" / "quad4imu_dev"


def real(imu, column):
    if not FOLDER.is_dir():
        pytest.skip(f"{FOLDER} is not here: real flights not checked")
    import polars

    out = {}
    for number in range(1, 9):
        table = polars.read_parquet(FOLDER / f"horizontal_path_{number}.parquet")
        values = table.filter(polars.col("imu") == imu)[column].to_numpy().astype(np.float64)
        out[f"path {number}"] = band_power(np.radians(values), 120.0)
    return out


@pytest.mark.shared_data
def test_scatter_between_real_flights_is_the_one_stated_with_the_data():
    # the data's ABOUT: 3.2 2.6 2.3 0.8 1.7 0.4 dB, found with other windows than ours
    found = compare_band_power(real(1, "gyro_x_dps"))
    for one, stated in zip(found, (3.2, 2.6, 2.3, 0.8, 1.7, 0.4), strict=True):
        assert one.scatter.low < stated < one.scatter.high
        assert one.scatter.value == pytest.approx(stated, rel=0.3)


@pytest.mark.shared_data
@pytest.mark.parametrize("imu", [1, 2])
@pytest.mark.parametrize("column", ["gyro_x_dps", "gyro_y_dps", "gyro_z_dps"])
def test_no_pair_of_real_flights_is_called_different(imu, column):
    found = compare_band_power(real(imu, column))
    assert [len(one.pairs) for one in found] == [28] * 6
    assert not any(pair.is_different for one in found for pair in one.pairs)


@pytest.mark.shared_data
def test_intervals_within_a_flight_would_call_them_different():
    # the trap: from within single flights the first band would look known to 0.4 dB, where flights scatter by 3.7
    first = compare_band_power(real(1, "gyro_x_dps"))[0]
    assert first.scatter.value > 3.0 * first.within


def noise(seed, scale=1.0, seconds=40.0, rate=120.0):
    return scale * np.random.default_rng(seed).standard_normal(round(seconds * rate))


def test_power_of_white_noise_is_density_times_width():
    # one-sided density of white noise: 2 s²/fs (check-values 1.2)
    found = band_power(noise(3, 0.5), 120.0)
    for one in found[2:]:
        true = 2.0 * 0.25 / 120.0 * (one.band[1] - one.band[0])
        assert one.power.value == pytest.approx(true, rel=0.15)


def test_interval_of_white_noise_covers():
    inside = [
        one.power.low <= 2.0 / 120.0 * 20.0 <= one.power.high
        for seed in range(400)
        for one in band_power(noise(seed), 120.0, [(20.0, 40.0)])
    ]
    # 400 flights of one band: the share's own 95 % bound is about 2 %
    assert 0.91 <= np.mean(inside) <= 0.985


def test_pairs_of_alike_flights_are_called_different_in_one_set_of_twenty():
    sets = 150
    random = np.random.default_rng(5)
    called = 0
    for number in range(sets):
        scales = 10.0 ** (random.standard_normal(6) * 2.0 / 20.0)
        flights = {
            str(i): band_power(noise(1000 * number + i, s, 16.0), 120.0, [(8.0, 20.0)])
            for i, s in enumerate(scales)
        }
        called += any(pair.is_different for one in compare_band_power(flights) for pair in one.pairs)
    assert called / sets < 0.10


def test_range_limit_is_the_published_one():
    # David, Hartley & Pearson 1954: 3.40 for eight values at 5 % (from memory)
    assert range_limit(8, 0.05) == pytest.approx(3.40, abs=0.01)


def test_louder_flight_is_told_against_a_set_it_does_not_belong_to():
    flights = {str(i): band_power(noise(i, 1.0 + 0.05 * i), 120.0) for i in range(6)}
    louder = flight_against(flights, band_power(noise(99, 6.0), 120.0))
    alike = flight_against(flights, band_power(noise(98, 1.1), 120.0))
    assert all(one.low > 0.0 for one in louder[2:])
    assert all(one.low <= 0.0 <= one.high for one in alike)


def test_too_little_is_refused():
    with pytest.raises(InputError, match="4 or more"):
        compare_band_power({"a": band_power(noise(1), 120.0)})
    with pytest.raises(InputError, match="needed for band power"):
        band_power(noise(1, seconds=5.0), 120.0)


def test_band_above_half_the_log_rate_has_a_reason():
    found = band_power(noise(1), 100.0, BANDS)
    assert "half the log rate" in found[-1].power.reason
    assert math.isinf(found[-1].decibels)
