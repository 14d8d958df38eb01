"""Which motor raises which axis, read from a flight.

The mixer of an aircraft maps three axis commands u and a collective c to motor commands, ``m = M u + 1 c``.
From a flight only its least-squares inverse is needed: ``u = matrix @ m`` with
``matrix = (M' M)^-1 M'`` is the differential command that the motors really got, saturation included.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
import numpy.typing as npt

from asflown.core.signal.mean_error import averaged
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: The three balanced patterns of four motors; with the collective they span all of them.
FOUR = np.array([[1.0, 1, -1, -1], [1, -1, 1, -1], [1, -1, -1, 1]])
#: What an estimate from rates looks at, Hz: above trim and wind, below noise and the frame's own modes.
BAND = (1.0, 18.0)
#: Lags from motor command to angular acceleration that are tried, s.
LAGS = np.linspace(0.0, 0.12, 13)
#: Rate that signals are averaged down to for the estimate from rates, Hz.
WORKING_RATE = 100.0
SEGMENT = 4.0
GROUPS = 8
#: Segments at most that an estimate from rates looks at.
SEGMENTS = 120
#: Spread (motor commands 1, rates rad/s) up to which a signal has not moved.
STILL = 1e-6
#: Rows at most that the regression on logged controls looks at (evenly picked: the relation has no memory).
PICKED = 24_000


@dataclass(frozen=True, eq=False)
class MotorMixer:
    """The least-squares inverse of the mixer.

    Attributes
    ----------
    matrix
        (3, motors) rows roll, pitch, yaw: ``matrix @ motors`` is the differential command of each axis; every
        row sums to 0, so the collective falls out. ``None`` where there is a ``reason``.
        From logged controls it has their scale: unsaturated, ``matrix @ motors`` equals the control. From
        rates only the pattern is claimed: the absolute values of each row sum to 1 (four motors: +-1/4).
    certainty
        For roll, pitch and yaw: share of the parts of the flight that give this axis the same pattern, as
        ``(agreeing + 1) / (parts + 2)`` (rule of succession), so it is never 1.
    route
        ``controls``, ``rates, command as instrument`` or ``rates alone``.
    reason
        Why there is no matrix and what to log or fly.
    caveats
        What limits it.
    """

    matrix: Float | None
    certainty: tuple[float, float, float] = (0.0, 0.0, 0.0)
    route: str = ""
    reason: str | None = None
    caveats: tuple[str, ...] = ()

    def differential(self, motors: Float) -> Float:
        """Differential command of each axis, (3, n), of motors (motors, n)."""
        if self.matrix is None:
            raise ValueError(f"no mixer: {self.reason}")
        return self.matrix @ motors


def mixer_from(
    motors: Float,
    control: Float | None,
    rates: Float | None,
    rate_hz: float,
    commands: Float | None = None,
) -> MotorMixer:
    """Which motor raises which axis.

    With logged controls: regression of the motors on them, leaving out saturated rows. Without: regression of
    angular acceleration on motor commands; with the commanded rates as instrument, where given, so that the
    loop's answer to disturbances does not enter.

    Parameters
    ----------
    motors
        (motors, n) motor commands, 1, airborne rows only.
    control
        (3, n) outputs of the rate controller, ``None`` where not logged.
    rates
        (3, n) measured roll, pitch, yaw rate, rad/s, ``None`` where not logged.
    rate_hz
        Samples a second.
    commands
        (3, n) commanded rates, rad/s, ``None`` where not logged.
    """
    count = motors.shape[0]
    if count < 4:
        return MotorMixer(
            None, reason=f"{count} motors are logged; four or more are needed to tell the axes apart"
        )
    seen = _from_rates(motors, rates, rate_hz, commands)
    if control is None:
        return seen
    found = _from_control(motors, control)
    return seen if found.matrix is None and seen.matrix is not None else _agreed(found, seen)


def _agreed(found: MotorMixer, seen: MotorMixer) -> MotorMixer:
    """The mixer from controls, with a caveat for each axis that the measured rates contradict."""
    if found.matrix is None or seen.matrix is None:
        return found
    cosine = [
        float(a @ b / (np.linalg.norm(a) * np.linalg.norm(b) or 1.0))
        for a, b in zip(found.matrix, seen.matrix, strict=True)
    ]
    told = tuple(
        f"the measured {axis} rate falls where its control rises: check the sign of that column"
        for axis, value, sure in zip(AXES, cosine, seen.certainty, strict=True)
        if value < -0.5 and sure > 0.75
    )
    return replace(found, caveats=found.caveats + told)


# --- from logged controls -------------------------------------------------------------------------------


def _from_control(motors: Float, control: Float) -> MotorMixer:
    n = motors.shape[1]
    if n < 200:
        return MotorMixer(None, route="controls", reason="fewer than 200 rows in flight; log a longer flight")
    motors, control, free = _picked_rows(motors, control)
    best: tuple[float, Float, Float, Float] | None = None
    for lag in (0, 1, 2):
        x, y = _centred_pair(motors, control, free, lag)
        gain, explained = _regressed(x, y)
        if best is None or explained > best[0] + 1e-4:
            best = (explained, gain, x, y)
    assert best is not None
    explained, gain, x, y = best
    quiet = [
        axis
        for axis, row, spread in zip(AXES, gain.T, x.std(axis=1), strict=True)
        if not np.abs(row).max() * spread > 1e-5
    ]
    if quiet:
        return MotorMixer(
            None,
            route="controls",
            reason=f"the {' and '.join(quiet)} control moved no motor; fly that axis a few times",
        )
    centred = gain - gain.mean(axis=0)
    matrix = np.linalg.pinv(centred)
    caveats = (
        ()
        if explained > 0.9
        else (f"the controls explain {100 * explained:.0f} % of the differences of the motors",)
    )
    parts = np.array_split(np.arange(x.shape[1]), GROUPS)
    agreeing = sum(_same(_regressed(x[:, part], y[:, part])[0].T, gain.T) for part in parts)
    return MotorMixer(matrix, _succession(agreeing, GROUPS), "controls", caveats=caveats)


def _picked_rows(motors: Float, control: Float) -> tuple[Float, Float, npt.NDArray[np.bool_]]:
    """Runs of eight rows, evenly picked, and which rows have no motor at its end."""
    n = motors.shape[1]
    step = max(1, n // PICKED)
    if step > 1:
        starts = np.arange(0, n - 8, 8 * step)
        rows = (starts[:, None] + np.arange(8)).ravel()
        motors, control = motors[:, rows], control[:, rows]
    low, high = motors.min(), motors.max()
    margin = 0.005 * (high - low)
    free = ((motors > low + margin) & (motors < high - margin)).all(axis=0)
    free &= np.isfinite(control).all(axis=0)
    return motors, control, free


def _centred_pair(
    motors: Float, control: Float, free: npt.NDArray[np.bool_], lag: int
) -> tuple[Float, Float]:
    n = motors.shape[1]
    keep = free[lag:]
    x = control[:, : n - lag][:, keep]
    y = motors[:, lag:][:, keep]
    y = y - y.mean(axis=0)
    return x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)


def _regressed(x: Float, y: Float) -> tuple[Float, float]:
    """Gain (motors, 3) of y on x, and the share of y it explains."""
    if x.shape[1] < 10:
        return np.zeros((y.shape[0], 3)), 0.0
    scale = np.sqrt(np.mean(x**2, axis=1))
    scale[scale == 0] = 1.0
    z = x / scale[:, None]
    square = z @ z.T / z.shape[1]
    gain = np.linalg.lstsq(square, z @ y.T / z.shape[1], rcond=1e-9)[0].T
    total = float(np.sum(y**2))
    left = float(np.sum((y - gain @ z) ** 2))
    return gain / scale, 1 - left / total if total > 0 else 0.0


def _same(part: Float, whole: Float) -> npt.NDArray[np.int64]:
    """For each axis 1 where the two patterns (3, motors) point the same way within 45 deg."""
    lengths = np.linalg.norm(part, axis=1) * np.linalg.norm(whole, axis=1)
    cosine = np.sum(part * whole, axis=1) / np.where(lengths > 0, lengths, 1.0)
    agrees: npt.NDArray[np.int64] = (cosine > np.sqrt(0.5)).astype(np.int64)
    return agrees


def _succession(agreeing: npt.NDArray[np.int64] | int, parts: int) -> tuple[float, float, float]:
    share = (np.broadcast_to(np.asarray(agreeing), (3,)) + 1) / (parts + 2)
    return float(share[0]), float(share[1]), float(share[2])


# --- from measured rates --------------------------------------------------------------------------------


def _from_rates(motors: Float, rates: Float | None, rate_hz: float, commands: Float | None) -> MotorMixer:
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
        agreeing += _same(_patterns(part, basis, cross_motor[group]), matrix)
    caveats = ("from the measured rates: only the pattern is claimed, not the scale",)
    return MotorMixer(matrix, _succession(agreeing, len(groups)), route, caveats=caveats)


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
