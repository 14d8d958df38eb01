"""All axes with their knobs at some values: differences from before, what is worse, and their slopes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.crossings import parabola_top
from asflown.core.behaviour.margins import is_stable
from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.loops import BAND, GRID, Loop, noise_rule
from asflown.core.behaviour.retune.terms import Frozen, Terms, terms_of

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Index = npt.NDArray[np.intp]

#: What counts as one unit of difference, dB and deg.
DECIBEL, DEGREE = 0.2, 2.5
#: By how much, in the logarithm, peak and noise may pass the old ones and still count as no worse.
NO_WORSE = 1e-6
_UNITS = np.array([20.0 / np.log(10.0) / DECIBEL, 180.0 / np.pi / DEGREE])
_X = np.log(GRID)


@dataclass(frozen=True, eq=False)
class Look:
    """One axis at one place.

    Attributes
    ----------
    differences
        (2 nb,) in units of `DECIBEL` and `DEGREE`: gains over the band, then phases.
    worse
        (nf + 1,) logarithms over the old: sensitivities at `GRID`, raised so that the greatest is the peak's,
        and the noise.
    slopes_differences, slopes_worse
        (..., nk) for the logarithms of all knobs; without columns where not asked for.
    stable
        By winding.
    """

    differences: Float
    worse: Float
    slopes_differences: Float
    slopes_worse: Float
    stable: bool

    @property
    def farthest(self) -> float:
        """The largest difference, in its unit."""
        return float(np.max(np.abs(self.differences)))

    @property
    def excess(self) -> float:
        """By how much peak or noise is worse, logarithm; 0 where none is."""
        return max(0.0, float(np.max(self.worse)) - NO_WORSE)


@dataclass(frozen=True, eq=False)
class Axis:
    """A loop taken apart.

    Attributes
    ----------
    places
        (k,) of its knobs among all.
    """

    loop: Loop
    terms: Terms
    places: Index
    noise_weights: Float

    def look(self, values: Float, *, slopes: bool = False) -> Look:
        """At values (nk,) of all knobs, SI."""
        own = values[self.places]
        frozen = self.terms.frozen(own, slopes=slopes)
        weights = self.terms.weights(own)
        command, rate = self.terms.sides(frozen, weights)
        target, n = self.loop.target, GRID.size
        loop = target.plant * rate[:n]
        ratio = (target.plant * command[:n] / (1 + loop) / target.response)[BAND]
        power = self.noise_weights * np.abs(rate[n:]) ** 2
        noise = 0.5 * np.log(np.sum(power)) - np.log(target.noise)
        sensitivity = -np.log(np.abs(1 + loop))
        raised = float(log_peaks(loop[None])[0] - np.max(sensitivity))
        worse = np.append(sensitivity + raised - np.log(target.peak), noise)
        differences = np.concatenate([_UNITS[0] * np.log(np.abs(ratio)), _UNITS[1] * np.angle(ratio)])
        stable = bool(is_stable(loop))
        if not slopes:
            return Look(differences, worse, np.zeros((differences.size, 0)), np.zeros((n + 1, 0)), stable)
        of_command, of_rate = self.terms.slopes(frozen, weights)
        moved = target.plant * of_rate[:, :n] / (1 + loop)
        turned = (of_command[:, :n] / command[:n] - moved)[:, BAND]
        louder = np.real(np.conj(rate[n:]) * of_rate[:, n:]) @ self.noise_weights / np.sum(power)
        by_all = np.zeros((differences.size, values.size)), np.zeros((n + 1, values.size))
        by_all[0][:, self.places] = np.concatenate([_UNITS[0] * turned.real, _UNITS[1] * turned.imag], 1).T
        by_all[1][:, self.places] = np.concatenate([-moved.real, louder[:, None]], 1).T
        return Look(differences, worse, *by_all, stable)

    def compared(self, frozen: Frozen, values: Float) -> tuple[Float, Float, Complex]:
        """Farthest differences and excesses (m,), and loops (m, nf), at values (m, nk), filters frozen."""
        command, rate = self.terms.sides(frozen, self.terms.weights(values[:, self.places]))
        target, n = self.loop.target, GRID.size
        loop = target.plant * rate[:, :n]
        ratio = (target.plant[BAND] * command[:, :n][:, BAND]) / (1 + loop[:, BAND]) / target.response[BAND]
        farthest = np.maximum(
            np.max(_UNITS[0] * np.abs(np.log(np.abs(ratio))), axis=1),
            np.max(_UNITS[1] * np.abs(np.angle(ratio)), axis=1),
        )
        noise = 0.5 * np.log(np.abs(rate[:, n:]) ** 2 @ self.noise_weights) - np.log(target.noise)
        worse = np.maximum(log_peaks(loop) - np.log(target.peak), noise)
        return farthest, np.maximum(0.0, worse - NO_WORSE), loop


def axes_of(loops: Mapping[str, Loop], knobs: Sequence[Knob]) -> dict[str, Axis]:
    """Every loop taken apart for its knobs."""
    made = {}
    for axis, loop in loops.items():
        places = [place for place, knob in enumerate(knobs) if axis in knob.axes]
        rate = loop.controller({}).rate_hz
        frequencies, weights = noise_rule(rate)
        roles = [knobs[place].role for place in places]
        terms = terms_of(
            loop.structure,
            loop.values,
            loop.stored,
            roles,
            np.concatenate([GRID, frequencies]),
            loop.scale,
        )
        made[axis] = Axis(loop, terms, np.array(places, dtype=np.intp), weights)
    return made


def log_peaks(loops: Complex) -> Float:
    """Logarithm of the peak sensitivity of each loop (m, nf), by a parabola through the three nearest."""
    distance = np.abs(1.0 + loops) ** 2
    least = np.argmin(distance, axis=1)
    nodes = np.clip(least - 1, 0, GRID.size - 3)[:, None] + np.arange(3)
    picked = np.take_along_axis(distance, nodes, axis=1)
    _, value, bend, within = parabola_top(_X[nodes], picked)
    edge = np.take_along_axis(distance, least[:, None], axis=1)[:, 0]
    inside = within & (bend > 0.0) & (value > 0.0)
    return np.asarray(-0.5 * np.log(np.where(inside, value, edge)))
