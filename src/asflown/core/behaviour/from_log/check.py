"""Whether the family fits: what a fitted controller leaves over, held against both inputs and over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.from_log.family import coefficients
from asflown.core.behaviour.from_log.fit import Fit
from asflown.core.behaviour.from_log.spectra import WORTH, Spectra

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Share of the output's amplitude that follows an input beyond the family, from which on it does not fit;
#: and the chance of as much in a controller of the family, below which it counts.
LARGE, RARE = 0.03, 1e-4
#: Share of the output's power that neither input explains, from which on something else makes it.
UNEXPLAINED = 0.05
#: Spread of the gain over the windows, share, from which on one controller does not fit them all.
UNSTEADY = 0.05
#: Groups of bands in an octave.
IN_OCTAVE = 3.0
#: Hz, below which the windows are compared with each other.
SLOW = 4.0
#: How much more than the middle window one leaves over when it is left out, the share of its own power that
#: it leaves over then, and the most windows that are left out.
ODD, ODD_SHARE, MOST_ODD = 25.0, 1e-3, 0.3


@dataclass(frozen=True, slots=True)
class Group:
    """A third of an octave.

    Attributes
    ----------
    low, high
        Hz.
    beyond
        Share of the output's amplitude that follows an input beyond the family.
    chance
        Of as much without cause.
    """

    low: float
    high: float
    beyond: float
    chance: float

    @property
    def is_bad(self) -> bool:
        """Whether the family does not hold here."""
        return self.beyond > LARGE and self.chance < RARE


@dataclass(frozen=True, slots=True)
class Check:
    """What the check found.

    Attributes
    ----------
    explained
        Share of the output's power, 0 to 1, over the frequencies used.
    steady
        Standard deviation of the gain over the windows beyond chance, share.
    groups
        From low to high frequencies.
    reason
        Why the family does not fit, ``None`` where it does.
    """

    explained: float
    steady: float
    groups: tuple[Group, ...]
    reason: str | None

    @property
    def holds(self) -> bool:
        """Whether the family fits."""
        return self.reason is None

    @property
    def worst(self) -> Group:
        """Where most of the output follows an input beyond the family."""
        return max(self.groups, key=lambda one: one.beyond)


def errors_of(data: Spectra, fit: Fit) -> Complex:
    """(w, nf) what a fit leaves over."""
    grid = np.concatenate([[1e-3], np.geomspace(0.05, 2 * data.windows.rate, 600)])
    return data.errors(coefficients(fit.variant, fit.numbers, grid, fit.loop_rate), grid)


def check(data: Spectra, fit: Fit) -> Check:
    """Hold what a fit leaves over against the inputs."""
    errors = errors_of(data, fit)
    left = float(data.crossed(errors)[1].sum())
    explained = 1.0 - left / float(data.total[:, 0, 0].real.sum())
    groups = _groups(data, errors)
    steady = _steady(data, errors)
    return Check(explained, steady, groups, _reason(fit, explained, steady, groups))


def _reason(fit: Fit, explained: float, steady: float, groups: tuple[Group, ...]) -> str | None:
    if not fit.numbers[0] > 0:
        return (
            "the output does not act against the measured rate: check the signs of the columns, and that"
            " output, rate and command are of one axis"
        )
    bad = [one for one in groups if one.is_bad]
    if bad:
        worst = max(bad, key=lambda one: one.beyond)
        return (
            f"from {bad[0].low:.2g} Hz on the output follows the inputs in a way that no member of the family"
            f" does ({worst.beyond:.0%} of it between {worst.low:.3g} and {worst.high:.3g} Hz): a notch,"
            " another filter or another term"
        )
    if 1.0 - explained > UNEXPLAINED:
        return (
            f"{1.0 - explained:.0%} of the output follows neither the measured rate nor the command:"
            " something else drives it, or a column is of another axis"
        )
    if steady > UNSTEADY:
        return f"the gains change over the log by {steady:.0%}: they are scheduled, or two settings flew"
    return None


def _groups(data: Spectra, errors: Complex) -> tuple[Group, ...]:
    values = data.values
    inputs = values[..., [1, 4]] if data.commanded else values[..., [1]]
    used = np.repeat(data.kept, data.windows.bins.astype(int))
    f = (data.windows.first + np.arange(errors.shape[1])) * (data.windows.rate / data.windows.length)
    number = np.floor(np.log2(f / f[0]) * IN_OCTAVE).astype(int)
    made = []
    for one in np.unique(number[used]):
        at = used & (number == one)
        made.append(_group(inputs[:, at], values[:, at, 0], errors[:, at], f[at]))
    return tuple(made)


def _group(inputs: Complex, output: Complex, errors: Complex, f: Float) -> Group:
    from scipy.special import betainc

    x = inputs.reshape(-1, inputs.shape[-1])
    x = x / np.maximum(np.sqrt(np.mean(np.abs(x) ** 2, axis=0)), 1e-300)
    e, u = errors.ravel(), output.ravel()
    follows = x.conj().T @ e
    together = float(np.real(follows.conj() @ np.linalg.lstsq(x.conj().T @ x, follows, rcond=1e-9)[0]))
    left = max(float(np.sum(np.abs(e) ** 2)), 1e-300)
    share = min(max(together / left, 0.0), 1.0)
    count, q = max(2.0 + x.shape[1], e.size * WORTH), x.shape[1]
    chance = float(betainc(count - q, q, 1.0 - share))
    beyond = float(np.sqrt(max(together, 0.0) / max(float(np.sum(np.abs(u) ** 2)), 1e-300)))
    return Group(float(f[0]), float(f[-1]), beyond, chance)


def _steady(data: Spectra, errors: Complex) -> float:
    """Spread of the windows' gains beyond what is left over explains."""
    used = np.repeat(data.kept, data.windows.bins.astype(int))
    u, e = data.values[:, used, 0], errors[:, used]
    made = u - e
    noise = np.mean(np.abs(e) ** 2, axis=0) + 1e-6 * np.mean(np.abs(u) ** 2, axis=0)
    power = np.sum(np.abs(made) ** 2 / noise, axis=1)
    gains = np.sum((made.conj() * e).real / noise, axis=1) / np.maximum(power, 1e-300)
    strong = power > 0.1 * np.median(power)
    if np.count_nonzero(strong) < 3:
        return 0.0
    beyond = float(np.var(gains[strong])) - float(np.mean(1.0 / power[strong]))
    return float(np.sqrt(max(beyond, 0.0)))


def odd_windows(data: Spectra, errors: Complex) -> Bool:
    """(w,) windows that leave over far more at low frequencies than the others.

    An integral at its limit, or one that the firmware holds, does it. None are named where they are too many:
    then the family does not fit.
    """
    f = (data.windows.first + np.arange(errors.shape[1])) * (data.windows.rate / data.windows.length)
    low = f < SLOW
    left = np.sum(np.abs(errors[:, low]) ** 2, axis=1)
    power = np.sum(np.abs(data.values[:, low, 0]) ** 2, axis=1)
    odd = (left > ODD * np.median(left)) & (left > ODD_SHARE * power)
    return np.asarray(odd if np.mean(odd) <= MOST_ODD else np.zeros_like(odd))
