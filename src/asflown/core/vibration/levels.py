"""Levels of the orders of the rotors, all together and rotor by rotor, from their separated lines."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from asflown.core.measured import Measured, unmeasured
from asflown.core.signal.aliasing import folded
from asflown.core.vibration.demodulate import Equations, Powers, Stretches, equations, powers
from asflown.core.vibration.intervals import CHOSEN, Means, ratios, rms_of, weighed
from asflown.core.vibration.result import RotorLevel, RotorLine

FloatArray = npt.NDArray[np.float64]

#: Base blocks a longer block is made of; the longest that loses no power is used.
_LENGTHS = (4, 16)
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


def best_length(base: Equations) -> Powers:
    """Powers in the blocks with the least error among those that keep the power of the shortest."""
    best = powers(base)
    full, least = _whole(best)
    for blocks in _LENGTHS:
        if base.gram.shape[0] // blocks < _FEWEST:
            break
        found = powers(base.longer(blocks))
        mean, error = _whole(found)
        if mean >= _KEPT * full and error < least:
            best, least = found, error
    return best


def _whole(found: Powers) -> tuple[float, float]:
    """Power of all channels and rotors at the reference speed, and its error."""
    rotors = found.reference.shape[1]
    reference = found.reference.sum(axis=1, keepdims=True) / rotors
    noise = found.noise.sum(axis=1, keepdims=True) * rotors
    mean, error, _ = weighed(found.energy.sum(axis=1, keepdims=True), reference, noise).at(0)
    return mean, error if math.isfinite(error) else math.inf


def line_of(
    cut: Stretches, order: float, reference: float, route: str
) -> tuple[RotorLine, tuple[RotorLevel, ...]]:
    """One order of all rotors together, and of each by itself."""
    found = best_length(equations(cut, order))
    groups = groups_of(cut.signals)
    member = np.zeros((len(cut.signals), len(groups)))
    for column, channels in enumerate(groups.values()):
        member[channels, column] = 1.0
    single = _singles(found, member)
    together = _together(found, member, single)
    flown = ratios(found.energy @ member, np.repeat(found.weight[:, None], len(groups), axis=1))
    factor = math.sqrt(float(found.reference.mean(axis=1).sum()) / float(found.weight.sum()))
    level, at_reference = {}, {}
    for column, name in enumerate(groups):
        unit = unit_of(name)
        at_reference[name] = rms_of(*together.at(column), unit, route, CHOSEN)
        level[name] = rms_of(*flown.at(column), unit, route)
        if level[name].value is None and at_reference[name].value is not None:
            level[name] = _by_law(at_reference[name], factor)
    frequency = order * cut.speed[:, :, ::8]
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
    return line, _rotors(order, reference, tuple(groups), single, route)


def _singles(found: Powers, member: FloatArray) -> list[Means | None]:
    """Mean squares at the reference speed of each rotor by group; ``None``: not separable."""
    out: list[Means | None] = []
    for rotor in range(found.reference.shape[1]):
        fit = found.separated[:, rotor] < _APART
        if int(fit.sum()) < _FEWEST:
            out.append(None)
            continue
        raised = np.where(fit, found.separated[:, rotor], 1.0)[:, None]
        reference = np.where(fit, found.reference[:, rotor], 0.0)[:, None] * np.ones(member.shape[1])
        out.append(weighed(found.single[:, rotor] @ member, reference, (found.noise @ member) * raised))
    return out


def _together(found: Powers, member: FloatArray, single: list[Means | None]) -> Means:
    """Mean squares of all rotors by group: of the whole line or the rotors added up, what scatters less."""
    rotors = found.reference.shape[1]
    reference = np.repeat(found.reference.mean(axis=1)[:, None], member.shape[1], axis=1)
    whole = weighed(found.energy @ member, reference, (found.noise @ member) * rotors)
    alone = [part for part in single if part is not None]
    if len(alone) < rotors:
        return whole
    added = Means(
        np.sum([part.mean for part in alone], axis=0),
        np.sum([part.influence for part in alone], axis=0),
        np.min([part.degrees for part in alone], axis=0),
    )
    better = np.isfinite(added.error) & ~(added.error >= whole.error)
    return Means(
        np.where(better, added.mean, whole.mean),
        np.where(better, added.influence, whole.influence),
        np.where(better, added.degrees, whole.degrees),
    )


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


def _rotors(
    order: float, reference: float, groups: tuple[str, ...], single: list[Means | None], route: str
) -> tuple[RotorLevel, ...]:
    out = []
    for rotor, sums in enumerate(single):
        reason = (
            f"rotor {rotor + 1} is not separable: it turned at the speed of another one nearly all the "
            f"time; fly turns "
            "and climbs so that the speeds part"
        )
        levels = {
            name: unmeasured(reason, unit_of(name), route)
            if sums is None
            else rms_of(*sums.at(column), unit_of(name), route)
            for column, name in enumerate(groups)
        }
        out.append(RotorLevel(rotor + 1, order, levels, reference))
    return tuple(out)
