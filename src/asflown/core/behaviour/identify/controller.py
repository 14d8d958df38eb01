"""The controller, measured from the log: what the drive does for the command and for the measured rate.

The drive is computed by the firmware from the command and the measured rate. The relation is exact but for
what was not logged (the samples between two rows: their noise folds down). So it is tested against band-
passed copies of the command, which does not know that noise, and of the measured rate where the noise is
small beside it (instrumental variables, see :mod:`fit`). A rate controller of the PID kind is held likely,
with filters on the measured rate and on its derivative, and every response may depart smoothly from that
shape; no controller need be declared. Stretches where motors stood at their ends are left out (the relation
does not hold there), and each piece between has an offset and a slope of its own, as the integrators of
most firmwares are held meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.identify.plant import bumps

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Bool = npt.NDArray[np.bool_]

#: Cut-offs of the bank by which any smooth response is written as a sum, Hz.
POLES = (5.0, 15.0, 40.0, 80.0, 130.0, 190.0)
DOUBLE = (40.0, 80.0, 130.0, 190.0)
#: Instruments: centres of the command's band-passes, Hz, and their width in octaves.
INSTRUMENTS = np.geomspace(0.5, 60.0, 20)
WIDTH = 0.35
#: Largest share of folded noise with which the measured rate may serve as an instrument too.
WORST_SHARE = 0.02
#: Time after the start of a stretch until the filters have settled, s.
SETTLE = 0.6
#: Longest stretch of data used, s.
ENOUGH = 90.0
#: Rows left out to either side of a saturated one, s.
MARGIN = 0.03
#: Share of saturated rows within the margin from which on rows are left out.
DENSE = 0.35
#: Length of the pieces that have an offset and a slope of their own, s.
PIECE = 1.5
#: Frequencies at which a controller is written as a sum of the bank.
GRID = np.geomspace(0.3, 120.0, 80)


@dataclass(frozen=True, eq=False)
class Record:
    """One even stretch.

    Attributes
    ----------
    rate
        Samples a second.
    command, response
        (n,) rad/s.
    output
        (n,) the controller's output, or the differential motor command, 1.
    saturated
        (n,) share of each sample's rows in which a motor stood at its end, 0 to 1.
    """

    rate: float
    command: Float
    response: Float
    output: Float
    saturated: Float


@dataclass(frozen=True, eq=False)
class ControllerFit:
    """Numbers of the controller's model with covariance.

    Attributes
    ----------
    numbers, covariance
        (p,) and (p, p): see :func:`shape`.
    unexplained
        Share of the output's power that the relation leaves over.
    misfit
        Mean squared standardised departure of the instruments' equations; about 1 where the shape holds.
    rows
        Unsaturated samples that were used.
    """

    numbers: Float
    covariance: Float
    unexplained: float
    misfit: float
    rows: int

    def response(self, frequencies: Float) -> tuple[Complex, Complex]:
        """Responses for the command and for the measured rate, (nf,) each, s; frequencies (nf,) in Hz."""
        return shape(self.numbers, frequencies)

    def drawn(self, frequencies: Float, away: Float) -> tuple[Complex, Complex]:
        """Responses, (draws, nf) each, s, for departures (draws, p) from the estimate; frequencies in Hz.

        Linear in the logarithm, as the covariance is: several numbers (two cut-offs and a delay) are held
        only together by the data, and would bend apart.
        """
        steps = _steps()
        centre = shape(self.numbers, frequencies)
        moved = shape(self.numbers + np.diag(steps), frequencies)
        found = []
        for here, there in zip(centre, moved, strict=True):
            slopes = np.log(there / here) / steps[:, None]
            found.append(here * np.exp(away @ slopes))
        return found[0], found[1]


#: log gain, log integral/proportional (1/s), derivative/proportional (s), log cut-off of the rate's filter
#: and of the derivative's (rad/s), further delay (s), command weight on P, on I, command's
#: derivative/proportional (s)
CENTRE = np.array(
    [0.0, np.log(4.0), 0.012, np.log(2 * np.pi * 120), np.log(2 * np.pi * 90), 0.0007, 1.0, 1.0, 0.0]
)
SPREAD = np.array([1e3, 1.5, 0.02, 0.7, 0.7, 0.001, 0.02, 0.02, 0.003])
#: Spread of the smooth departures: command's gain, command's phase, rate's gain, rate's phase.
DEPARTURE = (0.003, 0.003, 0.01, 0.01)


def shape(numbers: Float, frequencies: Float) -> tuple[Complex, Complex]:
    """Responses of a controller of the PID kind, with smooth departures from it.

    ``drive = command response * command - rate response * rate``.

    Parameters
    ----------
    numbers
        (..., 9 + 4 nc): as `CENTRE`, then departures of the command's gain and phase, the rate's gain and
        phase.
    frequencies
        (nf,) Hz, above 0.

    Returns
    -------
    tuple
        For the command and for the measured rate, (..., nf) each, s (drive 1 for a rate of 1 rad/s).
    """
    s = 2j * np.pi * frequencies
    gain, integral, derivative, rate_cut, slope_cut, delay, weight_p, weight_i, lead = (
        numbers[..., i, None] for i in range(9)
    )
    bump = bumps(frequencies).T
    n = bump.shape[0]
    rest = numbers[..., 9:]
    away = [rest[..., i * n : (i + 1) * n] @ bump for i in range(4)]
    k, inner = np.exp(gain), np.exp(integral) / s
    filtered = np.exp(-s * delay) / (1 + s / np.exp(rate_cut))
    for_command = k * (weight_p + weight_i * inner + lead * s) * np.exp(away[0] + 1j * away[1])
    for_rate = k * (1 + inner + derivative * s / (1 + s / np.exp(slope_cut))) * filtered
    return np.asarray(for_command), np.asarray(for_rate * np.exp(away[2] + 1j * away[3]))


def _spread() -> Float:
    """(p,) prior spreads of the numbers."""
    bump = bumps(GRID).shape[1]
    return np.concatenate([SPREAD, *[np.full(bump, d) for d in DEPARTURE]])


def _steps() -> Float:
    spread = _spread()
    return np.where(spread < 1e2, 1e-3 * spread, 1e-4)


def _one_pole(frequencies: Float, cutoff: float, rate: float) -> Complex:
    """Bilinear one-pole low-pass with the prewarped cut-off."""
    z = np.exp(-2j * np.pi * frequencies / rate)
    k = np.tan(np.pi * min(cutoff, 0.4 * rate) / rate)
    return np.asarray(k * (1 + z) / (1 + k - (1 - k) * z))


def _bank(frequencies: Float, rate: float) -> Complex:
    """(nb, nf): one, the integral (s), the low-passes."""
    z = np.exp(-2j * np.pi * np.maximum(frequencies, 1e-9) / rate)
    one = np.ones_like(frequencies) + 0j
    slope = (1 / z - z) / 6.0
    rows = [one, 0.5 / rate * (1 + z) / (1 - z), slope, *(_one_pole(frequencies, f, rate) for f in POLES)]
    return np.asarray(rows + [_one_pole(frequencies, f, rate) ** 2 for f in DOUBLE])


@lru_cache(maxsize=2)  # the pieces of a long flight are of one length
def _filters(length: int, rate: float) -> tuple[Complex, Float]:
    """(nb, nf) the bank and (ni, nf) the instruments' bands at the frequencies of a transform."""
    frequencies = np.asarray(np.arange(length // 2 + 1) * (rate / length), dtype=np.float64)
    distance = np.log2(np.maximum(frequencies, 1e-6))[None] - np.log2(INSTRUMENTS)[:, None]
    return _bank(frequencies, rate), np.asarray(np.exp(-0.5 * (distance / WIDTH) ** 2), dtype=np.float64)


def _filtered(record: Record) -> tuple[Float, Float, Float]:
    """(2 nb, n) bank's outputs for command and negative rate; (4 ni, n) instruments; (2 ni,) noise share."""
    import scipy.fft

    n = record.command.size
    length = scipy.fft.next_fast_len(n + int(record.rate), real=True)
    frequencies = np.asarray(np.arange(length // 2 + 1) * (record.rate / length), dtype=np.float64)
    means = (record.command.mean(), record.response.mean())
    spectra = scipy.fft.rfft(
        np.stack([record.command - means[0], record.response - means[1]]), length, axis=1
    )
    bank, band = _filters(length, record.rate)
    inside = band * spectra[0]
    own = band * spectra[1]
    rows = scipy.fft.irfft(
        np.concatenate([bank[2:] * spectra[0], bank[2:] * -spectra[1], inside, 1j * inside, own, 1j * own]),
        length,
        axis=1,
    )[:, :n]
    p = bank.shape[0] - 2
    sides = []
    for plain, filtered in ((record.command, rows[:p]), (-record.response, rows[p : 2 * p])):
        integral = (np.cumsum(plain) - 0.5 * plain) / record.rate
        sides += [plain[None], integral[None], filtered]
    return np.concatenate(sides), rows[2 * p :], _noise_share(spectra, band, frequencies, record.rate)


def _noise_share(spectra: Complex, band: Float, frequencies: Float, rate: float) -> Float:
    """(2 ni,) share that the sensor's folded noise has in each instrument's sums, the command's first.

    Tested against the command, noise averages out with the number of bins; tested against the rate itself,
    it does not. The floor is read off the quietest part of the highest third of the spectrum, as noise from
    above the log's range has folded into it.
    """
    top = (frequencies > 0.3 * rate) & (frequencies < 0.42 * rate)
    power = np.abs(spectra[1]) ** 2
    floor = float(np.percentile(power[top], 40)) / 0.511  # a quantile of the exponential distribution
    squared = band**2
    cross = np.abs((squared * np.conj(spectra[0])) @ spectra[1]) ** 2
    own, command = squared @ power, squared @ np.abs(spectra[0]) ** 2
    coherence = np.clip(cross / np.maximum(own * command, 1e-300), 1e-9, 1.0)
    bins = squared.sum(axis=1) ** 2 / np.maximum((squared**2).sum(axis=1), 1e-300)
    noise = floor * squared.sum(axis=1) / np.maximum(own, 1e-300)
    return np.asarray(np.minimum(1.0, np.concatenate([noise / (coherence * bins), noise])))


def _runs(record: Record) -> list[tuple[int, int]]:
    """Unsaturated runs long enough to be used, after settling."""
    margin = max(1, int(MARGIN * record.rate))
    near = np.ones(2 * margin + 1)
    # single clipped rows are mostly noise: to leave those out would pick the rows by their noise
    dense = np.convolve(record.saturated, near / near.size, mode="same") > DENSE
    bad = np.convolve(dense.astype(float), near, mode="same") > 0.5
    bad[: int(SETTLE * record.rate)] = True
    edge = np.flatnonzero(np.diff(np.concatenate([[True], bad, [True]]).astype(np.int8)))
    starts, ends = edge[::2], edge[1::2]
    least = int(0.15 * record.rate)
    longest = int(PIECE * record.rate)
    pieces = []
    for a, b in zip(starts, ends, strict=True):
        if b - a >= least:
            cuts = np.linspace(a, b, 1 + max(1, round((b - a) / longest))).astype(int)
            pieces += [(int(c), int(d)) for c, d in pairwise(cuts)]
    return pieces


def _level(rows: Float) -> Float:
    """Rows without their mean and slope."""
    n = rows.shape[-1]
    ramp = np.linspace(-1, 1, n)
    ramp /= np.sqrt(ramp @ ramp)
    rows = rows - rows.mean(axis=-1, keepdims=True)
    return np.asarray(rows - (rows @ ramp)[..., None] * ramp)


def fit_controller(records: Sequence[Record]) -> ControllerFit | None:
    """Measure the controller from the log.

    Parameters
    ----------
    records
        Even stretches of one sampling rate; of more than `ENOUGH` s, evenly spread pieces are used.

    Returns
    -------
    ControllerFit or None
        ``None`` when too few unsaturated rows are left (under 3 s).
    """
    blocks, instruments, outputs, shares = [], [], [], []
    for record in _enough(records):
        rows, tests, share = _filtered(record)
        shares.append(share)
        for start, end in _runs(record):
            blocks.append(_level(rows[:, start:end]))
            instruments.append(tests[:, start:end])
            outputs.append(_level(record.output[start:end]))
    total = sum(block.shape[1] for block in blocks)
    if not records or total < 3 * records[0].rate:
        return None
    x, w, z = np.concatenate(blocks, axis=1), np.concatenate(instruments, axis=1), np.concatenate(outputs)
    return _solve(x, w, z, records[0].rate, np.mean(shares, axis=0))


def _enough(records: Sequence[Record]) -> list[Record]:
    seconds = sum(record.command.size / record.rate for record in records)
    if seconds <= ENOUGH:
        return list(records)
    chosen: list[Record] = []
    piece = 10.0
    share = ENOUGH / seconds
    for record in records:
        size = int(piece * record.rate)
        count = max(1, round(share * record.command.size / size))
        for start in np.linspace(0, max(0, record.command.size - size), count).astype(int):
            part = slice(int(start), int(start) + size)
            chosen.append(
                Record(
                    record.rate,
                    record.command[part],
                    record.response[part],
                    record.output[part],
                    record.saturated[part],
                )
            )
    return chosen


class _Written:
    """A controller's numbers as coefficients of the bank: the integral's exactly, the rest projected."""

    def __init__(self, rate: float) -> None:
        bank = _bank(GRID, rate)
        self._integral = bank[1]
        others = np.delete(bank, 1, axis=0)
        # below the crossover the drive is the small difference of two large parts: errors count for more
        self._weight = 1 + (12.0 / GRID) ** 1.5
        weighted = others * self._weight
        matrix = np.concatenate([weighted.T.real, weighted.T.imag])
        size = np.sqrt(np.sum(matrix**2, axis=0))
        self._inverse = np.linalg.pinv(matrix / size, rcond=1e-9) / size[:, None]

    def __call__(self, numbers: Float) -> Float:
        sides = []
        weights = np.exp(numbers[..., 0, None] + numbers[..., 1, None])
        for wanted, whole in zip(
            shape(numbers, GRID), (weights * numbers[..., 7, None], weights), strict=True
        ):
            rest = (wanted - whole * self._integral) * self._weight
            plain = np.concatenate([rest.real, rest.imag], axis=-1) @ self._inverse.T
            sides += [plain[..., :1], whole, plain[..., 1:]]
        return np.concatenate(sides, axis=-1)


def _start(x: Float, z: Float) -> Float:
    """(p,) what is held likely, with the gain the output's size asks for."""
    centre = _centre()
    centre[0] = np.log(max(1e-9, np.std(z) / max(1e-9, np.std(x[0] + x[x.shape[0] // 2]))))
    return centre


def _centre() -> Float:
    """(p,) prior centres of the numbers."""
    return np.concatenate([CENTRE, np.zeros(4 * bumps(GRID).shape[1])])


def _doubt(share: Float, target: Float) -> Float:
    """(4 ni,) what noise in an instrument may do to its equation, in the equation's unit."""
    half = share.size // 2
    doubt = np.concatenate([share[:half], share[:half], share[half:], share[half:]])
    size_of = np.hypot(target, target.reshape(4, -1)[[1, 0, 3, 2]].ravel())
    return np.asarray(np.where(doubt > WORST_SHARE, np.inf, doubt) * size_of)


def _meat(w: Float, over: Float, rate: float) -> Float:
    """(4 ni, 4 ni) covariance of the instruments' sums, from sums over blocks of what is left over (n,)."""
    size = max(1, int(np.clip(over.size / rate / 30, 0.4, 2.0) * rate))
    count = over.size // size
    used = count * size
    blocks = w[:, :used].reshape(-1, count, size)
    pieces = np.einsum("ics,cs->ic", blocks, over[:used].reshape(count, size))
    return np.asarray(pieces @ pieces.T * (over.size / max(1, count * size)))


def _solve(x: Float, w: Float, z: Float, rate: float, share: Float) -> ControllerFit:
    centre, spread, steps = _centre(), _spread(), _steps()
    written = _Written(rate)
    gram, target = w @ x.T, w @ z
    numbers = _start(x, z)
    doubt = _doubt(share, target)
    for turn in range(25):
        base = written(numbers)
        jacobian = ((written(numbers + np.diag(steps)) - base) / steps[:, None]).T  # (nbank, p)
        left = target - gram @ base
        if turn == 0 or (turn % 4 == 3 and turn < 17):
            meat = _meat(w, z - base @ x, rate)
            weight = 1 / np.maximum(np.diag(meat) + doubt**2, 1e-300)
        slope = gram @ jacobian
        hessian = slope.T @ (weight[:, None] * slope) + np.diag(spread**-2)
        score = slope.T @ (weight * left) - (numbers - centre) / spread**2
        step = np.linalg.solve(hessian, score)
        numbers = numbers + step * min(1.0, 0.7 / max(1e-9, float(np.max(np.abs(step[[0, 1, 3, 4]])))))
    over = z - base @ x
    correlation = meat * np.sqrt(np.outer(weight, weight))
    inverse = np.linalg.inv(hessian)
    scaled = np.sqrt(weight)[:, None] * slope
    covariance = inverse @ (scaled.T @ correlation @ scaled + np.diag(spread**-2)) @ inverse
    unexplained = float(np.mean(over**2) / max(float(np.mean(z**2)), 1e-300))
    return ControllerFit(numbers, covariance, unexplained, float(np.mean(weight * left**2)), x.shape[1])
