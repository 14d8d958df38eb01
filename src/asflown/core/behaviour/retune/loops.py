"""One axis' loop as a function of the knobs, quick enough to be turned thousands of times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.amounts import PILOT_BAND
from asflown.core.behaviour.declared import KnownController, controller_of, is_there, with_numbers
from asflown.core.control import INPUTS, OUTPUT, ControlStructure, in_order
from asflown.core.signal import filters

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Frequencies, Hz, at which the loop is looked at.
GRID = np.geomspace(PILOT_BAND[0], 160.0, 110)
#: Those between which the old answer is to be kept.
BAND = PILOT_BAND[1] * (1 + 1e-9) >= GRID
#: Points over which the noise's power is summed.
NOISE_POINTS = 240


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
        Old standard deviation of the drive for white gyro noise.
    """

    plant: Complex
    response: Complex
    peak: float
    noise: float


@dataclass(frozen=True, slots=True)
class Kept:
    """How an axis with other settings compares with before.

    Attributes
    ----------
    decibels, degrees
        Largest remaining differences over the pilot's band, and their frequencies, Hz.
    peak, noise
        Ratios, after over before.
    """

    decibels: float
    decibels_at: float
    degrees: float
    degrees_at: float
    peak: float
    noise: float


def target_of(plant_before: Complex, plant_after: Complex, old: KnownController) -> Target:
    """What is to be kept: the old loop on the plant as it was flown, both at `GRID`."""
    command, rate = old.response(GRID)
    loop = plant_before * rate
    return Target(
        plant_after,
        plant_before * command / (1 + loop),
        float(np.max(1.0 / np.abs(1 + loop))),
        noise_of(old.response(noise_grid(old.rate_hz))[1], old.rate_hz),
    )


def noise_grid(rate_hz: float) -> Float:
    """(n,) Hz, middles of equal steps up to half the loop's rate."""
    return np.asarray((np.arange(NOISE_POINTS) + 0.5) * (0.5 * rate_hz / NOISE_POINTS))


def noise_of(rate: Complex, rate_hz: float) -> float:
    """Standard deviation of the drive for white noise of 1 rad/s in each root hertz (Parseval)."""
    return float(np.sqrt(np.mean(np.abs(rate) ** 2) * 0.5 * rate_hz))


@dataclass(eq=False)
class Loop:
    """The controller of one axis with knobs; what does not change between two looks is not computed again."""

    structure: ControlStructure
    values: Mapping[str, float]
    stored: Mapping[str, float]
    scale: float
    target: Target
    _own: dict[str, tuple[tuple[float, ...], Complex]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.base = controller_of(self.structure, self.values, stored=self.stored)
        self.blocks = in_order(self.structure.blocks)
        self.rate_hz = self.base.rate_hz
        self.grid = np.concatenate([GRID, noise_grid(self.rate_hz)])
        self._there = {block.name for block in self.blocks if is_there(block, self.stored)}

    def responses(self, turned: Mapping[str, float]) -> tuple[Complex, Complex]:
        """Drive for the command and for the rate taken away, at `GRID` and then at the noise's grid."""
        values = {**self.values, **turned}
        none = np.zeros(self.grid.size, dtype=np.complex128)
        one = none + 1.0
        made = dict(zip(INPUTS, ((one, none), (none, one)), strict=True))
        for stage, block in zip(self.base.stages, self.blocks, strict=True):
            own = self._response(stage.name, values)
            command = sum((sign * made[name][0] for name, sign in stage.inputs), none)
            rate = sum((sign * made[name][1] for name, sign in stage.inputs), none)
            made[block.name] = (own * command, own * rate)
        command, rate = made[OUTPUT]
        return self.scale * command, -self.scale * rate

    def _response(self, name: str, values: Mapping[str, float]) -> Complex:
        place = next(i for i, block in enumerate(self.blocks) if block.name == name)
        stage, block = self.base.stages[place], self.blocks[place]
        numbers = tuple(values.get(role, 0.0) for role in block.parameters.values())
        known = self._own.get(name)
        if known is not None and known[0] == numbers:
            return known[1]
        if block.parameters and name in self._there:
            stage = with_numbers(stage, block, values, self.rate_hz)
        own = np.asarray(stage.gain * filters.cascade_response(stage.filters, self.grid, self.rate_hz))
        self._own[name] = (numbers, own)
        return own

    def figures(self, turned: Mapping[str, float]) -> tuple[Complex, Float, float]:
        """New answer over old in the band, sensitivity over the old peak at `GRID`, noise over the old."""
        command, rate = self.responses(turned)
        n = GRID.size
        loop = self.target.plant * rate[:n]
        ratio = self.target.plant * command[:n] / (1 + loop) / self.target.response
        sensitivity = 1.0 / np.abs(1 + loop) / self.target.peak
        return ratio[BAND], sensitivity, noise_of(rate[n:], self.rate_hz) / self.target.noise

    def kept(self, turned: Mapping[str, float]) -> Kept:
        """How it compares."""
        ratio, sensitivity, noise = self.figures(turned)
        decibels = np.abs(20 * np.log10(np.abs(ratio)))
        degrees = np.abs(np.degrees(np.angle(ratio)))
        high, far = int(np.argmax(decibels)), int(np.argmax(degrees))
        band = GRID[BAND]
        return Kept(
            float(decibels[high]),
            float(band[high]),
            float(degrees[far]),
            float(band[far]),
            float(np.max(sensitivity)),
            noise,
        )
