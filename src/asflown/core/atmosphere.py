"""The standard atmosphere from sea level to 11 km, and the density of measured air.

Source: ICAO Doc 7488/3 (1993), *Manual of the ICAO Standard Atmosphere* = ISO 2533:1975; constants from
there. Its tables exist by geopotential and by geometric height; each function says which it takes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

#: Standard acceleration of free fall, m/s2.
GRAVITY = 9.80665
#: Specific gas constant of dry air, J/(kg K).
GAS_CONSTANT = 287.05287
#: Temperature, pressure and density at sea level, K, Pa, kg/m3.
SEA_LEVEL_TEMPERATURE = 288.15
SEA_LEVEL_PRESSURE = 101_325.0
SEA_LEVEL_DENSITY = 1.225
#: Of the troposphere, K/m of geopotential height.
LAPSE = -0.0065
#: Nominal radius of the Earth, m.
EARTH_RADIUS = 6_356_766.0
ADIABATIC = 1.4
#: Heights taken, m (geopotential); the troposphere and what Doc 7488/3 tabulates below sea level.
LOWEST, HIGHEST = -5_000.0, 11_000.0
_POWER = -GRAVITY / (LAPSE * GAS_CONSTANT)


@dataclass(frozen=True, slots=True)
class Air:
    """State of the air.

    Attributes
    ----------
    temperature, pressure, density, speed_of_sound
        K, Pa, kg/m3, m/s.
    """

    temperature: float
    pressure: float
    density: float
    speed_of_sound: float


def geopotential(geometric: float) -> float:
    """Geopotential height of a geometric height, m (Doc 7488/3, equation 8)."""
    return EARTH_RADIUS * geometric / (EARTH_RADIUS + geometric)


def geometric(height: float) -> float:
    """Geometric height of a geopotential height, m (Doc 7488/3, equation 9)."""
    return EARTH_RADIUS * height / (EARTH_RADIUS - height)


def standard_air(height: float) -> Air:
    """Standard atmosphere at a **geopotential** height.

    Parameters
    ----------
    height
        m, -5000 to 11 000.

    Raises
    ------
    ValueError
        Outside that range.

    Examples
    --------
    >>> round(standard_air(1000.0).density, 5)
    1.11164
    """
    if not LOWEST <= height <= HIGHEST:
        raise ValueError(
            f"the standard atmosphere is computed from {LOWEST:.0f} m to {HIGHEST:.0f} m, got {height} m"
        )
    temperature = SEA_LEVEL_TEMPERATURE + LAPSE * height
    pressure = SEA_LEVEL_PRESSURE * (temperature / SEA_LEVEL_TEMPERATURE) ** _POWER
    return air_of(pressure, temperature)


def standard_air_geometric(height: float) -> Air:
    """Standard atmosphere at a **geometric** height (a tape measure's), m.

    Examples
    --------
    >>> round(standard_air_geometric(3000.0).density, 6)
    0.909254
    """
    return standard_air(geopotential(height))


def pressure_altitude(pressure: float) -> float:
    """Geopotential height, m, at which the standard atmosphere has this pressure, Pa.

    Raises
    ------
    ValueError
        Where it lies outside -5000 to 11 000 m.
    """
    if not pressure > 0:
        raise ValueError(f"a pressure is above 0 Pa, got {pressure}")
    temperature: float = SEA_LEVEL_TEMPERATURE * (pressure / SEA_LEVEL_PRESSURE) ** (1 / _POWER)
    height: float = (temperature - SEA_LEVEL_TEMPERATURE) / LAPSE
    if not LOWEST - 1e-6 <= height <= HIGHEST + 1e-6:
        raise ValueError(f"{pressure} Pa is no pressure between {LOWEST:.0f} m and {HIGHEST:.0f} m")
    return height


def density_of(pressure: float, temperature: float) -> float:
    """Density of dry air, kg/m3, of measured pressure (Pa) and temperature (K); ideal gas.

    Humid air is lighter, by up to 1 % at 30 °C (common practice, no source); that is left out.

    Raises
    ------
    ValueError
        Where either is not above 0.
    """
    if not (pressure > 0 and temperature > 0):
        raise ValueError(f"pressure and temperature are above 0, got {pressure} Pa and {temperature} K")
    return pressure / (GAS_CONSTANT * temperature)


def air_of(pressure: float, temperature: float) -> Air:
    """State of air of measured pressure (Pa) and temperature (K)."""
    density = density_of(pressure, temperature)
    return Air(temperature, pressure, density, math.sqrt(ADIABATIC * GAS_CONSTANT * temperature))
