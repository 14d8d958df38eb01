"""What the stick commands, as flown: the commanded rate at half and at full deflection."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured

Float = npt.NDArray[np.float64]

#: Deflections looked at: name, place, and how far to either side samples are taken.
PLACES = {"command_at_half_stick": (0.5, 0.15), "command_at_full_stick": (1.0, 0.12)}
#: Fewest moments at which the stick moved to another place in there.
FEWEST = 12
#: Residual, as a share of the rate, from which on the stick alone does not make the command.
LOOSE = 0.06
_UNIT = "rad/s"
_LOOSE = "the command is not made by the stick alone (self-levelling, or the stick is logged late)"


def commanded(stick: npt.ArrayLike, command: npt.ArrayLike) -> dict[str, Measured]:
    """Commanded rate, rad/s, at each of `PLACES`.

    Parameters
    ----------
    stick, command
        (n,) 1, and rad/s; either sense of the stick.

    Notes
    -----
    A straight line through the samples near the place, both sides together. The error is that of the line's
    height with as many samples as the stick took places: a log repeats what the receiver sent last.
    """
    x = np.asarray(stick, dtype=np.float64)
    y = np.asarray(command, dtype=np.float64)
    moved = np.concatenate([[True], np.diff(x) != 0.0])
    x, y = x[moved], y[moved]
    fine = np.isfinite(x) & np.isfinite(y)
    x, y = x[fine], y[fine]
    side = np.sign(np.sum(x * y))
    return {name: _at(np.abs(x), side * np.sign(x) * y, *place) for name, place in PLACES.items()}


def _at(deflection: Float, rate: Float, place: float, width: float) -> Measured:
    near = np.abs(deflection - place) < width
    if int(near.sum()) < FEWEST or (place < 1.0 and not _both_sides(deflection[near], place)):
        return unmeasured(f"the stick was hardly at {place:.0%} of its way; move it there", _UNIT)
    basis = np.stack([np.ones(int(near.sum())), deflection[near] - place], axis=1)
    numbers, *_ = np.linalg.lstsq(basis, rate[near], rcond=None)
    left = rate[near] - basis @ numbers
    spread = float(np.sqrt(np.sum(left**2) / max(left.size - 2, 1)))
    value = float(numbers[0])
    if not value > 0.0 or spread > LOOSE * value:
        return unmeasured(_LOOSE, _UNIT)
    gram = np.linalg.pinv(basis.T @ basis)
    half = 1.96 * spread * float(np.sqrt(gram[0, 0]))
    return Measured(value, value - half, value + half, _UNIT, "stick")


def _both_sides(near: Float, place: float) -> bool:
    return bool(np.any(near < place) and np.any(near > place))
