"""Gyro and accelerometer at rest on the ground: where the aircraft lay still, and what they read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.flight import Span
from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.mean_error import means_of, student

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: s: windows that are judged as a whole, and shortest still span that is used.
WINDOW, SHORTEST = 0.5, 2.0
#: s of each still span looked at, and spans at most.
LONGEST, MOST = 60.0, 20
#: A window is still when its gyro spread is below this many times the quietest tenth's, or the floor, rad/s.
TIMES_QUIETEST, FLOOR = 3.0, 0.002
#: rad/s: no window with a spread or a mean rate above these is still (a gyro's bias is below it; common
#: practice, no source).
LOUDEST, FASTEST = 0.05, 0.2
#: Share of the sample rate between which the noise density is read.
NOISE_BAND = (0.1, 0.4)


@dataclass(frozen=True, slots=True)
class AtRest:
    """Sensors at rest.

    Attributes
    ----------
    spans
        Where the aircraft lay still, s.
    gyro_bias, gyro_noise
        Roll, pitch, yaw: rad/s and rad/s/√Hz.
    accel_norm
        m/s2; local gravity is 9.78 to 9.83.
    accel_noise
        Along x, y, z: m/s2/√Hz.
    """

    spans: tuple[Span, ...]
    gyro_bias: tuple[Measured, ...]
    gyro_noise: tuple[Measured, ...]
    accel_norm: Measured
    accel_noise: tuple[Measured, ...]


def still_rows(rates: Float, rate_hz: float, motors_stopped: Bool | None = None) -> Bool:
    """True (n,) where the aircraft lay still: quiet gyro in a whole window and in both of its neighbours.

    Parameters
    ----------
    rates
        (3, n) rad/s.
    motors_stopped
        (n,) true where no motor is commanded; ``None``: not known, then the quiet of the gyro decides alone.
    """
    length = max(2, int(WINDOW * rate_hz))
    count = rates.shape[1] // length
    rows = np.zeros(rates.shape[1], dtype=bool)
    if count < 2:
        return rows
    windows = rates[:, : count * length].reshape(3, count, length)
    spread = np.sqrt(windows.var(axis=2).max(axis=0))
    speed = np.sqrt(np.sum(windows.mean(axis=2) ** 2, axis=0))
    finite = np.isfinite(spread)
    if not finite.any():
        return rows
    limit = min(max(TIMES_QUIETEST * float(np.percentile(spread[finite], 10)), FLOOR), LOUDEST)
    quiet = finite & (spread < limit) & (speed < FASTEST)
    if motors_stopped is not None:
        quiet &= motors_stopped[: count * length].reshape(count, length).all(axis=1)
    padded = np.concatenate([quiet[:1], quiet, quiet[-1:]])
    quiet = padded[:-2] & quiet & padded[2:]
    rows[: count * length] = np.repeat(quiet, length)
    return rows


def spans_of(rows: Bool, rate_hz: float, start: float = 0.0) -> tuple[Span, ...]:
    """True stretches as spans of time, s, those shorter than 2 s left out."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(np.int8)))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return tuple(
        Span(start + first / rate_hz, start + last / rate_hz)
        for first, last in pairs
        if last - first >= SHORTEST * rate_hz
    )


def at_rest(
    rates: Float,
    accel: Float | None,
    rate_hz: float,
    motors_stopped: Bool | None = None,
    start: float = 0.0,
) -> AtRest:
    """Bias and noise of the sensors where the aircraft lay still.

    Parameters
    ----------
    rates, accel
        (3, n) rad/s and m/s2; ``accel`` may be ``None``.
    start
        s, time of the first sample.
    """
    spans = spans_of(still_rows(rates, rate_hz, motors_stopped), rate_hz)
    if not spans:
        return _nothing(
            f"the aircraft never lay still for {SHORTEST:.0f} s with motors stopped; log 10 s on the ground"
        )
    pieces = [
        slice(round(s.start * rate_hz), round(min(s.end, s.start + LONGEST) * rate_hz)) for s in spans[:MOST]
    ]
    shown = tuple(Span(start + s.start, start + s.end) for s in spans)
    bias = _bias(rates, pieces, rate_hz)
    noise = tuple(_density(rates[axis], pieces, rate_hz, "rad/s/√Hz") for axis in range(3))
    if accel is None:
        why = "acceleration is not logged; log it"
        return AtRest(shown, bias, noise, unmeasured(why, "m/s2"), (unmeasured(why, "m/s2/√Hz"),) * 3)
    norm = np.concatenate([np.sqrt(np.sum(accel[:, piece] ** 2, axis=0)) for piece in pieces])
    level = means_of(norm[None], norm.size / rate_hz).measured(0, "m/s2", "mean at rest")
    shaking = tuple(_density(accel[axis], pieces, rate_hz, "m/s2/√Hz") for axis in range(3))
    return AtRest(shown, bias, noise, level, shaking)


def _nothing(why: str) -> AtRest:
    gyro, dense = unmeasured(why, "rad/s"), unmeasured(why, "rad/s/√Hz")
    accel, accel_dense = unmeasured(why, "m/s2"), unmeasured(why, "m/s2/√Hz")
    return AtRest((), (gyro,) * 3, (dense,) * 3, accel, (accel_dense,) * 3)


def _bias(rates: Float, pieces: list[slice], rate_hz: float) -> tuple[Measured, ...]:
    rows = np.concatenate([rates[:, piece] for piece in pieces], axis=1)
    means = means_of(rows, rows.shape[1] / rate_hz)
    return tuple(means.measured(axis, "rad/s", "mean at rest") for axis in range(3))


def _density(row: Float, pieces: list[slice], rate_hz: float, unit: str) -> Measured:
    """White-noise density: one-sided power density between a tenth and four tenths of the sample rate.

    The median of the band's averaged densities: a line (a fan, mains) in it moves it little.
    """
    length = int(min(2048, max(64, 2 ** int(np.log2(min(p.stop - p.start for p in pieces))))))
    parts = []
    for piece in pieces:
        view = np.lib.stride_tricks.sliding_window_view(row[piece], length)[:: length // 2][:400]
        parts.append(view)
    segments = np.concatenate(parts)
    window = np.hanning(length)
    spectra = np.abs(np.fft.rfft((segments - segments.mean(axis=1, keepdims=True)) * window)) ** 2
    density = 2 * spectra.mean(axis=0) / (rate_hz * np.sum(window**2))
    frequency = np.arange(density.size) / length
    band = density[(frequency >= NOISE_BAND[0]) & (frequency <= NOISE_BAND[1])]
    freedom = 2 * max(1.0, 0.947 * segments.shape[0])  # half overlapped Hann, as in methods.md
    middle = float(np.median(band)) / (1 - 2 / (9 * freedom)) ** 3
    steps = _quantum(row[pieces[0]])
    caveats = (
        ()
        if steps**2 / 12 < 0.3 * float(np.var(row[pieces[0]]))
        else (f"the log's smallest step ({steps:.2g}) makes up much of the noise",)
    )
    value = float(np.sqrt(middle))
    apart = max(2.0, band.size / 2)  # neighbouring bins of a Hann window hang together
    error = float(np.std(band)) / np.sqrt(apart) * 1.25  # of a median
    half = student(apart) * 0.5 * error / max(middle, 1e-300) * value
    return Measured(
        value, max(value - half, 0.0), value + half, unit, "median spectrum at rest", caveats=caveats
    )


def _quantum(row: Float) -> float:
    """Smallest step between values that occur."""
    steps = np.diff(np.unique(row[:20_000]))
    return float(steps.min()) if steps.size else 0.0
