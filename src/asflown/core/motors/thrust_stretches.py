"""Stretches of flight made ready for the fit of the thrust curve: picked, slowed, bridged at their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.signal.mean_error import averaged

Float = npt.NDArray[np.float64]

#: Samples a second used: means of whole numbers of rows, which takes the vibration out.
WORKING_RATE = 40.0
#: s: shortest stretch used, what is left out at its ends.
SHORTEST, ENDS = 4.0, 0.5
#: s: more of a flight than this is not looked at; pieces it is then picked from.
LONGEST, PIECE = 240.0, 20.0


@dataclass(frozen=True, eq=False)
class Stretch:
    """One airborne, evenly sampled stretch.

    Attributes
    ----------
    motors
        (motors, n) commands, 1.
    accel_z
        (n,) specific force along z (down), m/s2: about -9.8 in hover.
    voltage
        (n,) V, ``None`` where not logged.
    throttle
        (n,) collective command, as instrument; ``None``: the motors themselves.
    """

    motors: Float
    accel_z: Float
    voltage: Float | None = None
    throttle: Float | None = None


def prepared(stretches: Sequence[Stretch], rate_hz: float, has_voltage: bool) -> list[Part]:
    """The stretches that are looked at, at the working rate."""
    return [
        _prepared(s, rate_hz, has_voltage)
        for s in _busiest(stretches, rate_hz)
        if s.accel_z.size >= SHORTEST * rate_hz
    ]


@dataclass(frozen=True, eq=False)
class Part:
    """A stretch at the working rate: spectra of motors, and what they are to explain."""

    motors: Float  # (motors, length), bridged back to the start behind the stretch
    force: Float  # (n,) specific force upwards, m/s2
    logs: Float  # (length,) log of the voltage, zeros where it is not logged
    throttle: Float | None  # (length,)
    omega: Float
    length: int
    rate: float
    inside: slice


def _busiest(stretches: Sequence[Stretch], rate_hz: float) -> Sequence[Stretch]:
    """All of a short flight; of a long one the pieces with the busiest motors, the first and the last."""
    if sum(s.accel_z.size for s in stretches) <= LONGEST * rate_hz:
        return stretches
    length = int(PIECE * rate_hz)
    starts = [(s, at) for s in stretches for at in range(0, s.accel_z.size - length // 2, length)]
    pieces = [_cut(s, at, length) for s, at in starts]
    step = max(1, int(rate_hz / 10.0))
    moved = [float(np.var(p.motors[:, ::step].mean(axis=0))) for p in pieces]
    moved[0] = moved[-1] = np.inf
    kept = np.sort(np.argsort(moved)[::-1][: int(LONGEST / PIECE)])
    return [pieces[i] for i in kept]


def _cut(whole: Stretch, at: int, length: int) -> Stretch:
    part = slice(at, at + length)
    return Stretch(
        whole.motors[:, part],
        whole.accel_z[part],
        None if whole.voltage is None else whole.voltage[part],
        None if whole.throttle is None else whole.throttle[part],
    )


def has_voltage(stretch: Stretch) -> bool:
    """Whether the pack voltage is there throughout."""
    voltage = stretch.voltage
    return voltage is not None and bool(np.isfinite(voltage).all() and voltage.min() > 0)


def _prepared(stretch: Stretch, rate_hz: float, has_voltage: bool) -> Part:
    step = max(1, int(rate_hz / WORKING_RATE))
    n = stretch.accel_z.size // step
    rate = rate_hz / step

    def slowed(rows: Float) -> Float:
        return averaged(rows, step)

    length = _fast(n + int(rate))
    omega = np.asarray(2 * np.pi * np.arange(length // 2 + 1) * (rate / length), dtype=np.float64)

    def longer(rows: Float) -> Float:
        return np.concatenate([rows, _bridge(rows, length - n)], axis=-1)

    logs = np.zeros(length)
    if has_voltage and stretch.voltage is not None:
        logs = longer(np.log(slowed(stretch.voltage)))
    throttle = None if stretch.throttle is None else longer(slowed(stretch.throttle))
    ends = int(ENDS * rate)
    inside = slice(ends, n - ends)
    motors = longer(slowed(stretch.motors))
    return Part(motors, -slowed(stretch.accel_z), logs, throttle, omega, length, rate, inside)


def _fast(n: int) -> int:
    from scipy.fft import next_fast_len

    return 2 * int(next_fast_len((n + 1) // 2, real=True))


def _bridge(rows: Float, count: int) -> Float:
    """Straight lines from the last samples back to the first: nothing jumps where the transform wraps."""
    way = (np.arange(count) + 1) / (count + 1)
    return np.asarray(rows[..., -1:] + (rows[..., :1] - rows[..., -1:]) * way)
