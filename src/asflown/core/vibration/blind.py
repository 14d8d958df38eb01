"""A moving rotor line followed without speed telemetry: short frames, dynamic programming, harmonics.

The line followed is the middle of the cluster the rotors make; the level of an order is what stands above
the floor in the band of frequencies around it that no other order reaches (0.7 to 1.4 times it).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured
from asflown.core.signal.aliasing import folded
from asflown.core.vibration.frames import Frames, frames_of, good_length
from asflown.core.vibration.intervals import CHOSEN, ratio, rms_of, weighed
from asflown.core.vibration.levels import groups_of, unit_of
from asflown.core.vibration.result import BLIND, RotorLine
from asflown.core.vibration.stretches import Sampled

FloatArray = npt.NDArray[np.float64]

#: s, frame and hop.
_FRAME, _HOP = 0.128, 0.032
#: Hz: the lowest rotor speed looked for, and Hz/s the line may move.
_SLOWEST, _SLOPE = 45.0, 1200.0
#: The band of an order, as a share of its frequency.
BAND = (0.70, 1.40)
_HARMONIC = 0.5  # weight of the second harmonic in the score
#: Share of its range a line has to stand above the floor to count, in natural log units (averaged along the
#: ridge).
_STANDS = 1.4


@dataclass(frozen=True, eq=False)
class Ridge:
    """The line followed.

    Attributes
    ----------
    speed
        (frames,) rev/s.
    contrast
        Mean height above the floor along it, natural log of power.
    frames
        Of all stretches, in a row: power (channels, frames, nf).
    """

    speed: FloatArray
    contrast: float
    frames: Frames

    @property
    def is_found(self) -> bool:
        """Whether it stands out."""
        return self.contrast > _STANDS


def follow(flown: Sampled, around: tuple[float, float] | None = None) -> Ridge | None:
    """Follow the first order in rate and acceleration signals.

    Parameters
    ----------
    around
        Lowest and highest rotor speed to look for, rev/s.
    """
    frame, hop = good_length(_FRAME, flown.rate_hz), max(1, round(_HOP * flown.rate_hz))
    whole = frames_of(flown.values, flown.rate_hz, frame, hop)
    if whole.each < 16:
        return None
    score = _score(whole, around)
    if score is None:
        return None
    steps = max(1, round(_SLOPE * hop / flown.rate_hz / (flown.rate_hz / frame)))
    parts = [score[start : start + whole.each] for start in range(0, score.shape[0], whole.each)]
    place = np.concatenate([_ridge(part, steps) for part in parts])
    height = _along(score, place)
    speed = _middle(whole, whole.frequency[place])
    return Ridge(speed, float(height.mean() - np.median(score)), whole)


def _score(frames: Frames, around: tuple[float, float] | None) -> npt.NDArray[np.float32] | None:
    """Log height of each frequency as the first order (frames, nf); minus infinity where it cannot be."""
    from scipy.ndimage import uniform_filter1d

    low, high = around or (_SLOWEST, 0.47 * frames.rate_hz)
    usable = (frames.frequency >= low) & (frames.frequency <= high)
    if int(usable.sum()) < 8:
        return None
    total = np.zeros(frames.power.shape[1:], dtype=np.float32)
    far = frames.frequency >= low
    for channel in frames.power:
        total += channel / _falling_floor(channel, far)
    width = max(1, round(24.0 / (frames.rate_hz / frames.length)))
    smooth = uniform_filter1d(total, 2 * (width // 2) + 1, axis=1, mode="nearest")
    height = np.log(smooth + 1e-12)
    height -= np.quantile(height[:, far], 0.25, axis=1, keepdims=True)
    double = np.zeros_like(height)
    half = (frames.frequency.size - 1) // 2
    double[:, : half + 1] = height[:, : 2 * half + 1 : 2]
    score = height + np.float32(_HARMONIC) * np.maximum(double, 0.0)
    score[:, ~usable] = -50.0
    return np.asarray(score)


def _falling_floor(channel: npt.NDArray[np.float32], far: npt.NDArray[np.bool_]) -> npt.NDArray[np.float32]:
    """Floor (nf,) that only falls with frequency: what flying leaves at low ones is no line."""
    usual = np.median(channel, axis=0)
    first = int(np.argmax(far))
    floor = np.concatenate((usual[:first], np.minimum.accumulate(usual[first:])))
    return np.asarray(np.maximum(floor, 1e-30), dtype=np.float32)


def _ridge(score: npt.NDArray[np.float32], steps: int) -> npt.NDArray[np.int64]:
    """Path (frames,) of the greatest sum of scores that moves at most ``steps`` bins a frame, at a price."""
    count, bins = score.shape
    price = np.array([0.15 * abs(step) for step in range(-steps, steps + 1)], dtype=np.float32)
    total = score[0].copy()
    back = np.zeros((count, bins), dtype=np.int16)
    padded = np.full(bins + 2 * steps, -1e9, dtype=np.float32)
    view = np.lib.stride_tricks.sliding_window_view(padded, bins)
    for frame in range(1, count):
        padded[steps : steps + bins] = total
        options = view - price[:, None]
        best = options.argmax(axis=0)
        back[frame] = best - steps
        total = np.take_along_axis(options, best[None], axis=0)[0] + score[frame]
    path = np.empty(count, dtype=np.int64)
    path[-1] = int(total.argmax())
    for frame in range(count - 1, 0, -1):
        path[frame - 1] = path[frame] + back[frame, path[frame]]
    return path


def _along(score: npt.NDArray[np.float32], place: npt.NDArray[np.int64]) -> FloatArray:
    return np.asarray(np.take_along_axis(score, place[:, None], axis=1)[:, 0], dtype=np.float64)


def _middle(frames: Frames, near: FloatArray) -> FloatArray:
    """Centre of power within a quarter of the ridge's frequency, lightly smoothed in time."""
    frequency = frames.frequency
    total = frames.power.sum(axis=0, dtype=np.float64)
    inside = np.abs(frequency[None, :] - near[:, None]) <= 0.22 * near[:, None]
    weight = np.where(inside, total, 0.0)
    centre = weight @ frequency / np.maximum(weight.sum(axis=1), 1e-30)
    return np.asarray(np.convolve(np.pad(centre, 2, mode="edge"), np.ones(5) / 5.0, "valid"))


