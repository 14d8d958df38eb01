"""The plant is recovered from closed-loop records in which the plain spectra of drive and rate mislead.

The records come from a simulation of its own: scipy.signal.cont2discrete gives the exact steps of the plant's
states at 2 kHz, a plain loop closes it. The truth is the plant's formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from asflown.core.behaviour.identify import plant
from asflown.core.behaviour.identify.bands import Stretch, banded, edges
from asflown.core.behaviour.identify.fit import PlantFit, _equations, _local_drive, fit_plant, smooth_over

FAST, SLOW = 2000, 500
GAIN, DAMPING, LAG, DELAY = 420.0, 0.8, 0.022, 0.003
LOOK = np.geomspace(1.0, 30.0, 30)


def _truth(frequencies: np.ndarray) -> np.ndarray:
    s = 2j * np.pi * frequencies
    hold = 0.5 / FAST
    return GAIN / (s + DAMPING) / (1 + s * LAG) * np.exp(-s * (DELAY + hold))


def _coloured(random: np.random.Generator, count: int, corner: float, size: float) -> np.ndarray:
    from scipy.signal import lfilter

    pole = np.exp(-2 * np.pi * corner / FAST)
    made = lfilter([1 - pole], [1, -pole], random.standard_normal(count))
    return size * made / np.std(made)


@dataclass(frozen=True)
class Flown:
    """One record, and how it was flown."""

    stretch: Stretch
    clipped: float


def _fly(
    seed: int,
    seconds: float = 50.0,
    *,
    closed: bool = True,
    wind: float = 14.0,
    command: float = 2.5,
    limit: float = 1e9,
    power: float = 0.0,
) -> Flown:
    """Fly: command through a PI controller (or straight) to the drive, disturbance rad/s^2 on the rate."""
    from scipy.signal import cont2discrete

    random = np.random.default_rng((seed, 77))
    count = int(seconds * FAST)
    asked = _coloured(random, count, 3.0, command)
    gust = _coloured(random, count, 1.5, wind)
    slow = np.clip(_coloured(random, count, 0.15, 0.25), -0.6, 0.6)
    stronger = np.exp(power * slow)
    system = np.array([[-1 / LAG, 0.0], [GAIN, -DAMPING]])
    a, b, *_ = cont2discrete(
        (system, np.array([[1 / LAG, 0.0], [0.0, 1.0]]), np.eye(2), np.zeros((2, 2))), 1 / FAST
    )
    (a00, _), (a10, a11) = a
    (b00, _), (b10, b11) = b
    wait = round(DELAY * FAST)
    drive, rate = np.zeros(count + wait), np.zeros(count)
    turn, lagged, inner, clipped = 0.0, 0.0, 0.0, 0
    for k in range(count):
        rate[k] = turn
        if closed:
            off = asked[k] - turn
            inner += 0.35 / FAST * off
            wanted = 0.09 * off + inner
        else:
            wanted = 0.02 * asked[k]
        given = min(max(wanted, -limit), limit)
        if given != wanted:
            inner -= 0.35 / FAST * off
            clipped += 1
        drive[k + wait] = given
        now = drive[k] * stronger[k]
        turn = a10 * lagged + a11 * turn + b10 * now + b11 * gust[k]
        lagged = a00 * lagged + b00 * now
    pick = slice(None, None, FAST // SLOW)
    slopes = (slow - slow.mean())[None, pick] if power else np.zeros((0, count * SLOW // FAST))
    return Flown(Stretch(SLOW, asked[pick], drive[wait:][pick], rate[pick], slopes), clipped / count)


def _fitted(*flown: Flown, **more: object) -> PlantFit:
    rows = [one.stretch for one in flown]
    shortest = min(row.command.size / row.rate for row in rows)
    return fit_plant(banded(rows, edges(SLOW, shortest)), **more)  # type: ignore[arg-type]


def _off(found: np.ndarray, frequencies: np.ndarray) -> np.ndarray:
    return np.abs(found / _truth(frequencies) - 1)


def test_an_open_loop_record_gives_the_plant() -> None:
    found = _fitted(_fly(1, 30.0, closed=False, wind=3.0))
    assert _off(found.response(LOOK), LOOK).max() < 0.03
    assert found.misfit < 2.5


def test_closed_loop_where_the_plain_response_of_rate_to_drive_is_wrong() -> None:
    flown = _fly(2)
    sums = banded([flown.stretch], edges(SLOW, 50.0))
    wide = smooth_over(sums.frequencies, 0.15)
    plain = (wide @ sums.drive_response[:, 0]) / (wide @ sums.drive_drive[:, 0, 0])
    inside = (sums.frequencies > 1.0) & (sums.frequencies < 3.0)
    found = _fitted(flown)
    mine = _off(found.response(sums.frequencies), sums.frequencies)
    # the plain one is drawn towards minus one over the controller
    assert _off(plain, sums.frequencies)[inside].max() > 0.35
    assert mine[inside].max() < 0.08
    assert _off(found.response(LOOK), LOOK).max() < 0.1


@pytest.mark.parametrize("seed", [3, 4])
def test_saturation_between_command_and_drive_does_not_bias(seed: int) -> None:
    flown = _fly(seed, limit=0.16)
    assert 0.05 < flown.clipped < 0.5
    found = _fitted(flown)
    assert _off(found.response(LOOK), LOOK).max() < 0.1


def test_the_correction_of_the_ends_has_the_right_sign() -> None:
    """At the true numbers, without disturbance, in pieces of 5 s: the equations are left over less than turned round.

    Measured, mean of 8 flights: 16.6 with it, 16.2 without, 23.7 turned round. This plant remembers for longer
    (1.3 s) than the tapered ends last, so to first order little is won; see the band sums for where it is.
    """
    numbers = plant.Prior().centre_and_spread(0)[0]
    numbers[: plant.PHYSICAL] = np.log(GAIN), np.log(DAMPING), np.log(LAG), DELAY + 0.5 / FAST
    left: dict[int, list[float]] = {1: [], -1: []}
    size = 5 * SLOW
    for seed in range(20, 28):
        row = _fly(seed, 30.0, closed=False, wind=0.0).stretch
        pieces = [
            Stretch(
                row.rate,
                *(values[start : start + size] for values in (row.command, row.drive, row.response)),
                row.slopes[:, start : start + size],
            )
            for start in range(0, row.command.size, size)
        ]
        sums = banded(pieces, edges(SLOW, 5.0))
        instrument = _local_drive(sums, smooth_over(sums.frequencies, 0.25, weights=sums.bins))
        for sign, found in left.items():
            turned = replace(sums, command_ends=sign * sums.command_ends)
            matrix, score, _ = _equations(numbers, turned, instrument, np.ones(sums.frequencies.size))
            found.append(float(np.linalg.norm((score / np.sqrt(np.diag(matrix)))[: plant.PHYSICAL])))
    assert np.mean(left[-1]) > 1.2 * np.mean(left[1])


def test_the_covariance_says_how_far_off_the_fit_is() -> None:
    """Standardised errors of gain at 2, 5 and 12 Hz over 12 flights: rms between 0.5 and 1.6 (chi-square, 99 %)."""
    at = np.array([2.0, 5.0, 12.0])
    random = np.random.default_rng(0)
    scores = []
    for seed in range(12):
        found = _fitted(_fly(100 + seed, 20.0))
        draws = random.multivariate_normal(found.numbers, found.covariance, 200)
        spread = np.std(np.log(np.abs(found.response(at, draws))), axis=0)
        scores.append(np.log(np.abs(found.response(at) / _truth(at))) / spread)
    size = np.sqrt(np.mean(np.square(scores)))
    assert 0.5 < size < 1.6


def test_powers_of_slow_factors_are_recovered() -> None:
    found = _fitted(_fly(5, 60.0, power=1.0))
    spread = np.sqrt(found.covariance[-1, -1])
    assert spread < 0.15
    assert abs(found.numbers[-1] - 1.0) < 3 * spread + 0.02
    # and where half of it is in the drive already, the other half is found
    flown = _fly(5, 60.0, power=1.0)
    row = flown.stretch
    halved = Stretch(row.rate, row.command, row.drive * np.exp(0.5 * row.slopes[0]), row.response, row.slopes)
    rest = fit_plant(banded([halved], edges(SLOW, 60.0)), taken=(0.5,))
    assert rest.numbers[-1] == pytest.approx(0.5, abs=0.15)
    np.testing.assert_allclose(np.abs(rest.response(LOOK) / found.response(LOOK)), 1.0, atol=0.04)


def test_two_stretches_narrow_the_spread() -> None:
    one, both = _fitted(_fly(6, 25.0)), _fitted(_fly(6, 25.0), _fly(7, 25.0))
    ratio = np.sqrt(both.covariance[0, 0] / one.covariance[0, 0])
    assert 0.4 < ratio < 0.95


def test_gradients_are_derivatives_of_the_response() -> None:
    """Numerical differences of the model's logarithm, by each number and by angular frequency."""
    prior = plant.Prior()
    numbers, _ = prior.centre_and_spread(0)
    numbers = numbers + np.linspace(0.0, 0.01, numbers.size)
    gradient = plant.log_gradient(numbers, LOOK)
    for place in range(numbers.size):
        step = np.zeros(numbers.size)
        step[place] = 1e-6
        moved = plant.response(numbers + step, LOOK) / plant.response(numbers - step, LOOK)
        np.testing.assert_allclose(np.log(moved) / 2e-6, gradient[place], atol=1e-6, rtol=1e-6)
    flat = numbers.copy()
    flat[plant.PHYSICAL :] = 0.0
    ahead = np.log(plant.response(flat, LOOK * (1 + 1e-6)) / plant.response(flat, LOOK * (1 - 1e-6)))
    np.testing.assert_allclose(ahead / (2e-6 * 2 * np.pi * LOOK), plant.log_slope(flat, LOOK), rtol=1e-5)
