"""Signs of a motor out of step (desynchronised): commanded up, but slow or its side dropping.

Signs only: a blocked propeller, a loose plug or a broken wire look the same in a log.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.flight import Span
from asflown.core.motors.mixer import MotorMixer
from asflown.core.signal.mean_error import averaged

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Speed below this share of what the command asks for, for longer than this, s, is a sign.
FALLEN = 0.6
LONGEST_DIP = 0.04
#: Without speed: a motor within this of full while the mean of the others is lower by this, for so long, s.
NEAR_FULL, BELOW, AT_FULL = 0.01, 0.15, 0.15
#: rad/s: how far the rate must run against the command in that time.
RUN_AWAY = 1.5
MOST = 50


@dataclass(frozen=True, slots=True)
class LostStep:
    """One sign.

    Attributes
    ----------
    motor
        From 1.
    sign
        One sentence.
    """

    motor: int
    span: Span
    sign: str


def desynchronisation(
    motors: Float,
    rotor_speed: Float | None,
    rates: Float,
    rate_hz: float,
    mixer: MotorMixer | None = None,
    start: float = 0.0,
) -> tuple[LostStep, ...]:
    """Signs of motors out of step, in order of time, at most 50.

    Parameters
    ----------
    motors
        (motors, n) commands, airborne.
    rotor_speed
        (motors, n) rev/s, ``None`` where not logged: then the rates are looked at, which needs the mixer.
    rates
        (3, n) rad/s.
    start
        s, time of the first sample.
    """
    if motors.shape[1] < rate_hz:
        return ()
    if rotor_speed is not None and rotor_speed.shape == motors.shape:
        found = _by_speed(motors, rotor_speed, rate_hz, start)
    elif mixer is not None and mixer.matrix is not None:
        found = _by_rates(motors, rates, mixer.matrix, rate_hz, start)
    else:
        found = []
    return tuple(sorted(found, key=lambda sign: sign.span.start)[:MOST])


def _by_speed(motors: Float, speed: Float, rate_hz: float, start: float) -> list[LostStep]:
    step = max(1, int(rate_hz / 100.0))
    rate = rate_hz / step
    command, turned = averaged(motors, step), averaged(speed, step)
    found = []
    for number in range(motors.shape[0]):
        expected = _expected(command[number], turned[number], rate)
        lost = (turned[number] < FALLEN * expected) & (command[number] > 0.7 * np.median(command[number]))
        for first, last in _runs(lost, max(2, round(LONGEST_DIP * rate))):
            least = float(turned[number, first:last].min())
            wanted = float(expected[first:last].max())
            span = Span(start + first / rate, start + last / rate)
            words = (
                f"motor {number + 1} turned at {least:.0f} rev/s where its command asks for {wanted:.0f}:"
                " out of step, blocked or without power"
            )
            found.append(LostStep(number + 1, span, words))
    return found


def _expected(command: Float, speed: Float, rate: float) -> Float:
    """Speed the command asks for: a quadratic of it, fitted twice; the least of the last 80 ms."""
    keep = np.ones(command.size, dtype=bool)
    fitted: Float = np.full(command.size, np.median(speed))
    design = np.stack([np.ones_like(command), command, command**2])
    for _ in range(2):
        if np.count_nonzero(keep) < 10:
            break
        kept = design * keep
        coefficients = np.linalg.lstsq(kept @ design.T, kept @ speed, rcond=1e-12)[0]
        fitted = np.asarray(coefficients @ design, dtype=np.float64)
        keep = np.abs(speed - fitted) < 0.3 * np.median(speed)
    reach = max(1, round(0.08 * rate))
    least = fitted.copy()
    for late in range(1, reach + 1):
        np.minimum(least[late:], fitted[:-late], out=least[late:])
    return least


def _by_rates(motors: Float, rates: Float, matrix: Float, rate_hz: float, start: float) -> list[LostStep]:
    step = max(1, int(rate_hz / 100.0))
    rate = rate_hz / step
    command, turned = averaged(motors, step), averaged(rates, step)
    full = float(motors.max())
    reach = max(2, round(AT_FULL * rate))
    found = []
    for number in range(motors.shape[0]):
        others = (command.sum(axis=0) - command[number]) / (motors.shape[0] - 1)
        stuck = (command[number] > full - NEAR_FULL) & (others < full - BELOW)
        for first, last in _runs(stuck, reach):
            towards = np.sign(matrix[:2, number]) * (turned[:2, last - 1] - turned[:2, first])
            if float(towards.min()) < -RUN_AWAY:
                words = (
                    f"motor {number + 1} stood at full while the aircraft went on turning towards it"
                    f" ({-float(towards.min()):.1f} rad/s in {(last - first) / rate:.2f} s): out of step,"
                    " without power or without propeller; log rotor speed to tell"
                )
                found.append(LostStep(number + 1, Span(start + first / rate, start + last / rate), words))
    return found


def _runs(rows: Bool, shortest: int) -> list[tuple[int, int]]:
    """Starts and ends of true stretches; gaps shorter than twice ``shortest`` are bridged."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rows, [False]]).astype(np.int8)))
    runs: list[tuple[int, int]] = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if runs and first - runs[-1][1] < 2 * shortest:
            runs[-1] = (runs[-1][0], last)
        else:
            runs.append((first, last))
    return [(first, last) for first, last in runs if last - first >= shortest]
