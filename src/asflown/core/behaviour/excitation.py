"""At which frequencies a command was strong enough to learn from, and whether it is made of single lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.signal.averages import no_relation

if TYPE_CHECKING:
    import numpy.typing as npt

    from asflown.core.flight import EvenPart, FloatArray

    BoolArray = npt.NDArray[np.bool_]

#: Command power is weighed against this many times its own floor at high frequencies.
ABOVE_FLOOR = 4.0
#: So far below the strongest density (dB) a command cannot be told from leakage of the window.
RANGE_DB = 80.0
#: From this coherence on the answer to the command is at least as strong as everything else in the response.
COHERENT_FROM = 0.5
#: A line stands out of its surroundings by this much, dB.
LINE_DB = 12.0
#: So few lines are no planned excitation.
LEAST_LINES = 4
#: Lowest (below, a line cannot be told from slow drift) and highest frequency at which lines are sought, Hz.
LINES_FROM, LINES_UP_TO = 1.0, 60.0

_WINDOW = 8.0  # s, for finding lines


@dataclass(frozen=True, eq=False)
class Lines:
    """Single frequencies that carry the command.

    Attributes
    ----------
    frequencies
        (k,) Hz, rising; empty where the command has no lines.
    width
        Hz: a frequency farther than this from every line lies between them.
    share
        Of the command's power within ``width`` of a line.
    """

    frequencies: tuple[float, ...] = ()
    width: float = 0.0
    share: float = 0.0

    def __bool__(self) -> bool:
        return bool(self.frequencies)

    def near(self, frequencies: FloatArray) -> BoolArray:
        """(n,) true where a frequency belongs to a line."""
        if not self.frequencies:
            return np.zeros(frequencies.shape, dtype=bool)
        apart = np.abs(frequencies[:, None] - np.array(self.frequencies)[None, :])
        return np.asarray(apart.min(axis=1) <= self.width)


@dataclass(frozen=True, eq=False)
class Excited:
    """Where there is enough command.

    Attributes
    ----------
    mask
        (n,) true where estimates may be shown; the others are to be greyed.
    statement
        One sentence with the range.
    """

    mask: BoolArray
    statement: str


def excited(
    frequencies: FloatArray,
    command_power: FloatArray,
    *,
    coherence: FloatArray | None = None,
    averages: float | FloatArray = np.inf,
    lines: Lines | None = None,
    only_lines: bool = False,
    coherent_from: float = COHERENT_FROM,
) -> Excited:
    """Judge each frequency by the command's power, and by the answer to it where a coherence is given.

    Coherence alone is no gate: a command that is feedback is coherent with the response too. With
    ``only_lines`` (the command answers the disturbance, and a planned excitation rides on it) frequencies
    between the lines are refused whatever their coherence.

    Parameters
    ----------
    frequencies
        (n,) Hz, rising.
    command_power
        (n,) density or sums, one scale for all frequencies.
    coherence
        (n,) squared, 0 to 1.
    averages
        Effective number of averages, a number or (n,); below 1.5 nothing can be told.
    """
    power = np.asarray(command_power, dtype=np.float64)
    strongest = float(np.nanmax(power)) if power.size else 0.0
    if not strongest > 0:
        return Excited(np.zeros(power.shape, dtype=bool), "the command was constant: nothing was excited")
    mask = power > max(ABOVE_FLOOR * _floor(frequencies, power), strongest * 10 ** (-RANGE_DB / 10))
    if coherence is not None:
        counts = np.broadcast_to(np.asarray(averages, dtype=np.float64), power.shape)
        mask &= (coherence >= coherent_from) & (coherence > no_relation(counts)) & (counts >= 1.5)
    if only_lines:
        mask &= (lines or Lines()).near(frequencies)
    return Excited(np.asarray(mask), _said(frequencies, mask, lines if only_lines else None))


def _floor(frequencies: FloatArray, power: FloatArray) -> float:
    """The command's own floor (rounding, noise of the receiver): the level of its highest frequencies.

    A command that is white up to there would be all floor: the level counts only where it lies 20 dB or more
    under the strongest tenth.
    """
    high = frequencies > 0.75 * float(frequencies[-1])
    if np.count_nonzero(high) < 4 or frequencies[-1] < 40.0:
        return 0.0
    level = float(np.median(power[high]))
    return level if level < 0.01 * float(np.quantile(power, 0.9)) else 0.0


def _said(frequencies: FloatArray, mask: BoolArray, lines: Lines | None) -> str:
    if not mask.any():
        return "no frequency was excited enough: fly brisker stick movements on this axis"
    low, high = float(frequencies[mask][0]), float(frequencies[mask][-1])
    if lines is not None:
        return (
            f"excited at {len(lines.frequencies)} lines from {lines.frequencies[0]:.3g} to "
            f"{lines.frequencies[-1]:.3g} Hz, usable up to {high:.3g} Hz; between the lines the command is "
            "feedback and nothing is claimed"
        )
    inside = (frequencies >= low) & (frequencies <= high)
    part = float(np.count_nonzero(mask)) / float(np.count_nonzero(inside))
    holes = "" if part > 0.95 else f", {1 - part:.0%} of the frequencies between are not"
    return f"excited from {low:.3g} to {high:.3g} Hz{holes}"


def find_lines(parts: Sequence[EvenPart], name: str) -> Lines:
    """Look for a planned excitation of single frequencies (a multisine) in a command.

    Parameters
    ----------
    parts
        Even stretches with the signal; those shorter than 8 s are left out.
    name
        Canonical name of the command.
    """
    summed: FloatArray | None = None
    count, step = 0, 0.0
    for part in parts:
        size = round(_WINDOW * part.rate)
        values = part.values[name]
        if values.size < size:
            continue
        hop = size // 2
        windows = np.lib.stride_tricks.sliding_window_view(values, size)[::hop][:40]
        shaped = (windows - windows.mean(axis=1, keepdims=True)) * np.hanning(size + 1)[:-1]
        power = np.sum(np.abs(np.fft.rfft(shaped, axis=1)) ** 2, axis=0)[
            : int(LINES_UP_TO * size / part.rate)
        ]
        if summed is None:
            summed, step = power, part.rate / size
        elif power.size == summed.size:
            summed = summed + power
        count += windows.shape[0]
    if summed is None or count < 2 or summed.max() <= 0:
        return Lines()
    return _lines_of(summed, step, count)


def _lines_of(power: FloatArray, step: float, count: int) -> Lines:
    reach, own = 9, 2  # bins on either side that make the surroundings, and that belong to the line itself
    padded = np.pad(power, reach, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    sides = np.concatenate((around[:, : reach - own], around[:, reach + own + 1 :]), axis=1)
    level = np.median(sides, axis=1)
    # Two medians instead of one: a falling spectrum must not pass for a line on its steep side.
    left, right = np.median(around[:, : reach - own], axis=1), np.median(around[:, reach + own + 1 :], axis=1)
    level = np.maximum(level, np.maximum(left, right))
    peak = power == np.max(around[:, reach - 1 : reach + 2], axis=1)
    needed = 10 ** (LINE_DB / 10) * (1.0 + 2.0 / count)
    found = np.flatnonzero(peak & (power > needed * level) & (power > 1e-8 * power.max()))
    found = found[found * step >= LINES_FROM]
    if found.size < LEAST_LINES:
        return Lines()
    number = np.arange(power.size, dtype=np.float64)
    exact = []
    for bin_ in found:
        near = slice(max(0, bin_ - 2), bin_ + 3)
        exact.append(float((number[near] * power[near]).sum() / power[near].sum()) * step)
    lines = Lines(tuple(exact), 2.0 * step)
    share = float(power[lines.near(number * step)].sum() / power[1:].sum())
    return Lines(lines.frequencies, lines.width, share) if share > 0.02 else Lines()
