"""A controller whose filters are known exactly is measured from its log.

The output is computed by scipy.signal.lfilter at 4 kHz from command and noisy rate; every fourth row is logged.
The truth is scipy.signal.freqz of the same coefficients.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from asflown.core.behaviour.identify.controller import (
    CENTRE,
    ControllerFit,
    Record,
    fit_controller,
    shape,
)

LOOP, LOG = 4000, 1000
KP, KI, TD = 0.11, 0.3, 0.016  # 1, 1/s, s of the proportional
LOOK = np.geomspace(0.8, 40.0, 40)


def _pole(cutoff: float) -> tuple[list[float], list[float]]:
    share = 1 - np.exp(-2 * np.pi * cutoff / LOOP)
    return [share], [1, share - 1]


GYRO, SLOPE = _pole(160.0), _pole(85.0)


def _flown(seed: int, seconds: float = 40.0, noise: float = 0.01) -> Record:
    """Command of a pilot, a rate that follows it with a lag and gusts, and what the controller makes of both."""
    from scipy.signal import butter, lfilter

    random = np.random.default_rng((seed, 5))
    count = int(seconds * LOOP)
    command = lfilter(*_pole(3.0), random.standard_normal(count))
    command *= 2.5 / np.std(command)
    gust = lfilter(*_pole(2.0), random.standard_normal(count))
    rate = lfilter(*butter(2, 9.0, fs=LOOP), command) + 0.3 * gust / np.std(gust)
    sensed = rate + noise * np.sqrt(LOOP / LOG) * random.standard_normal(count)
    filtered = lfilter(*GYRO, sensed)
    slope = lfilter(*SLOPE, np.diff(filtered, prepend=filtered[0]) * LOOP)
    inner = np.cumsum(command - filtered) / LOOP
    output = KP * (command - filtered) + KI * KP * inner - KP * TD * slope
    pick = slice(None, None, LOOP // LOG)
    return Record(LOG, command[pick], sensed[pick], output[pick], np.zeros(count * LOG // LOOP))


def _truth(frequencies: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from scipy.signal import freqz

    def of(b: list[float], a: list[float]) -> np.ndarray:
        return np.asarray(freqz(b, a, worN=frequencies, fs=LOOP)[1])

    inner = KI * KP * of([1 / LOOP], [1, -1])
    slope = KP * TD * of([LOOP, -LOOP], [1]) * of(*SLOPE)
    return KP + inner, (KP + inner + slope) * of(*GYRO)


def _off(found: ControllerFit | None) -> tuple[float, float]:
    assert found is not None
    return tuple(  # type: ignore[return-value]
        float(np.max(np.abs(mine / truth - 1)))
        for mine, truth in zip(found.response(LOOK), _truth(LOOK), strict=True)
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_gains_and_filters_are_recovered_up_to_40_hz(seed: int) -> None:
    found = fit_controller([_flown(seed)])
    for_command, for_rate = _off(found)
    assert for_command < 0.03
    assert for_rate < 0.05
    assert found is not None
    assert found.unexplained < 0.05


def test_without_noise_it_is_all_but_exact() -> None:
    found = fit_controller([_flown(4, noise=0.0)])
    assert max(_off(found)) < 0.02
    assert found is not None
    # what is left over is trim and drift, which no band of the command explains
    assert found.unexplained < 0.03


def _clipped(record: Record, share: float) -> tuple[Record, np.ndarray]:
    """With stretches of a quarter second in which the output stood at an end."""
    output, at_end = record.output.copy(), np.zeros(record.output.size)
    for start in range(1500, output.size - 300, int(250 / share)):
        at_end[start : start + 250] = 1.0
    output[at_end > 0] = 0.8 * output.max()
    return replace(record, output=output), at_end


def test_stretches_at_a_motors_end_are_left_out() -> None:
    record, at_end = _clipped(_flown(5), 0.2)
    told = fit_controller([replace(record, saturated=at_end)])
    untold = fit_controller([record])
    assert max(_off(told)) < 0.08
    assert max(_off(untold)) > 0.15
    assert told is not None
    assert untold is not None
    assert told.rows < 0.85 * untold.rows


def test_single_clipped_rows_are_kept() -> None:
    """Left out by their noise, they would pick the rows that remain; one in fifty is no dense stretch."""
    record = _flown(6, 20.0)
    scattered = np.zeros(record.output.size)
    scattered[::50] = 1.0
    with_them, without = fit_controller([replace(record, saturated=scattered)]), fit_controller([record])
    assert with_them is not None
    assert without is not None
    assert with_them.rows == without.rows


def test_several_stretches_serve_together() -> None:
    found = fit_controller([_flown(7, 15.0), _flown(8, 15.0)])
    assert max(_off(found)) < 0.08


def test_a_long_flight_is_looked_at_in_even_pieces() -> None:
    found = fit_controller([_flown(9, 150.0)])
    assert max(_off(found)) < 0.05
    assert found is not None
    assert found.rows < 100 * LOG


def test_too_little_gives_none() -> None:
    record = _flown(10, 20.0)
    assert fit_controller([]) is None
    assert fit_controller([replace(record, saturated=np.ones(record.output.size))]) is None
    short = Record(
        LOG, *(values[:3000] for values in (record.command, record.response, record.output)), np.zeros(3000)
    )
    assert fit_controller([short]) is None


def test_drawn_controllers_spread_about_the_estimate() -> None:
    found = fit_controller([_flown(11)])
    assert found is not None
    random = np.random.default_rng(1)
    away = random.multivariate_normal(np.zeros(found.numbers.size), found.covariance, 400)
    for drawn, centre, truth in zip(found.drawn(LOOK, away), found.response(LOOK), _truth(LOOK), strict=True):
        assert drawn.shape == (400, LOOK.size)
        spread = np.std(np.log(np.abs(drawn)), axis=0)
        assert (
            np.max(np.abs(np.mean(np.log(np.abs(drawn)), axis=0) - np.log(np.abs(centre))))
            < 0.3 * spread.max()
        )
        # the error is one the spread tells of: within four of it, or a hundredth
        off = np.abs(np.log(np.abs(centre / truth)))
        assert np.all(off < 4 * spread + 0.01)
    nothing = found.drawn(LOOK, np.zeros((1, found.numbers.size)))
    np.testing.assert_allclose(nothing[1][0], found.response(LOOK)[1])


def test_the_shape_is_that_of_a_pid_controller() -> None:
    """Written out: k (1 + i/s + d s / (1 + s/w_d)) / (1 + s/w_y) exp(-s T) for the rate, k (1 + i/s) for the command."""
    numbers = np.concatenate([CENTRE, np.zeros(28)])
    numbers[:7] = np.log(0.2), np.log(3.0), 0.01, np.log(700.0), np.log(500.0), 0.001, 0.9
    s = 2j * np.pi * LOOK
    command, rate = shape(numbers, LOOK)
    np.testing.assert_allclose(command, 0.2 * (0.9 + 3.0 / s))
    wanted = 0.2 * (1 + 3.0 / s + 0.01 * s / (1 + s / 500.0)) / (1 + s / 700.0) * np.exp(-0.001 * s)
    np.testing.assert_allclose(rate, wanted)
