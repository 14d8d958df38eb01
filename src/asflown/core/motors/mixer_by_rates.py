"""Which motor raises which axis: regression of angular acceleration on the motor commands."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import numpy.typing as npt

from asflown.core.motors.mixer import GROUPS, MotorMixer, certainty_of, same
from asflown.core.signal.mean_error import averaged
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: The three balanced patterns of four motors; with the collective they span all of them.
FOUR = np.array([[1.0, 1, -1, -1], [1, -1, 1, -1], [1, -1, -1, 1]])
#: What is looked at, Hz: above trim and wind, below noise and the frame's own modes.
BAND = (1.0, 18.0)
#: Lags from motor command to angular acceleration that are tried, s.
LAGS = np.linspace(0.0, 0.12, 13)
#: Rate that signals are averaged down to, Hz.
WORKING_RATE = 100.0
#: s of a segment, and segments at most.
SEGMENT, SEGMENTS = 4.0, 120
#: Spread (motor commands 1, rates rad/s) up to which a signal has not moved.
STILL = 1e-6
#: Rows at most that motors are looked at for standing still.
PICKED = 24_000


def from_rates(motors: Float, rates: Float | None, rate_hz: float, commands: Float | None) -> MotorMixer:
    """The mixer of motors (motors, n) and rates (3, n); commands (3, n) are the instrument if given."""
    route = "rates alone" if commands is None else "rates, command as instrument"
    if rates is None:
        return MotorMixer(
            None,
            route=route,
            reason="the measured rates are not known in this log; log roll, pitch and yaw rate",
        )
    n = motors.shape[1]
    if rate_hz < 2.5 * BAND[1] or n / rate_hz < 2 * SEGMENT:
        return MotorMixer(
            None,
            route=route,
            reason=f"{n / rate_hz:.0f} s at {rate_hz:.0f} Hz are too little to tell the motors apart; "
            f"log controls, or at least {2 * SEGMENT:.0f} s in flight at {2.5 * BAND[1]:.0f} Hz or more",
        )
    slowed, working = _averaged(motors, rate_hz)
    turned, _ = _averaged(rates, rate_hz)
    wanted = None if commands is None else _averaged(commands, rate_hz)[0]
    still = _still(motors) or _unmoved(turned, wanted)
    if still:
        return MotorMixer(None, route=route, reason=still)
    basis = _basis(slowed)
    motor_spectra, omega = _spectra(np.tensordot(basis, slowed, axes=1), working)
    rate_spectra, _ = _spectra(turned, working)
    instrument = motor_spectra if wanted is None else _spectra(wanted, working)[0]
    cross_motor, cross_rate = _cross(instrument, motor_spectra), _cross(instrument, rate_spectra)
    whole = _gains(cross_motor.sum(axis=0), cross_rate.sum(axis=0), omega)
    matrix = _patterns(whole, basis, cross_motor)
    groups = np.array_split(np.arange(cross_motor.shape[0]), min(GROUPS, cross_motor.shape[0]))
    agreeing = np.zeros(3, dtype=np.int64)
    for group in groups:
        part = _gains(cross_motor[group].sum(axis=0), cross_rate[group].sum(axis=0), omega)
        agreeing += same(_patterns(part, basis, cross_motor[group]), matrix)
    caveats = ("from the measured rates: only the pattern is claimed, not the scale",)
    return MotorMixer(matrix, certainty_of(agreeing, len(groups)), route, caveats=caveats)


def _still(motors: Float) -> str | None:
    motors = motors[:, :: max(1, motors.shape[1] // PICKED)]
    differences = motors - motors.mean(axis=0)
    silent = [i + 1 for i, row in enumerate(differences) if not row.std() > STILL]
    if silent:
        return f"motor {', '.join(map(str, silent))} never differs from the mean; check the columns"
    return None


def _unmoved(rates: Float, commands: Float | None) -> str | None:
    """Why segments (3, segments, samples) of rates, or of all commands, tell nothing: they stand still."""
    silent = [axis for axis, row in zip(AXES, _moved(rates), strict=True) if not row > STILL]
    if silent:
        return f"the measured {' and '.join(silent)} rate never changes; check the columns and fly that axis"
    if commands is not None and not _moved(commands).max() > STILL:
        return "no commanded rate ever changes; check the columns and fly all axes"
    return None


def _moved(segments: Float) -> Float:
    return np.asarray(segments.std(axis=2).max(axis=1))


def _averaged(rows: Float, rate_hz: float) -> tuple[Float, float]:
    """Segments (rows, segments, samples), half overlapped or evenly picked; and their rate.

    Averaged over whole numbers of rows: the same filter for every signal, so no relation between them moves.
    """
    step = max(1, int(rate_hz / WORKING_RATE))
    length = int(SEGMENT * rate_hz / step)
    last = rows.shape[1] - length * step
    starts = np.arange(0, last + 1, length * step // 2)
    if starts.size > SEGMENTS:
        starts = starts[np.linspace(0, starts.size - 1, SEGMENTS).astype(int)]
    made = np.empty((rows.shape[0], starts.size, length))
    for place, start in enumerate(starts):
        made[:, place] = averaged(rows[:, start : start + length * step], step)
    return made, rate_hz / step


def _basis(motors: Float) -> Float:
    """Three rows that span what the mixer can do: known for four motors, else the three widest directions."""
    count = motors.shape[0]
    if count == 4:
        return FOUR / 4
    moved = np.diff(motors - motors.mean(axis=0), axis=2).reshape(count, -1)
    _, vectors = np.linalg.eigh(moved @ moved.T)
    return np.asarray(vectors[:, -3:].T, dtype=np.float64)


def _spectra(segments: Float, rate: float) -> tuple[Complex, Float]:
    """Hann spectra (rows, segments, bins) in `BAND` and their angular frequency, rad/s."""
    length = segments.shape[2]
    spectra = np.fft.rfft((segments - segments.mean(axis=2, keepdims=True)) * np.hanning(length), axis=2)
    frequency: Float = np.arange(spectra.shape[2]) * (rate / length)
    inside = (frequency >= BAND[0]) & (frequency <= min(BAND[1], 0.4 * rate))
    return spectra[:, :, inside], 2 * np.pi * frequency[inside]


def _cross(one: Complex, other: Complex) -> Complex:
    """Cross spectra (segments, bins, one, other)."""
    first = np.ascontiguousarray(one.transpose(1, 2, 0))[..., :, None].conj()
    return first * np.ascontiguousarray(other.transpose(1, 2, 0))[..., None, :]


def _gains(cross_motor: Complex, cross_rate: Complex, omega: Float) -> Float:
    """Gain (3 axes, 3 directions) from motor directions to angular acceleration, least squares over bins.

    ``i w Y e^{i w lag} = G Q`` under the cross spectra with the instrument, each bin weighted so that it
    counts alike; the lag of motors and delays is the one that leaves the least.
    """
    weight = 1 / np.sqrt(np.sum(np.abs(cross_motor) ** 2, axis=(1, 2)) + 1e-300)
    left = (cross_motor * weight[:, None, None]).reshape(-1, cross_motor.shape[2])
    left = np.concatenate([left.real, left.imag])
    best: tuple[float, Float] | None = None
    for lag in LAGS:
        turned = cross_rate * (weight * 1j * omega * np.exp(1j * omega * lag))[:, None, None]
        right = turned.reshape(-1, cross_rate.shape[2])
        right = np.concatenate([right.real, right.imag])
        gain, *_ = np.linalg.lstsq(left, right, rcond=None)
        rest = np.sum((right - left @ gain) ** 2, axis=0) / np.sum(right**2 + 1e-300, axis=0)
        if best is None or rest.sum() < best[0]:
            best = (float(rest.sum()), gain.T)
    assert best is not None
    return best[1]


def _patterns(gain: Float, basis: Float, cross_motor: Complex) -> Float:
    """Rows (3, motors), absolute values summing to 1."""
    if basis.shape[1] != 4:
        rows = gain @ basis
        rows[2] = np.sign(rows[2])  # every rotor turns one way or the other: equal parts
        scaled: Float = rows / np.maximum(np.sum(np.abs(rows), axis=1, keepdims=True), 1e-300)
        return scaled
    spread = np.sqrt(np.mean(np.abs(cross_motor.sum(axis=0)) ** 2, axis=(0, 1)))
    share = (gain * spread) ** 2
    share /= share.sum(axis=1, keepdims=True) + 1e-300
    chosen = max(permutations(range(3)), key=lambda order: sum(share[a, p] for a, p in enumerate(order)))
    signs = np.sign(gain[np.arange(3), list(chosen)])
    pattern: Float = signs[:, None] * basis[list(chosen)]
    return pattern
