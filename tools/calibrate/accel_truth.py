"""Accelerometers of known offset, scale and skew, put down in positions by hand or on a block."""

from __future__ import annotations

import math

import numpy as np

from asflown.core.calibrate.accelerometer import PAIRS, SKEW
from asflown.core.calibrate.positions import Position, Rests, together
from asflown.core.calibrate.sides import BETWEEN, SIDES
from asflown.core.signal.mean_error import means_of

RATE, SECONDS, GRAVITY = 100.0, 10.0, 9.8062
SIX = np.array([side.up for side in SIDES])


def turned(numbers, vector, least, most):
    """A direction tilted by least to most degrees about a random axis across it."""
    across = np.cross(vector, numbers.standard_normal(3))
    across /= np.linalg.norm(across)
    angle = math.radians(numbers.uniform(least, most))
    return math.cos(angle) * vector + math.sin(angle) * np.cross(across, vector)


def sensor(numbers, skewed=True):
    """Offset, scale, and gain (3, 3) with its skew, in the frame that turns no axis more than another."""
    offset, scale = numbers.uniform(-0.6, 0.6, 3), 1.0 + numbers.uniform(-0.03, 0.03, 3)
    skew = SKEW * numbers.standard_normal(3) if skewed else np.zeros(3)
    gram = np.eye(3)
    for value, (a, b) in zip(skew, PAIRS, strict=True):
        gram[a, b] = gram[b, a] = value
    lengths, axes = np.linalg.eigh(gram)
    return offset, scale, skew, np.diag(scale) @ axes @ np.diag(np.sqrt(lengths)) @ axes.T


def noise(numbers, count):
    """(3, count): white, and some that remembers for a fifth of a second (m/s2)."""
    white = 0.02 * numbers.standard_normal((3, count))
    keeps = math.exp(-1.0 / (0.2 * RATE))
    drive = 0.01 * math.sqrt(1 - keeps**2) * numbers.standard_normal((3, count))
    from scipy.signal import lfilter

    return white + lfilter([1.0], [1.0, -keeps], drive, axis=1)


def rests(numbers, gain, offset, directions) -> Rests:
    made = []
    count = int(RATE * SECONDS)
    for up in directions:
        piece = (gain @ (GRAVITY * up) + offset)[:, None] + noise(numbers, count)
        means = means_of(piece, SECONDS)
        made.append(Position(means.value, np.diagonal(means.covariance) * SECONDS, means.dof, 0.0, SECONDS))
    return together(made)


def by_hand(seed, tilts=(1.0, 3.0)):
    """Six sides held by hand, tilted by 1 to 3 degrees; the sensor's axes lean too."""
    numbers = np.random.default_rng((1, seed))
    offset, scale, _, gain = sensor(numbers)
    return rests(numbers, gain, offset, [turned(numbers, up, *tilts) for up in SIX]), offset, scale


def general(seed, between=6):
    """Six sides by hand, and some half-way between two sides, up to 10 degrees off."""
    numbers = np.random.default_rng((2, seed))
    offset, scale, skew, gain = sensor(numbers)
    by_name = {side.name: np.array(side.up) for side in SIDES}
    middles = [(by_name[a] + by_name[b]) / math.sqrt(2.0) for a, b in BETWEEN[:between]]
    ups = [turned(numbers, up, 1.0, 5.0) for up in SIX] + [turned(numbers, up, 1.0, 10.0) for up in middles]
    return rests(numbers, gain, offset, ups), offset, scale, skew


def on_block(seed, square=0.1):
    """Six sides of a block, square to 0.1 degrees (one standard deviation), and any small cross terms."""
    numbers = np.random.default_rng((3, seed))
    offset = numbers.uniform(-0.6, 0.6, 3)
    gain = np.diag(1.0 + numbers.uniform(-0.03, 0.03, 3)) + 0.02 * numbers.standard_normal((3, 3)) * (
        1 - np.eye(3)
    )
    ups = []
    for up in SIX:
        off = math.radians(square) * numbers.standard_normal(3)
        tilted = up + np.cross(off, up)
        ups.append(tilted / np.linalg.norm(tilted))
    return rests(numbers, gain, offset, ups), offset, gain
