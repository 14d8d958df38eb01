"""The standard atmosphere against ICAO Doc 7488/3's closed form and the ambiance library (1.3.1, geometric)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.atmosphere import (
    air_of,
    density_of,
    geometric,
    geopotential,
    pressure_altitude,
    standard_air,
    standard_air_geometric,
)

# Height m; geometric T, p, rho, a (ambiance 1.3.1); geopotential T, p, rho (closed form of Doc 7488/3);
# sqrt(rho0 / rho) at geometric height.
TABLE = [
    (0, 288.1500, 101325.000, 1.225000, 340.2940, 288.150, 101325.000, 1.225000, 1.000000),
    (500, 284.9003, 95461.285, 1.167273, 338.3696, 284.900, 95460.835, 1.167269, 1.024429),
    (1000, 281.6510, 89876.278, 1.111660, 336.4346, 281.650, 89874.563, 1.111642, 1.049741),
    (1500, 278.4023, 84559.666, 1.058104, 334.4886, 278.400, 84555.994, 1.058067, 1.075979),
    (2000, 275.1541, 79501.411, 1.006554, 332.5316, 275.150, 79495.202, 1.006490, 1.103188),
    (3000, 268.6592, 70121.144, 0.909254, 328.5836, 268.650, 70108.526, 0.909122, 1.160714),
]


@pytest.mark.parametrize("row", TABLE, ids=[str(row[0]) for row in TABLE])
def test_table_by_geometric_and_by_geopotential_height(row):
    height, t, p, rho, a, t2, p2, rho2, power = row
    taped, level = standard_air_geometric(height), standard_air(height)
    found = (taped.temperature, taped.pressure, taped.density, taped.speed_of_sound)
    assert found == pytest.approx((t, p, rho, a), rel=1e-5)
    assert (level.temperature, level.pressure, level.density) == pytest.approx((t2, p2, rho2), rel=1e-5)
    assert math.sqrt(1.225 / taped.density) == pytest.approx(power, rel=1e-5)


def test_against_ambiance_up_to_eleven_kilometres():
    ambiance = pytest.importorskip("ambiance")
    heights = np.linspace(-1000, 11000, 25)
    outside = ambiance.Atmosphere(heights)
    ours = [standard_air_geometric(h) for h in heights]
    for name in ("temperature", "pressure", "density", "speed_of_sound"):
        np.testing.assert_allclose([getattr(air, name) for air in ours], getattr(outside, name), rtol=1e-6)
    np.testing.assert_allclose(
        [geopotential(h) for h in heights], ambiance.Atmosphere.geom2geop_height(heights), rtol=1e-9
    )


@given(st.floats(-4999, 10999))
def test_pressure_altitude_undoes_the_pressure(height):
    assert pressure_altitude(standard_air(height).pressure) == pytest.approx(height, abs=1e-6)
    assert geopotential(geometric(height)) == pytest.approx(height, abs=1e-6)


def test_measured_air_is_an_ideal_gas():
    assert density_of(101_325, 288.15) == pytest.approx(1.225, rel=1e-6)
    assert air_of(90_000, 303.15).density == pytest.approx(90_000 / 287.05287 / 303.15)


@pytest.mark.parametrize("height", [-5001.0, 11_001.0, math.nan, math.inf])
def test_heights_outside_are_refused(height):
    with pytest.raises(ValueError, match="from -5000 m to 11000 m"):
        standard_air(height)


@pytest.mark.parametrize("pressure", [0.0, -1.0, math.nan, 1000.0, 300_000.0])
def test_pressures_outside_are_refused(pressure):
    with pytest.raises(ValueError, match="Pa"):
        pressure_altitude(pressure)
    if not pressure > 0:
        with pytest.raises(ValueError, match="above 0"):
            density_of(pressure, 288.0)
