"""Levels, gyros and magnetometers of known bias, trim and iron, on the ground."""

from __future__ import annotations

import math

import numpy as np
from accel_truth import GRAVITY, RATE, noise

WARM_S, TURNED = 120.0, 600


def level(seed):
    """Two rests of 10 s half a turn apart on a sloping table: forces, true roll and pitch trim (rad)."""
    numbers = np.random.default_rng((4, seed))
    trim, slope = np.radians(numbers.uniform(-2, 2, 2)), np.radians(numbers.uniform(-3, 3, 2))
    made = []
    for sign in (1.0, -1.0):
        roll, pitch = trim + sign * slope
        up = [
            math.sin(pitch),
            -math.cos(pitch) * math.sin(roll),
            -math.cos(pitch) * math.cos(roll),
        ]
        made.append(GRAVITY * np.array(up)[:, None] + noise(numbers, int(10 * RATE)))
    return made, trim


def warming(seed):
    """A gyro at rest while it warms: rates (3, n) rad/s, temperature (n,), slopes, mean biases."""
    numbers = np.random.default_rng((5, seed))
    count = int(WARM_S * RATE)
    temperature = 20 + 15 * (1 - np.exp(-np.arange(count) / (40 * RATE)))
    slope, bias = 1e-4 * numbers.standard_normal(3), 0.01 * numbers.standard_normal(3)
    drift = slope[:, None] * (temperature - temperature.mean())
    return bias[:, None] + drift + 0.1 * noise(numbers, count), temperature, slope


def still(seed):
    """A gyro at rest for 15 s: rates and bias, rad/s."""
    numbers = np.random.default_rng((6, seed))
    bias = 0.01 * numbers.standard_normal(3)
    return bias[:, None] + 0.1 * noise(numbers, int(15 * RATE)), bias


def turned(seed):
    """Readings (n, 3) of a magnetometer in microtesla, turned every way, and its hard iron."""
    numbers = np.random.default_rng((7, seed))
    unit = numbers.standard_normal((TURNED, 3))
    unit /= np.linalg.norm(unit, axis=1)[:, None]
    iron = numbers.uniform(-30, 30, 3)
    soft = np.eye(3) + 0.08 * numbers.standard_normal((3, 3))
    return 48.0 * unit @ soft + iron + 0.6 * numbers.standard_normal((TURNED, 3)), iron
