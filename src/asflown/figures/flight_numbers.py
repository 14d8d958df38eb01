"""Arrays and measured numbers as figures take and captions say them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.measured import Measured

if TYPE_CHECKING:
    import numpy.typing as npt

    Numbers = npt.NDArray[np.floating]

#: At most this many points of a line: more are not seen, and a page stays light.
MOST_POINTS = 600


def floats(values: Numbers) -> tuple[float, ...]:
    """An array as plain floats."""
    return tuple(float(value) for value in values)


def kept(x: Numbers, *, is_log: bool = False, most: int = MOST_POINTS) -> npt.NDArray[np.intp]:
    """Places of at most ``most`` points, evenly spread along the axis (on a log axis: by decade)."""
    if x.size <= most:
        return np.arange(x.size)
    if not is_log:
        return np.unique(np.linspace(0, x.size - 1, most).round().astype(np.intp))
    start = max(float(x[x > 0][0]), 1e-12)
    wanted = np.geomspace(start, float(x[-1]), most)
    return np.unique(np.clip(np.searchsorted(x, wanted), 0, x.size - 1))


def said(number: Measured, digits: int = 3) -> str:
    """A measured number in a caption: ``6.2 Hz (6.1 to 6.3)``, or that it is not known."""
    if number.value is None or number.low is None or number.high is None:
        return "not known"
    unit = "" if number.unit == "1" else f" {number.unit}"
    return (
        f"{plain(number.value, digits)}{unit} ({plain(number.low, digits)} to {plain(number.high, digits)})"
    )


def plain(value: float, digits: int = 3) -> str:
    """A number with so many figures, without an exponent where it can be.

    Examples
    --------
    >>> plain(0.012345), plain(1234.5), plain(6.2)
    ('0.0123', '1234', '6.2')
    """
    if value == 0:
        return "0"
    if not math.isfinite(value):
        return f"{value:g}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(places, 9)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def decibels(power: Numbers) -> npt.NDArray[np.float64]:
    """10 log10 of a power, not a number where there is none."""
    clean = np.asarray(power, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        made: npt.NDArray[np.float64] = 10.0 * np.log10(np.where(clean > 0, clean, np.nan))
    return made
