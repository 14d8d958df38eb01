"""What a person says of where and how a calibration was done."""

from __future__ import annotations

from asflown.core.calibrate.gravity import ANYWHERE, Gravity, gravity_at
from asflown.errors import UsageError


def gravity_of(latitude: float | None, height: float = 0.0) -> Gravity:
    """Gravity where it was done; anywhere on the ground where nobody says.

    Raises
    ------
    UsageError
        For a latitude or height there is not.
    """
    if latitude is None:
        return ANYWHERE
    try:
        return gravity_at(latitude, height)
    except ValueError as error:
        raise UsageError(str(error), next_step="e.g. --latitude 54 --height 120") from None


def square_of(degrees: float | None) -> float | None:
    """How square a block is said to be, degrees.

    Raises
    ------
    UsageError
        For what is no block.
    """
    if degrees is not None and not 0.01 <= degrees <= 1.0:
        raise UsageError(
            f"a block is square to within 0.01 to 1 degree, not {degrees:g}",
            next_step="leave --square out where it was held by hand",
        )
    return degrees
