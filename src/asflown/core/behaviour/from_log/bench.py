"""A log of an aircraft rocked by hand, propellers off: how it is told from a flight, which motor is which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import permutations

import numpy as np
import numpy.typing as npt

from asflown.core.signal.mean_error import averaged
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Samples a second at which gravity and patterns are looked at.
SLOW_RATE = 25.0
PATTERN_RATE = 100.0
#: Correlation of the specific force's change with that of gravity in a turning frame: at least, in a hand;
#: at most, in flight.
IN_HAND, IN_AIR = 0.6, 0.3
#: Turning, rad/s rms, below which nothing is told.
TURNING = 0.2
#: Share of a motor pattern that its axis must explain.
SURE = 0.6
#: A motor within this share of its range from its end counts as at it, where the end is held this often.
AT_END, HELD = 0.004, 3e-4
#: s to either side of rows at an end that are left out, and their share from which on they are.
MARGIN, DENSE = 0.03, 0.35
#: s without any change after which an output stands still.
STANDS = 0.25
_FOUR = np.array([[1.0, 1, -1, -1], [1, -1, 1, -1], [1, -1, -1, 1]]) / 4


class LogKind(StrEnum):
    """What a log is of."""

    FLIGHT = "a flight"
    BENCH = "an aircraft rocked by hand"
    UNKNOWN = "not told"


@dataclass(frozen=True, slots=True)
class Told:
    """What a log is of, and from what that was told."""

    kind: LogKind
    why: str


def kind_of(
    rates: Float | None, forces: Float | None, rate_hz: float, *, armed: bool | None, output_moves: bool
) -> Told:
    """Tell a flight from an aircraft in a hand.

    In a hand the accelerometer sees gravity turn with the frame, ``da/dt = -w x a``; in flight the rotors
    turn with the frame and it does not (rigid-body kinematics, textbook).

    Parameters
    ----------
    rates, forces
        (3, n) rad/s and m/s2, ``None`` where not logged.
    armed
        Whether the log says armed anywhere; ``None``: it does not say.
    output_moves
        Whether the controller's output or the motors' commands change.
    """
    if armed is False and output_moves:
        return Told(LogKind.BENCH, "the output moves and the log never says armed")
    if rates is None or forces is None:
        return Told(LogKind.UNKNOWN, "rates and specific force are not both logged")
    step = max(1, int(rate_hz / SLOW_RATE))
    w, a = averaged(rates, step), averaged(forces, step)
    if float(np.sqrt(np.mean(np.sum(w[:2] ** 2, axis=0)))) < TURNING:
        return Told(LogKind.UNKNOWN, "the frame hardly turns")
    turned = -np.cross(w, a, axis=0)[:2]
    changed = np.gradient(a, step / rate_hz, axis=1)[:2]
    size = float(np.sqrt(np.sum(turned**2) * np.sum(changed**2)))
    follows = float(np.sum(turned * changed)) / size if size > 0 else 0.0
    said = f"the specific force follows gravity in the turning frame to {follows:.0%}"
    if follows > IN_HAND:
        return Told(LogKind.BENCH, said)
    return Told(LogKind.FLIGHT if follows < IN_AIR else LogKind.UNKNOWN, said)


def pattern_of(
    motors: Float, rates: Float, commands: Float | None, rate_hz: float
) -> tuple[Float | None, str]:
    """Which motor's command follows which axis, of an aircraft whose motors turn nothing.

    Parameters
    ----------
    motors, rates, commands
        (motors, n) commands, (3, n) rad/s each.

    Returns
    -------
    tuple
        (3, motors) rows whose absolute values sum to 1, as `motors.mixer` has them from rates; or ``None``
        and the reason.
    """
    step = max(1, int(rate_hz / PATTERN_RATE))
    error = -rates if commands is None else commands - rates
    e, m = np.diff(averaged(error, step), axis=1), np.diff(averaged(motors, step), axis=1)
    x = np.concatenate([e[:, 1:], np.diff(e, axis=1), np.cumsum(e, axis=1)[:, 1:]])
    y = m[:, 1:] - m[:, 1:].mean(axis=0)
    x, y = x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)
    sizes = np.maximum(x.std(axis=1), 1e-300)
    gains = np.linalg.lstsq((x / sizes[:, None]).T, y.T, rcond=1e-9)[0].T / sizes
    if motors.shape[0] == 4:
        return _of_four(gains, x, y)
    made = np.linalg.pinv(gains[:, :3])
    return made / np.sum(np.abs(made), axis=1, keepdims=True), ""


def _of_four(gains: Float, x: Float, y: Float) -> tuple[Float | None, str]:
    """One balanced pattern to each axis."""
    moved = _FOUR @ y
    parts = np.stack([(_FOUR @ gains)[:, a::3] @ x[a::3] for a in range(3)])
    share = np.array(
        [
            [1 - np.var(moved[p] - parts[a, p]) / max(np.var(moved[p]), 1e-300) for p in range(3)]
            for a in range(3)
        ]
    )
    order = max(permutations(range(3)), key=lambda one: sum(share[a, p] for a, p in enumerate(one)))
    unsure = [axis for a, axis in enumerate(AXES) if share[a, order[a]] < SURE]
    if unsure:
        return None, (
            f"which motors answer {' and '.join(unsure)} is not clear from this log: rock about one axis at a"
            " time"
        )
    signs = np.array([np.sign((_FOUR @ gains)[p, a]) for a, p in enumerate(order)])
    return signs[:, None] * _FOUR[list(order)], ""


def free_rows(signals: Sequence[Float], rate_hz: float, *, moving: Float) -> Bool:
    """(n,) rows in which no signal stands at an end, and the output moves.

    Parameters
    ----------
    signals
        (n,) each: all motors' commands, or the output.
    moving
        (n,) the output.
    """
    n = moving.size
    at_end = np.zeros(n, dtype=np.bool_)
    low, high = min(float(one.min()) for one in signals), max(float(one.max()) for one in signals)
    near = AT_END * (high - low)
    total = sum(one.size for one in signals)
    held_low = sum(int(np.count_nonzero(one < low + near)) for one in signals) > HELD * total + 3
    held_high = sum(int(np.count_nonzero(one > high - near)) for one in signals) > HELD * total + 3
    for one in signals:
        if held_low:
            at_end |= one < low + near
        if held_high:
            at_end |= one > high - near
    margin = max(1, int(MARGIN * rate_hz))
    around = np.ones(2 * margin + 1)
    dense = np.convolve(at_end.astype(float), around / around.size, mode="same") > DENSE
    bad = np.convolve(dense.astype(float), around, mode="same") > 0.5
    return np.asarray(~bad & ~_still(moving, rate_hz))


def _still(values: Float, rate_hz: float) -> Bool:
    """Where nothing changes for `STANDS` s."""
    same = np.concatenate([[False], np.diff(values) == 0])
    edge = np.flatnonzero(np.diff(np.concatenate([[False], same, [False]]).astype(np.int8)))
    still = np.zeros(values.size, dtype=np.bool_)
    for start, end in zip(edge[::2], edge[1::2], strict=True):
        if end - start > STANDS * rate_hz:
            still[start:end] = True
    return still
