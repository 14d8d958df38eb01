"""A controller run sample by sample on a hand-rocked aircraft, written with scipy.signal alone.

Shares no code with what reads it: the known truth that ``asflown.core.behaviour.from_log`` is held against.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy import signal

Float = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Truth:
    """A rate controller.

    Attributes
    ----------
    kp, ki, kd, kf
        s/rad, 1/rad, s2/rad, s2/rad.
    rate, derivative, command
        Order and half-power frequency, Hz, of the low-passes on rate, derivative and command; order 0: none.
    notch
        Centre, Hz, and quality of a notch on the rate, which no member of the family has.
    lead
        s, of a lead on the rate: ``1 + lead s`` over ``1 + lead s / 10``; not in the family either.
    loop_rate
        Hz.
    """

    kp: float = 0.03
    ki: float = 0.08
    kd: float = 0.0006
    kf: float = 0.0004
    rate: tuple[int, float] = (1, 130.0)
    derivative: tuple[int, float] = (1, 80.0)
    command: tuple[int, float] = (0, 0.0)
    notch: tuple[float, float] | None = None
    lead: float = 0.0
    loop_rate: float = 4000.0


@dataclass(frozen=True)
class Rocked:
    """A log: rows at ``rate`` Hz of command, measured rate, output, and their names in the truth."""

    rate: float
    command: Float
    response: Float
    output: Float
    extra: dict[str, Float] = field(default_factory=dict)


def filtered(values: Float, order: int, cutoff: float, loop_rate: float) -> Float:
    """Impulse-invariant one pole, or scipy's bilinear Butterworth."""
    if order == 0:
        return values
    if order == 1:
        kept = math.exp(-2 * math.pi * cutoff / loop_rate)
        return np.asarray(signal.lfilter([1 - kept], [1, -kept], values))
    b, a = signal.butter(2, cutoff, fs=loop_rate)
    return np.asarray(signal.lfilter(b, a, values))


def hand(seconds: float, loop_rate: float, seed: int, *, taps: float = 1.0, size: float = 1.5) -> Float:
    """Rate of a frame rocked by hand, rad/s: slow and quick swings, taps on an arm a few times a second."""
    random = np.random.default_rng((seed, 1))
    n = round(seconds * loop_rate)
    sos = signal.butter(3, [0.5, 4.0], "bandpass", fs=loop_rate, output="sos")
    swing = signal.sosfilt(sos, random.standard_normal(n))
    rate = size * swing / swing.std()
    if taps:
        blows = np.zeros(n)
        at = random.integers(0, n, round(3 * seconds))
        blows[at] = random.normal(0.0, 1.0, at.size)
        length = round(0.006 * loop_rate)
        blow = np.sin(np.linspace(0, math.pi, length)) ** 2
        struck = signal.lfilter(blow, [1.0], blows)
        # the hand holds the frame: a blow turns it, and it swings back at some 14 Hz
        w, d = 2 * math.pi * 14.0, 0.4
        held = signal.cont2discrete(([1.0, 0.0], [1.0, 2 * d * w, w * w]), 1 / loop_rate, "bilinear")
        turned = signal.lfilter(held[0].ravel(), held[1], struck)
        rate += taps * turned / np.abs(turned).max()
    return np.asarray(rate)


def stick(seconds: float, loop_rate: float, seed: int, *, size: float = 2.0) -> Float:
    """A command, rad/s: the stick held, moved quickly, held again."""
    random = np.random.default_rng((seed, 2))
    n = round(seconds * loop_rate)
    held = np.repeat(random.normal(0, size, n // round(0.25 * loop_rate) + 1), round(0.25 * loop_rate))[:n]
    return np.asarray(signal.lfilter(*signal.butter(2, 6.0, fs=loop_rate), held))


def output_of(truth: Truth, command: Float, rate: Float) -> Float:
    """What the controller makes of both, (n,) at the loop's rate."""
    fs = truth.loop_rate
    smooth = rate
    if truth.notch is not None:
        smooth = signal.lfilter(*signal.iirnotch(*truth.notch, fs=fs), smooth)
    if truth.lead:
        b, a = signal.bilinear([truth.lead, 1.0], [truth.lead / 10, 1.0], fs)
        smooth = signal.lfilter(b, a, smooth)
    smooth = filtered(np.asarray(smooth), *truth.rate, fs)
    wanted = filtered(command, *truth.command, fs)
    error = wanted - smooth
    slope = np.diff(filtered(smooth, *truth.derivative, fs), prepend=0.0) * fs
    lead = np.diff(wanted, prepend=0.0) * fs
    return np.asarray(
        truth.kp * error + truth.ki * np.cumsum(error) / fs - truth.kd * slope + truth.kf * lead
    )


def half_power(cutoff: float, loop_rate: float) -> float:
    """Hz at which an impulse-invariant one pole passes half the power, solved from its response."""
    kept = math.exp(-2 * math.pi * cutoff / loop_rate)
    taken = 1 - kept
    return math.acos((1 + kept * kept - 2 * taken * taken) / (2 * kept)) * loop_rate / (2 * math.pi)


def responses(
    truth: Truth, frequencies: Float
) -> tuple[npt.NDArray[np.complex128], npt.NDArray[np.complex128]]:
    """Responses for the command, and for the rate taken away, by scipy.signal.freqz; Hz."""
    fs = truth.loop_rate

    def answer(b: object, a: object) -> npt.NDArray[np.complex128]:
        return np.asarray(signal.freqz(b, a, worN=frequencies, fs=fs)[1])

    def low_pass(order: int, cutoff: float) -> npt.NDArray[np.complex128]:
        if order == 0:
            return np.ones(frequencies.size, dtype=np.complex128)
        if order == 1:
            kept = math.exp(-2 * math.pi * cutoff / fs)
            return answer([1 - kept], [1, -kept])
        return answer(*signal.butter(2, cutoff, fs=fs))

    smooth, wanted = low_pass(*truth.rate), low_pass(*truth.command)
    if truth.notch is not None:
        smooth = smooth * answer(*signal.iirnotch(*truth.notch, fs=fs))
    slope, sums = answer([fs, -fs], [1]), answer([1 / fs], [1, -1])
    error = truth.kp + truth.ki * sums
    for_rate = smooth * (error + truth.kd * slope * low_pass(*truth.derivative))
    return wanted * (error + truth.kf * slope), for_rate


def rocked(
    truth: Truth,
    seed: int,
    *,
    seconds: float = 60.0,
    log_rate: float = 1000.0,
    noise: float = math.radians(0.008),
    taps: float = 1.0,
    moved: bool = True,
    step: float = 1e-4,
) -> Rocked:
    """A bench log.

    Parameters
    ----------
    noise
        Of the gyro, rad/s in each root hertz, up to half the loop's rate.
    step
        The output is rounded to it.
    """
    fs = truth.loop_rate
    n = round(seconds * fs)
    white = np.random.default_rng((seed, 3)).standard_normal(n) * noise * math.sqrt(0.5 * fs)
    rate = hand(seconds, fs, seed, taps=taps) + white
    command = stick(seconds, fs, seed) if moved else np.zeros(n)
    made = output_of(truth, command, rate)
    pick = round(fs / log_rate)
    return Rocked(log_rate, command[::pick], rate[::pick], np.round(made[::pick] / step) * step)
