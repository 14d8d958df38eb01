"""One axis' loop: what it did before, and how it compares with other settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.amounts import PILOT_BAND, amounts
from asflown.core.behaviour.declared import KnownController, controller_of
from asflown.core.behaviour.handling import rate_response
from asflown.core.behaviour.margins import is_stable, loop_margins
from asflown.core.control import ControlStructure

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Frequencies, Hz, at which the loop is looked at: from where its integrators rule it to where it is small,
#: closest where the peak sensitivity of small aircraft lies.
GRID = np.concatenate(
    [
        np.geomspace(0.02, 0.5, 15)[:-1],
        np.geomspace(PILOT_BAND[0], 8.0, 29)[:-1],
        np.geomspace(8.0, PILOT_BAND[1], 39)[:-1],
        np.geomspace(PILOT_BAND[1], 100.0, 57)[:-1],
        np.geomspace(100.0, 200.0, 15),
    ]
)
#: Those between which the old answer is to be kept.
BAND = (PILOT_BAND[0] * (1 - 1e-9) <= GRID) & (PILOT_BAND[1] * (1 + 1e-9) >= GRID)
#: Bins of the noise's sum in :func:`asflown.core.behaviour.amounts.amounts`; so many are taken as they are.
_BINS, _FIRST = 8192, 32
#: Points to the octave above them.
_POINTS = 20


@dataclass(frozen=True, eq=False)
class Target:
    """What an axis did before.

    Attributes
    ----------
    plant
        (nf,) at `GRID`: rate for measured drive, as the new loop meets it.
    response
        (nf,) at `GRID`: the old rate over command.
    peak
        Old peak sensitivity.
    noise
        Old standard deviation of the drive for white gyro noise; infinite where it is not known.
    loop
        (nf,) at `GRID`: the old loop.
    """

    plant: Complex
    response: Complex
    peak: float
    noise: float
    loop: Complex


@dataclass(frozen=True, slots=True)
class Kept:
    """How an axis with other settings compares with before.

    Attributes
    ----------
    decibels, degrees
        Largest remaining differences over the pilot's band, and their frequencies, Hz. Of an unstable loop
        they are those of its transfer function, which nobody could fly.
    peak, noise, bandwidth
        Ratios, after over before; ``None`` where one of both is not known.
    stable
        By the winding of the loop on the plant as the new loop meets it.
    """

    decibels: float
    decibels_at: float
    degrees: float
    degrees_at: float
    peak: float
    noise: float | None
    bandwidth: float | None = None
    stable: bool = True


def target_of(plant_before: Complex, plant_after: Complex, old: KnownController) -> Target:
    """What is to be kept: the old loop on the plant as it was flown, both at `GRID`.

    Raises
    ------
    ValueError
        For another grid, or a loop slower than twice its highest frequency.
    """
    command, rate = old.response(GRID)
    return _target(plant_before, plant_after, command, rate, _noise(old))


def target_of_log(plant_before: Complex, plant_after: Complex, command: Complex, rate: Complex) -> Target:
    """The same with the old controller as read from a log, (nf,) at `GRID`: its noise is not known."""
    return _target(plant_before, plant_after, command, rate, float("inf"))


def _target(before: Complex, after: Complex, command: Complex, rate: Complex, noise: float) -> Target:
    if before.shape != GRID.shape or after.shape != GRID.shape:
        raise ValueError(f"plants at the {GRID.size} frequencies of GRID are wanted")
    loop = before * rate
    peak = float(loop_margins(GRID, loop).peak_sensitivity)
    return Target(after, before * command / (1 + loop), peak, noise, loop)


def _noise(controller: KnownController) -> float:
    """As :func:`asflown.core.behaviour.amounts.amounts` has it."""
    return amounts(controller).noise


def noise_rule(rate_hz: float) -> tuple[Float, Float]:
    """Frequencies and weights, (n,) Hz, by which the square of a gain is summed to the noise's variance.

    The lowest bins as ``amounts`` sums them, for an integrator's gain grows towards them without end; above,
    points of Gauss and Legendre in every octave.
    """
    width = 0.5 * rate_hz / _BINS
    octaves = round(np.log2(_BINS / _FIRST))
    points, weights = np.polynomial.legendre.leggauss(_POINTS)
    low = width * _FIRST * 2.0 ** np.arange(octaves)
    above = low[:, None] * (1.5 + 0.5 * points)
    return (
        np.concatenate([(np.arange(_FIRST) + 0.5) * width, above.ravel()]),
        np.concatenate([np.full(_FIRST, width), (low[:, None] * 0.5 * weights).ravel()]),
    )


@dataclass(frozen=True, eq=False)
class Loop:
    """One axis of the new release, and what it is to keep.

    Attributes
    ----------
    values, stored
        As planned, by role; as :func:`asflown.core.behaviour.declared.controller_of` takes them.
    scale
        Of the new release's drive to the measured one.
    """

    structure: ControlStructure
    values: Mapping[str, float]
    stored: Mapping[str, float]
    scale: float
    target: Target

    def controller(self, turned: Mapping[str, float]) -> KnownController:
        """The new release's controller with some values turned."""
        return controller_of(self.structure, {**self.values, **turned}, stored=self.stored, scale=self.scale)

    def kept(self, turned: Mapping[str, float]) -> Kept:
        """How it compares, with the controller as declared (not as the search takes it apart)."""
        controller, target = self.controller(turned), self.target
        command, rate = controller.response(GRID)
        loop = target.plant * rate
        response = target.plant * command / (1 + loop)
        ratio = (response / target.response)[BAND]
        with np.errstate(divide="ignore"):
            decibels = np.abs(20 * np.log10(np.abs(ratio)))
        degrees = np.abs(np.degrees(np.angle(ratio)))
        high, far = int(np.argmax(decibels)), int(np.argmax(degrees))
        stable = bool(is_stable(loop))
        widths = [float(rate_response(GRID, one).bandwidth_phase) for one in (target.response, response)]
        told = stable and bool(np.all(np.isfinite(widths)))
        return Kept(
            float(decibels[high]),
            float(GRID[BAND][high]),
            float(degrees[far]),
            float(GRID[BAND][far]),
            float(loop_margins(GRID, loop).peak_sensitivity) / target.peak,
            _noise(controller) / target.noise if np.isfinite(target.noise) else None,
            widths[1] / widths[0] if told else None,
            stable,
        )
