"""Rate over command straight from the spectra, with its random error: what the flight itself shows.

No model, no controller, nothing between the frequencies that were excited. Where a planned excitation rides
on a command that otherwise is feedback, each line is read by itself: the response from the few bins the line
falls into, the disturbance from what that response leaves over in the bins around it.

Sources: H1 and its random errors, J. S. Bendat & A. G. Piersol, *Random Data*, 4th edition, chapter 9 (from
memory), by :mod:`asflown.core.signal.averages`; Student's t in place of the normal where averages are few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.excitation import excited
from asflown.core.behaviour.identify.bands import HIGHEST, LONGEST, LOWEST, Banded, Stretch, banded
from asflown.core.behaviour.response.drives import Driven
from asflown.core.behaviour.response.result import Curve
from asflown.core.signal.averages import gain_error, no_relation, phase_error

if TYPE_CHECKING:
    from asflown.core.behaviour.response.axis import Instrument

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Bands of a broad command are an eighth of an octave, and hold so many bins at least.
OCTAVE, LEAST_BINS = 0.125, 8
#: A line is read from so many bins to either side.
REACH = 2.5
#: A frequency counts as excited from this coherence on.
LEAST_COHERENCE = 0.5


@dataclass(frozen=True, eq=False)
class _Sums:
    """(n,) each: Hz, response, command's power, disturbance a bin, bins read, bins the disturbance is of."""

    frequencies: Float
    response: Complex
    power: Float
    disturbance: Float
    bins: Float
    judged_by: Float


def measured_response(made: Sequence[Driven], axis: str, used: Instrument) -> Curve | None:
    """Rate over command, as flown, at the frequencies that were excited.

    Parameters
    ----------
    made
        Even stretches at the working rate.
    axis
        ``roll``, ``pitch`` or ``yaw``.
    used
        With lines, only these are read; between them stand values that are not numbers.

    Returns
    -------
    Curve or None
        With pointwise 95 % bands of the random error; ``None`` where the command answers the disturbance all
        over (the stick is the instrument), or the stretches are too short to tell a line from its neighbours.
    """
    if used.signal is not None or used.refusal is not None:
        return None
    rows = [
        Stretch(
            one.rate, one.command[axis], one.response[axis], one.response[axis], np.zeros((0, one.samples))
        )
        for one in made
    ]
    shortest = min(min(one.samples / one.rate, LONGEST) for one in made)
    if not used.lines:
        return _curve(_broad(rows, shortest), used)
    sums = _at_lines(rows, np.asarray(sorted(used.lines)), used.width, shortest)
    return None if sums is None else _between_nothing(_curve(sums, used))


def _broad(rows: Sequence[Stretch], shortest: float) -> _Sums:
    top = min(HIGHEST, 0.42 * rows[0].rate)
    limits = [LOWEST]
    while limits[-1] < top:
        limits.append(max(limits[-1] * 2**OCTAVE, limits[-1] + LEAST_BINS / shortest))
    sums = banded(rows, np.asarray(limits))
    power, cross = sums.command_command[:, 0, 0].real, sums.command_response[:, 0]
    response = cross / np.maximum(power, 1e-300)
    left = _left_over(sums, response)
    return _Sums(
        sums.frequencies, response, power, left / np.maximum(sums.bins - 1, 0.5), sums.bins, sums.bins
    )


def _left_over(sums: Banded, response: Complex) -> Float:
    """(nb,) sums of abs(Y - H R)**2."""
    power, cross = sums.command_command[:, 0, 0].real, sums.command_response[:, 0]
    left = sums.response_response - 2 * np.real(np.conj(response) * cross) + np.abs(response) ** 2 * power
    return np.asarray(np.maximum(left, 1e-12 * np.maximum(sums.response_response, 1e-300)))


def _at_lines(rows: Sequence[Stretch], lines: Float, width: float, shortest: float) -> _Sums | None:
    apart = float(np.min(np.diff(lines))) if lines.size > 1 else np.inf
    width, near = min(width, 0.4 * apart, 0.9 * float(lines[0])), REACH / shortest
    if width < near + 2 / shortest or 0.2 * apart < 2 / shortest:
        return None
    # of each line: bins below, the line's own, bins above; then the gap to the next one
    limits = (lines[:, None] + np.array([-width, -near, near, width])).ravel()
    sums = banded(rows, limits)
    if sums.frequencies.size != limits.size - 1:
        return None
    of_line = np.arange(lines.size) * 4 + 1
    own = sums.command_command[of_line, 0, 0].real
    response = sums.command_response[of_line, 0] / np.maximum(own, 1e-300)
    spread = np.zeros(sums.frequencies.size, dtype=np.complex128)
    spread[:] = np.repeat(response, 4)[: spread.size]
    left = _left_over(sums, spread)
    around = of_line[:, None] + np.array([-1, 0, 1])
    bins = sums.bins[around].sum(axis=1)
    disturbance = left[around].sum(axis=1) / np.maximum(bins - 1, 0.5)
    return _Sums(lines, response, own, disturbance, sums.bins[of_line], bins)


def _curve(sums: _Sums, used: Instrument) -> Curve:
    from scipy.special import stdtrit

    answer = np.abs(sums.response) ** 2 * sums.power
    coherence = answer / np.maximum(answer + sums.disturbance * sums.bins, 1e-300)
    error, turn = gain_error(coherence, sums.bins), phase_error(coherence, sums.bins)
    wide = np.asarray(stdtrit(2 * np.maximum(sums.judged_by - 1, 0.5), 0.975))
    gain = 20 * np.log10(np.maximum(np.abs(sums.response), 1e-300))
    phase = np.degrees(np.unwrap(np.angle(sums.response)))
    low = 20 * np.log10(np.maximum(1 - wide * error, 1e-3))
    half = np.degrees(np.minimum(wide * turn, np.pi))
    mask = (coherence >= LEAST_COHERENCE) & (coherence > no_relation(sums.bins))
    if not used.lines:
        mask &= excited(sums.frequencies, sums.power / sums.bins).mask
    return Curve(
        sums.frequencies,
        gain,
        gain + low,
        gain + 20 * np.log10(1 + wide * error),
        phase,
        phase - half,
        phase + half,
        mask,
    )


def _between_nothing(curve: Curve) -> Curve:
    """With a point between each two lines at which nothing is claimed."""
    frequencies = curve.frequencies
    middle = np.sqrt(frequencies[1:] * frequencies[:-1])
    place = np.arange(1, frequencies.size)

    def put(values: Float) -> Float:
        return np.insert(values, place, np.nan)

    return Curve(
        np.insert(frequencies, place, middle),
        put(curve.gain),
        put(curve.gain_low),
        put(curve.gain_high),
        put(curve.phase),
        put(curve.phase_low),
        put(curve.phase_high),
        np.insert(curve.excited, place, False),
    )
