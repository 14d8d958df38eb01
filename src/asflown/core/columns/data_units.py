"""In which unit a set of columns is, from the size of its numbers. Ranges are common practice, no source."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asflown.core.columns.kinds import Kind, kind_of
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.log_units import UNITS, LogUnit
from asflown.core.columns.sample import Sample

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray

_FLOOR = -8.0


@dataclass(frozen=True, slots=True)
class Usual:
    """What a flight usually shows of a kind: middle and spread in natural logarithm, in SI, and of what."""

    of: str
    middle: float
    spread: float
    plain: int = 2  # how many units, from the first, are usual
    odd: float = 1.0  # how much less usual the others are


#: Angular rates: the rate that 1 % of the rows exceed. Rotors and supplies: the mean.
USUAL = {
    Kind.RATE: Usual("large", 2.0, 1.1, 2, 3.0),
    Kind.ANGLE: Usual("large", 0.6, 1.1, 2, 2.0),
    Kind.ROTOR: Usual("mean", 150.0, 0.8, 3, 2.5),
    Kind.VOLTAGE: Usual("mean", 15.0, 0.7, 2, 0.7),
    Kind.CURRENT: Usual("mean", 12.0, 1.3, 2, 2.0),
    Kind.LENGTH: Usual("large", 20.0, 2.0, 1, 2.5),
    Kind.SPEED: Usual("large", 4.0, 1.5, 1, 2.5),
}
_SURE = {
    Kind.TEMPERATURE: (250.0, 325.0),
    Kind.PRESSURE: (45_000.0, 109_000.0),
}


#: Noise of a measured rate from row to row, rad/s rms: middle and spread. Common practice, no source.
_NOISE, _NOISE_SPREAD = 0.008, 1.4


def say_units(ledger: Ledger, sample: Sample, step: float = math.nan, *, is_at_rest: bool = False) -> None:
    """Enter, for every family the names or data speak for, how likely each unit makes its numbers."""
    families: dict[str, list[int]] = defaultdict(list)
    for place, name in ledger.readings().items():
        if sample.at(place) is not None:
            families[name.partition(".")[0]].append(place)
    for family, places in families.items():
        name = next(n for (_, n) in ledger.weights if n.partition(".")[0] == family)
        if not (is_at_rest and kind_of(name) is Kind.RATE):
            _family(ledger, sample, family, kind_of(name), sorted(set(places)))
        if family == "rate" and step < 0.0035:
            _noise(ledger, sample, sorted(set(places)))


def _noise(ledger: Ledger, sample: Sample, places: list[int]) -> None:
    """Gyros and vibration have a usual size: the rows' third differences tell it whatever the manoeuvres."""
    ats = [at for place in places if (at := sample.at(place)) is not None]
    thirds = np.diff(sample.blocks[:, :, ats], n=3, axis=1)
    if thirds.size == 0:
        return
    size = float(np.median(np.abs(thirds))) * 1.4826 / math.sqrt(20.0)
    if size <= 0:
        return
    scores = {u.word: _off(size * u.factor, _NOISE, _NOISE_SPREAD) for u in UNITS[Kind.RATE] if u.is_known}
    scores["raw counts"] = scores["deg/s"] - 1.0
    best = max(("rad/s", "deg/s"), key=lambda word: scores[word])
    for place in places:
        for word, score in scores.items():
            reason = f"its noise from row to row is {size:.2g}: usual in {word}" if word == best else ""
            ledger.unit(place, "rate", word, score, reason)


def _off(value: float, middle: float, spread: float) -> float:
    return max(_FLOOR / 2, -0.5 * (math.log(value / middle) / spread) ** 2)


def _family(ledger: Ledger, sample: Sample, family: str, kind: Kind, places: list[int]) -> None:
    ats = [at for place in places if (at := sample.at(place)) is not None]
    if kind is Kind.ACCELERATION and len(ats) >= 3:
        size, words = length_of(sample.blocks[:, :, ats[:3]]), "its three together are"
        scores = _about(size, 9.80665, 0.25, UNITS[kind], 3, 2.5)
    elif kind in USUAL:
        usual = USUAL[kind]
        size = float(np.max(getattr(sample, usual.of)[ats]))
        words = "1 % of its rows exceed" if usual.of == "large" else "its mean is"
        scores = _about(size, usual.middle, usual.spread, UNITS[kind], usual.plain, usual.odd)
        if kind in (Kind.VOLTAGE, Kind.CURRENT):
            scores = _whole(scores, bool(np.all(sample.thin[:, ats] == np.rint(sample.thin[:, ats]))))
        if kind is Kind.RATE:
            # Counts of a sensor that saturates at 2,000 deg/s over 16 bit, the coarsest setting.
            scores["raw counts"] = (
                _about(size * 0.061, usual.middle, usual.spread, (UNITS[kind][1],))["deg/s"] - 2.5
            )
    elif kind in _SURE:
        size, words = float(sample.mean[ats[0]]), "its mean is"
        scores = _within(size, _SURE[kind], UNITS[kind])
    else:
        return
    _enter(ledger, family, places, scores, f"{words} {size:.4g}")


def _about(
    size: float, middle: float, spread: float, units: tuple[LogUnit, ...], plain: int = 2, odd: float = 1.0
) -> dict[str, float]:
    made: dict[str, float] = {}
    for number, unit in enumerate(units):
        if not unit.is_known:
            continue
        if size <= 0:
            made[unit.word] = 0.0
            continue
        off = math.log(size * unit.factor / middle) / spread
        made[unit.word] = max(_FLOOR, -0.5 * off**2) - (odd if number >= plain else 0.0)
    return made


def _within(size: float, bounds: tuple[float, float], units: tuple[LogUnit, ...]) -> dict[str, float]:
    made = {}
    for number, unit in enumerate(units):
        value = (size - unit.offset) * unit.factor
        made[unit.word] = (0.0 if bounds[0] <= value <= bounds[1] else _FLOOR) - (1.6 if number > 2 else 0.0)
    return made


def _whole(scores: dict[str, float], is_whole: bool) -> dict[str, float]:
    """Whole numbers are hardly volts or amperes; numbers with a fraction are hardly small units."""
    return {w: s - (1.5 if is_whole == (UNITS_OF_ONE.get(w) is not None) else 0.0) for w, s in scores.items()}


#: Units an electric quantity has when it is logged with a fraction.
UNITS_OF_ONE = {"V": 1, "A": 1}


def length_of(parts: FloatArray) -> float:
    """Median length of the specific force, (b, n, 3), vibration averaged out: about one g, flying or not."""
    rows = max(1, min(64, parts.shape[1] // 4))
    kept = parts[:, : parts.shape[1] // rows * rows]
    means = kept.reshape(-1, rows, 3).mean(axis=1)
    return float(np.median(np.linalg.norm(means, axis=1)))


def _enter(ledger: Ledger, family: str, places: list[int], scores: dict[str, float], told: str) -> None:
    if not scores:
        return
    best = max(scores, key=lambda word: scores[word])
    reason = f"{told}: plausible as {best}" if scores[best] > -4 else ""
    for place in places:
        for word, score in scores.items():
            ledger.unit(place, family, word, score, reason if word == best else "")
        if scores[best] <= -6:
            for (column, name), weight in list(ledger.weights.items()):
                if column == place and name.partition(".")[0] == family and weight > 0:
                    ledger.data(place, name, -3.0)