def order_power(
    ridge: Ridge, order: float, channels: list[int], reference: float
) -> tuple[tuple[float, float, float], tuple[float, float, float]] | None:
    """Mean square of an order as flown and at the reference speed, each with error and degrees of freedom.

    ``None`` where the band lies outside what the log shows for most of the time.
    """
    frames = ridge.frames
    frequency, middle = frames.frequency, order * ridge.speed
    inside = (frequency >= BAND[0] * middle[:, None]) & (frequency <= BAND[1] * middle[:, None])
    shown = BAND[1] * middle <= 0.5 * frames.rate_hz
    if float(shown.mean()) < 0.3:
        return None
    power = frames.power[channels].sum(axis=0, dtype=np.float64)
    floor = _floor(power, frequency, ridge.speed)
    width = frequency[1]
    noise = floor * inside.sum(axis=1) * width
    energy = np.where(shown, (power * inside).sum(axis=1) * width - noise, 0.0)
    quartic = np.where(shown, (ridge.speed / reference) ** 4, 0.0)
    block = max(1, round(0.25 * frames.rate_hz / frames.hop))
    count = energy.size // block
    parts = [part[: count * block].reshape(count, block).sum(axis=1) for part in (energy, quartic, noise)]
    # noise of a block in its own scatter: the mean of many bins
    bins = np.maximum(inside.sum(axis=1).mean(), 1.0)
    noisy = parts[2] * 2.0 / np.sqrt(bins)
    at_reference = weighed(parts[0][:, None], parts[1][:, None], noisy[:, None]).at(0)
    whole = np.where(shown, 1.0, 0.0)[: count * block].reshape(count, block).sum(axis=1)
    return ratio(parts[0], whole), at_reference


def _floor(power: FloatArray, frequency: FloatArray, speed: FloatArray) -> FloatArray:
    """Mean density (frames,) away from the first two orders, from the median of what is left."""
    lowest = 60.0
    away = (frequency >= lowest) & (
        (frequency < 0.62 * speed[:, None]) | (frequency > 2.0 * BAND[1] * speed[:, None])
    )
    enough = away.sum(axis=1) >= 8
    away[~enough] = frequency >= lowest
    sorted_power = np.sort(np.where(away, power, np.inf), axis=1)
    count = away.sum(axis=1)
    share = np.where(enough, 0.5, 0.2)
    place = np.minimum((share * count).astype(np.int64), count - 1)
    value = np.take_along_axis(sorted_power, place[:, None], axis=1)[:, 0]
    # three axes add up: quantiles of a gamma of shape 3, over its mean
    return np.asarray(value / np.where(enough, 0.891, 0.512))


def blind_lines(ridge: Ridge | None, flown: Sampled, reference_speed: float | None) -> tuple[RotorLine, ...]:
    """Lines of the first two orders along a ridge, none where it does not stand out."""
    if ridge is None or not ridge.is_found:
        return ()
    reference = reference_speed or float(ridge.speed.mean())
    out = []
    for order in (1.0, 2.0):
        level, at_reference = {}, {}
        for name, channels in groups_of(flown.signals).items():
            found = order_power(ridge, order, channels, reference)
            if found is not None:
                level[name] = rms_of(*found[0], unit_of(name), BLIND, CHOSEN)
                at_reference[name] = rms_of(*found[1], unit_of(name), BLIND, CHOSEN)
        if level:
            out.append(_line(ridge.speed, order, reference, (level, at_reference), flown.rate_hz))
    return tuple(out)


def _line(
    speed: FloatArray,
    order: float,
    reference: float,
    levels: tuple[dict[str, Measured], dict[str, Measured]],
    rate_hz: float,
) -> RotorLine:
    frequency = order * speed
    mean = float(frequency.mean())
    low, high = np.percentile(frequency, (5.0, 95.0))
    return RotorLine(
        order=order,
        route=BLIND,
        frequency=mean,
        frequency_low=float(low),
        frequency_high=float(high),
        seen_at=float(folded(mean, rate_hz)),
        level=levels[0],
        at_reference=levels[1],
        reference_speed=reference,
        folded_share=float(np.mean(frequency > 0.5 * rate_hz)),
    )
