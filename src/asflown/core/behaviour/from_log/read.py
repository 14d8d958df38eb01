"""Read one axis' controller out of a log: every member of the family tried, the likely ones kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.from_log.check import Check, check, errors_of, odd_windows
from asflown.core.behaviour.from_log.family import (
    COMMANDS,
    Order,
    Variant,
    coefficients,
    responses,
    variants,
)
from asflown.core.behaviour.from_log.figures import figures_of, is_told
from asflown.core.behaviour.from_log.fit import Fit, refine, settle
from asflown.core.behaviour.from_log.spectra import Spectra, spectra_of
from asflown.core.behaviour.from_log.windows import LEAST, Rows, windows_of
from asflown.core.measured import Measured

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Draws behind the interval of a response, in opposite pairs.
DRAWS = 300
#: Members that are fitted to the end, and of these, those whose command filters and loop rates are varied.
KEPT, VARIED = 5, 2
#: Rates of the loop that are tried where nobody stated one, in rows of the log; Hz between which they lie.
TIMES = (1.0, 2.0, 4.0, 8.0)
SLOWEST, FASTEST = 400.0, 17000.0
#: Spread of a response that a filter of another form would make: where the log tells of it, and for each
#: octave beyond. From simulated flights with notches that are not in the family.
FORM, FORM_BEYOND = 0.002, 0.05
#: Likelihood, of the best one's, below which a member is dropped.
UNLIKELY = 0.02
#: Power of the command's part of the output over what is left, from which on it is seen.
SEEN = 10.0
_SEED = 20261128


@dataclass(frozen=True, eq=False)
class ReadController:
    """One axis' controller as a log shows it.

    Attributes
    ----------
    fits
        The likely members of the family, the best one first.
    likelihood
        Share of each, summing to 1.
    figures
        Gains, cut-offs and delays with their 95 % intervals, by name; see `figures.UNITS`.
    check
        Whether the family fits.
    lowest, highest
        Hz, ends of the range that the log tells of.
    command_highest
        Hz, up to which the command was quick enough to be seen in the output.
    seconds
        Of the log that were used.
    left_out
        Share of the windows that were left out as odd.
    remarks
        What a reader should know, one sentence each without the full stop.
    """

    axis: str
    fits: tuple[Fit, ...]
    likelihood: tuple[float, ...]
    figures: Mapping[str, Measured]
    check: Check
    lowest: float
    highest: float
    command_highest: float
    seconds: float
    left_out: float = 0.0
    loop_rate: float | None = None
    remarks: tuple[str, ...] = field(default=())

    @property
    def best(self) -> Fit:
        """The likeliest member."""
        return self.fits[0]

    @property
    def commanded(self) -> bool:
        """Whether the command moved, so that what is done for it is known."""
        return self.best.variant.commanded

    def response(self, frequencies: Float) -> tuple[Complex, Complex]:
        """Responses for the command, and for the rate taken away, (nf,) s; frequencies (nf,) Hz, above 0."""
        return responses(self.best.variant, self.best.numbers, frequencies, self.best.loop_rate)

    def drawn(self, frequencies: Float) -> tuple[Complex, Complex]:
        """The same (1 + draws, nf), the estimate first, then draws among the likely members.

        Linear in the logarithm: two cut-offs and a delay are held only together by the data, and would bend
        apart.
        """
        rng = np.random.default_rng(_SEED)
        half = DRAWS // 2
        whose = rng.choice(len(self.fits), size=half, p=self.likelihood)
        sides: list[list[Complex]] = [[side[None]] for side in self.response(frequencies)]
        for which, one in enumerate(self.fits):
            count = int(np.count_nonzero(whose == which))
            if count:
                for side, rows in zip(sides, _drawn(one, frequencies, count, rng), strict=True):
                    side.append(rows)
        command, rate = (
            np.concatenate(side) * _of_form(frequencies, highest, rng)
            for side, highest in zip(sides, (self.command_highest, self.highest), strict=True)
        )
        return command, rate


def _of_form(frequencies: Float, highest: float, rng: np.random.Generator) -> Complex:
    """(1 + draws, nf) factors that filters of another form might make, mostly beyond what the log tells."""
    size = FORM + FORM_BEYOND * np.maximum(np.log2(frequencies / highest), 0.0)
    half = rng.standard_normal((DRAWS // 2, 2)) @ np.array([1.0, 1j])
    return np.asarray(np.exp(np.concatenate([[0.0], half, -half])[:, None] * size))


def _drawn(one: Fit, frequencies: Float, count: int, rng: np.random.Generator) -> tuple[Complex, Complex]:
    """(2 count, nf) of one member."""
    free = list(one.variant.free)
    values, vectors = np.linalg.eigh(one.covariance[np.ix_(free, free)])
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    away = rng.standard_normal((count, len(free))) @ root
    away = np.concatenate([away, -away])
    sizes = np.sqrt(np.maximum(np.diag(one.covariance)[free], 1e-300))
    base = responses(one.variant, one.numbers, frequencies, one.loop_rate)
    slopes: list[list[Complex]] = [[], []]
    for place, size in zip(free, sizes, strict=True):
        step = 1e-2 * size
        numbers = one.numbers.copy()
        numbers[place] += step
        moved = responses(one.variant, numbers, frequencies, one.loop_rate)
        for side, (new, old) in enumerate(zip(moved, base, strict=True)):
            with np.errstate(divide="ignore", invalid="ignore"):
                slopes[side].append(np.where(np.abs(old) > 0, (new - old) / (step * old), 0.0))
    command, rate = (
        np.asarray(old * np.exp(away @ np.stack(slope))) for old, slope in zip(base, slopes, strict=True)
    )
    return command, rate


def read_controller(
    axis: str, stretches: Sequence[Rows], *, loop_rate: float | None = None
) -> ReadController | str:
    """Read one axis' controller.

    Parameters
    ----------
    stretches
        Even stretches of one sampling rate.
    loop_rate
        Hz at which the controller runs, where somebody knows it.

    Returns
    -------
    ReadController or str
        Why nothing can be read, as a sentence without its full stop.
    """
    data = spectra_of(stretches, loop_rate=loop_rate)
    if data is None:
        return _nothing(stretches)
    fits = _likely(data, loop_rate)
    odd = odd_windows(data, errors_of(data, fits[0]))
    if odd.any():
        data = data.without(odd)
        fits = _likely(data, loop_rate)
    costs = np.asarray([one.cost for one in fits])
    likelihood = np.exp(-0.5 * (costs - costs[0]))
    likely = likelihood > UNLIKELY
    weights = likelihood[likely] / likelihood[likely].sum()
    kept = tuple(one for one, stays in zip(fits, likely, strict=True) if stays)
    return ReadController(
        axis,
        kept,
        tuple(weights.tolist()),
        figures_of(fits, kept, data.count),
        check(data, fits[0]),
        float(data.frequencies[0]),
        float(data.frequencies[-1]),
        _command_highest(data, fits[0]),
        data.windows.seconds,
        float(np.mean(odd)),
        loop_rate,
        _remarks(kept, data, float(np.mean(odd))),
    )


def bands_of(one: ReadController, lowest: float, points: int) -> dict[str, tuple[Float, Float, Float]]:
    """Responses with pointwise 95 % bands, up to the highest frequency that the log tells of.

    Returns
    -------
    dict
        ``rate`` and, where it moved, ``command``: frequencies (nf,) Hz; gain (3, nf) and phase (3, nf) in
        rad: estimate, low, high.
    """
    frequencies = np.geomspace(lowest, max(one.highest, 2 * lowest), points)
    command, rate = one.drawn(frequencies)
    made = {}
    for name, rows in (("rate", rate), ("command", command)):
        if name == "command" and not one.commanded:
            continue
        gain, phase = np.abs(rows), np.unwrap(np.angle(rows), axis=-1)
        phase -= 2 * np.pi * np.round((phase[:, :1] - phase[:1, :1]) / (2 * np.pi))
        ends = [np.percentile(part[1:], [2.5, 97.5], axis=0) for part in (gain, phase)]
        made[name] = (frequencies, np.vstack([gain[0], ends[0]]), np.vstack([phase[0], ends[1]]))
    return made


def _nothing(stretches: Sequence[Rows]) -> str:
    if not any(np.std(one.output) > 0 for one in stretches):
        return (
            "the output does not move: log the controller's output or every motor's command while it computes"
        )
    if windows_of(stretches) is None:
        return (
            f"fewer than {LEAST:.0f} s of the log lie in stretches of a second or more in which the output"
            " moves and nothing stands at its end: rock or fly longer, and more gently"
        )
    return "the measured rate is noise alone: rock the aircraft about this axis, slowly, quickly, with taps"


def _likely(data: Spectra, loop_rate: float | None) -> list[Fit]:
    """The members of the family that go best with the data, the best one first."""
    rates = _rates(data, loop_rate)
    usual = rates[len(rates) // 2]
    first = [one for one in variants(data.commanded) if one.command is Order.NONE]
    rough = sorted(((*settle(data, one, loop_rate=usual), one) for one in first), key=lambda row: row[0])
    fits = [refine(data, variant, numbers, loop_rate=usual) for _, numbers, variant in rough[:KEPT]]
    fits += _other_derivative(data, rough, usual)
    fits.sort(key=lambda one: one.cost)
    if data.commanded:
        others = [
            Variant(one.variant.rate, one.variant.derivative, order)
            for one in fits[:VARIED]
            for order in COMMANDS[1:]
        ]
        fits += [refine(data, one, settle(data, one, loop_rate=usual)[1], loop_rate=usual) for one in others]
        fits.sort(key=lambda one: one.cost)
    fits += [
        refine(data, one.variant, one.numbers, loop_rate=rate)
        for one in fits[:VARIED]
        for rate in rates
        if rate != usual
    ]
    return sorted(fits, key=lambda one: one.cost)


def _rates(data: Spectra, loop_rate: float | None) -> list[float]:
    """Rates of the loop that are tried, Hz."""
    if loop_rate is not None:
        return [loop_rate]
    rates = [times * data.windows.rate for times in TIMES]
    return [rate for rate in rates if SLOWEST <= rate <= FASTEST] or [data.windows.rate]


def _command_highest(data: Spectra, fit: Fit) -> float:
    """Hz, up to which what the command does to the output is well above what is left over."""
    a = coefficients(fit.variant, fit.numbers, data.frequencies, fit.loop_rate)[:, 4:]
    part = np.sum((data.total[:, 4:7, 4:7] @ a.conj()[..., None])[..., 0] * a, axis=1).real
    seen = np.flatnonzero(part > SEEN * fit.left)
    return float(data.frequencies[seen[-1] if seen.size else 0])


def _other_derivative(
    data: Spectra, rough: list[tuple[float, Float, Variant]], loop_rate: float
) -> list[Fit]:
    """The best member with a derivative and the best without, where they are not among the first."""
    made = []
    for absent in (True, False):
        place = next(i for i, row in enumerate(rough) if (row[2].derivative is None) is absent)
        if place >= KEPT:
            made.append(refine(data, rough[place][2], rough[place][1], loop_rate=loop_rate))
    return made


def _remarks(kept: Sequence[Fit], data: Spectra, odd: float) -> tuple[str, ...]:
    told = []
    for word, kinds in (
        ("filter of the rate", {one.variant.rate for one in kept}),
        ("filter of the derivative", {one.variant.derivative for one in kept if is_told(one)}),
        ("filter of the command", {one.variant.command for one in kept}),
    ):
        if len(kinds) > 1:
            names = " or ".join(
                ORDERS[kind] for kind in sorted(kinds, key=lambda kind: -1 if kind is None else kind)
            )
            told.append(f"the {word} is {names}: this log does not tell them apart")
    if not data.commanded:
        told.append(
            "the command did not move: what the controller does for it is not known; move the stick too"
        )
    if odd:
        told.append(
            f"{odd:.0%} of the windows are left out: the integral stood at its limit there, or was held"
        )
    if data.frequencies[-1] < 40.0:
        told.append(
            f"above {data.frequencies[-1]:.0f} Hz the measured rate is noise alone: filters are told by their"
            " delay; tap the arms while rocking"
        )
    return tuple(told)


#: A filter's order in words.
ORDERS: Mapping[Order | None, str] = {
    None: "no derivative",
    Order.NONE: "none",
    Order.FIRST: "one pole",
    Order.SECOND: "two poles",
    Order.TWICE: "one pole twice",
}
