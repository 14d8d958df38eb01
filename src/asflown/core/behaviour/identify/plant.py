"""The plant's model: a few physical numbers, and a smooth departure from them that the data may ask for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Centres of the smooth departure, Hz, an octave apart, and its spread in log frequency.
CENTRES = 1.4 * 2.0 ** np.arange(7)
SPREAD = np.log(2.0) * 0.8
#: Physical numbers: log gain, log damping (1/s), log rotor lag (s), delay (s).
PHYSICAL = 4


@dataclass(frozen=True, slots=True)
class Prior:
    """What is held likely before looking: centre and spread of each number, as the fit takes them.

    Weak for the physical numbers (common practice, no source): damping 1/s within a factor of 3, rotor lag
    30 ms within a factor of 2, delay 4 ms within 4 ms.

    Attributes
    ----------
    log_damping, log_lag, delay
        (centre, spread): log 1/s, log s, s.
    gain_departure, phase_departure
        How far a real airframe may leave the simple model, natural log and rad.
    slopes
        (centre, spread) of the powers of collective and pack voltage in the drive's effect.
    """

    log_damping: tuple[float, float] = (float(np.log(1.0)), 1.1)
    log_lag: tuple[float, float] = (float(np.log(0.03)), 0.7)
    delay: tuple[float, float] = (0.004, 0.004)
    gain_departure: float = 0.01
    phase_departure: float = 0.006
    slopes: tuple[tuple[float, float], ...] = ((0.5, 0.5), (1.2, 0.7))

    def centre_and_spread(self, slopes: int) -> tuple[Float, Float]:
        """(p,) centres and (p,) spreads of all numbers, for as many slow factors as ``slopes`` says."""
        bumps = CENTRES.size
        centre = [0.0, self.log_damping[0], self.log_lag[0], self.delay[0], *[0.0] * (2 * bumps)]
        spread = [
            1e3,
            self.log_damping[1],
            self.log_lag[1],
            self.delay[1],
            *[self.gain_departure] * bumps,
            *[self.phase_departure] * bumps,
        ]
        centre += [centre for centre, _ in self.slopes[:slopes]]
        spread += [spread for _, spread in self.slopes[:slopes]]
        return np.asarray(centre), np.asarray(spread)


def bumps(frequencies: Float) -> Float:
    """(nf, nc) smooth bumps in log frequency, one at each of `CENTRES`; frequencies (nf,) in Hz, above 0."""
    distance = (np.log(frequencies)[:, None] - np.log(CENTRES)[None]) / SPREAD
    return np.asarray(np.exp(-0.5 * distance**2), dtype=np.float64)


def response(numbers: Float, frequencies: Float) -> Complex:
    """Rate for achieved differential command: gain, damping, rotor lag, delay, smooth departure.

    Parameters
    ----------
    numbers
        (..., p): `PHYSICAL` numbers, departures of the gain and of the phase; any that follow are not read.
    frequencies
        (nf,) Hz.

    Returns
    -------
    Complex
        (..., nf), rad/s for a differential command of 1.
    """
    s = 2j * np.pi * frequencies
    gain, damping, lag, delay = (numbers[..., i, None] for i in range(PHYSICAL))
    shape = bumps(frequencies).T
    count = CENTRES.size
    departure = numbers[..., PHYSICAL : PHYSICAL + count] @ shape + 1j * (
        numbers[..., PHYSICAL + count : PHYSICAL + 2 * count] @ shape
    )
    simple = gain - np.log(s + np.exp(damping)) - np.log(1 + s * np.exp(lag)) - s * delay
    return np.asarray(np.exp(simple + departure))


def log_gradient(numbers: Float, frequencies: Float) -> Complex:
    """(p, nf) derivative of the response's logarithm by each number (the slow-factor powers left out)."""
    s = 2j * np.pi * frequencies
    damping, lag = np.exp(numbers[1]), np.exp(numbers[2])
    shape = bumps(frequencies).T
    rows = [np.ones_like(s), -damping / (s + damping), -s * lag / (1 + s * lag), -s]
    return np.concatenate([np.asarray(rows), shape + 0j, 1j * shape])


def log_slope(numbers: Float, frequencies: Float) -> Complex:
    """(nf,) derivative of the response's logarithm by angular frequency, s."""
    s = 2j * np.pi * frequencies
    damping, lag, delay = np.exp(numbers[1]), np.exp(numbers[2]), numbers[3]
    return np.asarray(1j * (-1 / (s + damping) - lag / (1 + s * lag) - delay))
