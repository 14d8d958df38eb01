"""Levels of the orders of the rotors, all together and rotor by rotor, from their separated lines."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.vibration.demodulate import Equations, Powers, Stretches, equations, powers
from asflown.core.vibration.intervals import ratio, rms_of, weighed
from asflown.core.vibration.orders import folded
from asflown.core.vibration.result import FROM_TELEMETRY, RotorLevel, RotorLine

FloatArray = npt.NDArray[np.float64]

#: Base blocks a longer block is made of; the longest that loses no power is used.
_LENGTHS = (1, 2, 4, 8, 16)
_FEWEST = 10  # blocks
#: A rotor counts as separated in a block where its noise rose by no more than this.
_APART = 6.0
_KEPT = 0.97  # share of the line's power a longer block must keep


def unit_of(signal: str) -> str:
    """Unit of a rate or acceleration signal."""
    return "m/s2" if signal.startswith("accel") else "rad/s"


def groups_of(signals: tuple[str, ...]) -> dict[str, list[int]]:
    """Channels of every signal by itself, and of ``rate`` and ``accel`` together."""
    out = {name: [place] for place, name in enumerate(signals)}
    for family in ("rate", "accel"):
        places = [place for place, name in enumerate(signals) if name.startswith(family + ".")]
        if places:
            out[family] = places
    return out


def _at_length(base: Equations, blocks: int) -> Powers:
    return powers(base if blocks == 1 else base.longer(blocks, (1.0 - 0.25 / blocks) / 0.75))


def best_length(base: Equations) -> Powers:
    """Powers in the blocks with the least error among those that keep the power of the shortest."""
    best: Powers | None = None
    least = full = math.inf
    for blocks in _LENGTHS:
        if base.gram.shape[0] // blocks < _FEWEST and best is not None:
            break
        found = _at_length(base, blocks)
        rotors = found.reference.shape[1]
        mean, error, _ = weighed(
            found.energy.sum(axis=1), found.reference.sum(axis=1) / rotors, found.noise.sum(axis=1) * rotors
        )
        if best is None:
            best, least, full = found, error, mean
        elif mean >= _KEPT * full and error < least:
            best, least = found, error
    assert best is not None
    return best


def line_of(cut: Stretches, order: float, reference: float, route: str) -> tuple[RotorLine, Powers]:
    """One order of all rotors together."""
    found = best_length(equations(cut, order))
    level, at_reference = {}, {}
    for name, channels in groups_of(cut.signals).items():
        level[name], at_reference[name] = _levels(found, channels, unit_of(name), route)
    frequency = order * cut.speed
    mean = float(frequency.mean())
    low, high = np.percentile(frequency, (5.0, 95.0))
    line = RotorLine(
        order=order,
        route=route,
        frequency=mean,
        frequency_low=float(low),
        frequency_high=float(high),
        seen_at=float(folded(mean, cut.rate_hz)),
        level=level,
        at_reference=at_reference,
        reference_speed=reference,
        folded_share=float(np.mean(frequency > 0.5 * cut.rate_hz)),
    )
    return line, found


def _levels(found: Powers, channels: list[int], unit: str, route: str) -> tuple[Measured, Measured]:
    """Level as flown, and at the reference speed; the latter from whichever sum scatters less."""
    energy = found.energy[:, channels].sum(axis=1)
    noise = found.noise[:, channels].sum(axis=1)
    rotors = found.reference.shape[1]
    reference = found.reference.sum(axis=1) / rotors
    mean, error, degrees = weighed(energy, reference, noise * rotors)
    alone = [_single(found, rotor, channels) for rotor in range(rotors)]
    if all(part is not None for part in alone):
        parts = [part for part in alone if part is not None]
        total = sum(part[0] for part in parts)
        spread = math.sqrt(sum(part[1] ** 2 for part in parts))
        if spread < error:
            mean, error, degrees = total, spread, min(part[2] for part in parts)
    at_reference = rms_of(mean, error, degrees, unit, route)
    flown = rms_of(*ratio(energy, found.weight), unit, route)
    if flown.value is None and at_reference.value is not None:
        flown = _by_law(at_reference, math.sqrt(float(reference.sum()) / float(found.weight.sum())))
    return flown, at_reference


def _by_law(at_reference: Measured, factor: float) -> Measured:
    """The level as flown from that at the reference speed, where hard manoeuvres hide the former."""
    assert at_reference.value is not None
    assert at_reference.low is not None
    assert at_reference.high is not None
    return Measured(
        at_reference.value * factor,
        at_reference.low * factor,
        at_reference.high * factor,
        at_reference.unit,
        at_reference.route,
        None,
        ("from quiet moments and the course of the speed: amplitude taken to go with speed squared",),
    )


def _single(found: Powers, rotor: int, channels: list[int]) -> tuple[float, float, float] | None:
    """Mean square at the reference speed of one rotor, its error, degrees of freedom; None: not separable."""
    fit = found.separated[:, rotor] < _APART
    if int(fit.sum()) < _FEWEST:
        return None
    raised = np.where(fit, found.separated[:, rotor], 1.0)
    return weighed(
        np.where(fit, found.single[:, rotor][:, channels].sum(axis=1), 0.0),
        np.where(fit, found.reference[:, rotor], 0.0),
        found.noise[:, channels].sum(axis=1) * raised,
    )


def rotor_levels(cut: Stretches, order: float, reference: float, found: Powers) -> tuple[RotorLevel, ...]:
    """The level of every rotor by itself, where its speed stood apart for long enough."""
    out = []
    for rotor in range(cut.speed.shape[1]):
        levels = {}
        for name, channels in groups_of(cut.signals).items():
            single = _single(found, rotor, channels)
            if single is None:
                levels[name] = unmeasured(
                    f"rotor {rotor + 1} is not separable: it turned at the speed of another one nearly all the time; "
                    "fly turns and climbs so that the speeds part",
                    unit_of(name),
                    FROM_TELEMETRY,
                )
            else:
                levels[name] = rms_of(*single, unit_of(name), FROM_TELEMETRY)
        out.append(RotorLevel(rotor + 1, order, levels, reference))
    return tuple(out)
