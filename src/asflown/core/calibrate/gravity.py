"""Local gravity, by latitude and height, or what is known of it where nobody says where it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

#: m/s2. Standard acceleration of free fall (CGPM 1901); what the field holds on the ground anywhere.
STANDARD = 9.80665
LEAST, MOST = 9.764, 9.834


@dataclass(frozen=True, slots=True)
class Gravity:
    """m/s2, and its standard error."""

    value: float
    error: float

    @property
    def is_stated(self) -> bool:
        """Whether somebody said where it is."""
        return self.error < 0.01


#: Where nobody says: evenly likely between the least and the most on the ground.
ANYWHERE = Gravity(STANDARD, (MOST - LEAST) / math.sqrt(12.0))
#: m/s2: what local rock adds or takes (common practice, no source).
_ANOMALY = 0.0005


def gravity_at(latitude: float, height: float = 0.0) -> Gravity:
    """Normal gravity of the WGS 84 ellipsoid (Somigliana's formula; NIMA TR8350.2, from memory).

    Parameters
    ----------
    latitude
        Degrees, -90 to 90.
    height
        m above the sea.

    Raises
    ------
    ValueError
        For a latitude or height outside -90 to 90 degrees, -500 to 9000 m.

    Examples
    --------
    >>> round(gravity_at(45.0).value, 4)
    9.8062
    """
    if not -90.0 <= latitude <= 90.0 or not -500.0 <= height <= 9000.0:
        raise ValueError("a latitude is -90 to 90 degrees, a height -500 to 9000 m")
    square = math.sin(math.radians(latitude)) ** 2
    sea = 9.7803253359 * (1.0 + 0.00193185265241 * square) / math.sqrt(1.0 - 0.00669437999013 * square)
    return Gravity(sea - 3.086e-6 * height, _ANOMALY)
