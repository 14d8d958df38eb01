"""Pack, charge and hover against closed forms, textbook digits and made flights."""

from __future__ import annotations

import math

import numpy as np
import pytest

from asflown.core.atmosphere import standard_air_geometric
from asflown.core.measured import Measured
from asflown.core.power.battery import from_two_loads, open_circuit
from asflown.core.power.charge import used_charge
from asflown.core.power.hover import Rotors, hover_power, ideal_power, induced_velocity

RATE = 100.0


def made(seed, seconds=60.0, resistance=0.03, noise=0.03, lag=0.0, spikes=0.0):
    """Load with climbs on a falling pack: voltage, current, time."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    time = np.arange(n) / RATE
    current = 12 + 1.5 * np.convolve(rng.normal(size=n), np.exp(-np.arange(300) / 80), "same") / 6
    for start in rng.uniform(3, seconds - 4, max(2, int(seconds / 12))):
        current[int(start * RATE) : int((start + 1.2) * RATE)] += 25
    felt = current.copy()
    if lag:
        for k in range(1, n):
            felt[k] = felt[k - 1] + (current[k] - felt[k - 1]) / (lag * RATE)
    voltage = 16.6 - 0.0006 * np.cumsum(current) / RATE - resistance * felt
    voltage += noise * rng.normal(size=n)
    if spikes:
        voltage[rng.random(n) < spikes] -= 3.0
    return voltage, current, time


def test_two_loads():
    # Common practice, no source: (16.0 V, 10 A), (15.4 V, 40 A) give 0.020 ohm and 16.2 V (check-values 15).
    assert from_two_loads((16.0, 10.0), (15.4, 40.0)) == (0.02, 16.2)
    with pytest.raises(ValueError, match="two different currents"):
        from_two_loads((16.0, 10.0), (15.0, 10.0))


@pytest.mark.parametrize("seconds", [30.0, 120.0])
def test_intervals_of_the_pack_cover_the_truth(seconds):
    hits, starts, errors = [], [], []
    for seed in range(120):
        voltage, current, time = made(seed, seconds)
        found = open_circuit(voltage, current, time)
        hits.append(found.resistance.low <= 0.03 <= found.resistance.high)
        starts.append(found.open_circuit_start.low <= 16.6 <= found.open_circuit_start.high)
        errors.append(found.resistance.value / 0.03 - 1)
    # 120 flights: 95 % has a binomial spread of 2 %.
    assert 0.89 <= np.mean(hits) <= 1.0
    assert 0.88 <= np.mean(starts) <= 1.0
    assert np.sqrt(np.mean(np.square(errors))) < 0.03


def test_a_late_voltage_and_spikes_are_stood():
    voltage, current, time = made(4, 90.0, lag=0.5)
    late = open_circuit(voltage, current, time)
    assert late.lag == pytest.approx(0.5)
    assert late.resistance.value == pytest.approx(0.03, rel=0.03)
    voltage, current, time = made(5, 90.0, spikes=0.01)
    assert open_circuit(voltage, current, time).resistance.value == pytest.approx(0.03, rel=0.05)


def test_sag_and_fall():
    voltage, current, time = made(6, 120.0)
    found = open_circuit(voltage, current, time)
    assert found.sag_hover.low <= 0.03 * np.median(current) <= found.sag_hover.high
    assert found.sag_full.value == pytest.approx(0.03 * np.percentile(current, 99.9), rel=0.05)
    assert found.fall.value == pytest.approx(0.0006, rel=0.1)
    assert found.open_circuit.shape == found.time.shape


def test_a_pack_that_cannot_be_told_says_what_to_fly():
    voltage, current, time = made(7)
    assert "log it for the resistance" in open_circuit(voltage, None, time).resistance.reason
    steady = np.full_like(current, 12.0)
    assert "fly climbs" in open_circuit(voltage, steady, time).resistance.reason
    assert "does not fall" in open_circuit(33 - voltage, current, time).resistance.reason
    assert "too few" in open_circuit(voltage[:10], current[:10], time[:10]).resistance.reason
    assert "missing" in open_circuit(voltage, np.where(time < 30, np.nan, current), time).resistance.reason


def test_charge_of_a_constant_current_and_its_gaps():
    time = np.arange(0, 100, 0.01)
    found = used_charge(time, np.full(time.size, 10.0), np.full(time.size, 15.0))
    assert found.charge.value == pytest.approx(999.9)
    assert found.energy.value == pytest.approx(14998.5)
    assert found.gaps == 0
    holed = np.where((time > 20) & (time < 30), np.nan, 10.0 + (time > 25))
    gappy = used_charge(time, holed)
    assert gappy.gaps == 1
    assert gappy.gap_seconds == pytest.approx(10, abs=0.1)
    assert "1 gap, 10.0 s" in gappy.charge.caveats[0]
    assert gappy.charge.high - gappy.charge.low > found.charge.high - found.charge.low
    assert gappy.over_time[-1] == pytest.approx(gappy.charge.value)
    assert (
        "missing"
        in used_charge(time, np.where(time < 60, 10.0, np.where(time > 99, 10.0, np.nan))).charge.reason
    )
    assert "not logged" in used_charge(time, np.full(time.size, np.nan)).charge.reason


def test_momentum_theory():
    # Check-values 11.2: quad of 1.5 kg on four 10-inch propellers at 1.225 kg/m3 (both forms computed there).
    area, thrust = math.pi * 0.127**2, 1.5 * 9.80665 / 4
    assert induced_velocity(thrust, 1.225, area) == pytest.approx(5.442698438, rel=1e-9)
    assert ideal_power(thrust, 1.225, area) == pytest.approx(20.015489489, rel=1e-9)
    assert thrust / area == pytest.approx(72.576267, rel=1e-7)
    # Leishman, Principles of Helicopter Aerodynamics, 2nd ed., ch. 2, tilt-rotor (from memory): 45 000 lb on two
    # rotors of 38 ft at sea level: 64.6 ft/s, 2643 hp a rotor.
    pound, foot, horsepower = 4.4482216152605, 0.3048, 745.69987158227
    area, thrust = math.pi * (19 * foot) ** 2, 22_500 * pound
    assert induced_velocity(thrust, 1.225, area) == pytest.approx(19.690553, rel=1e-4)
    assert ideal_power(thrust, 1.225, area) / horsepower == pytest.approx(2642.79, rel=2e-4)


def hovering(merit, density, seed=0, seconds=40.0):
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    watts = 80.061957958 * math.sqrt(1.225 / density) / merit
    voltage = 15.0 + 0.02 * rng.normal(size=n)
    current = watts / 15.0 + 0.3 * rng.normal(size=n)
    motors = 0.4 * math.sqrt(1.225 / density) + 0.01 * rng.normal(size=(4, n))
    return motors, voltage, current, np.ones(n, dtype=bool)


@pytest.mark.parametrize("height", [0, 1000, 3000])
def test_hover_brought_to_standard_air(height):
    density = standard_air_geometric(height).density
    curve = Measured(2.0, 1.98, 2.02)
    motors, voltage, current, mask = hovering(0.6, density)
    found = hover_power(
        motors, voltage, current, mask, RATE, density, 15.0, curve, curve, Rotors(1.5, 0.254, 4)
    )
    # Check-values 11.2: figure of merit 0.6 takes 133.4366 W at sea level.
    assert found.power_standard.low <= 133.436596596 <= found.power_standard.high
    assert found.power.value == pytest.approx(133.4366 * math.sqrt(1.225 / density), rel=0.01)
    assert found.throttle_standard.value == pytest.approx(0.4, rel=0.005)
    assert found.figure_of_merit.low <= 0.6 <= found.figure_of_merit.high
    assert found.ideal.value == pytest.approx(80.061957958 * math.sqrt(1.225 / density), rel=1e-6)


def test_hover_at_another_voltage():
    curve = Measured(2.0, 1.98, 2.02)
    motors, voltage, current, mask = hovering(0.6, 1.225)
    found = hover_power(motors, voltage, current, mask, RATE, 1.225, 16.0, curve, curve)
    # thrust ~ (command * voltage)^2: the same thrust at 16 V takes 15/16 of the command
    assert found.throttle_standard.value == pytest.approx(0.4 * 15 / 16, rel=0.003)
    compensated = hover_power(
        motors, voltage, current, mask, RATE, 1.225, 16.0, curve, Measured(0.0, -0.1, 0.1)
    )
    assert compensated.throttle_standard.value == pytest.approx(0.4, rel=0.003)


def test_what_is_not_known_is_named():
    motors, voltage, current, mask = hovering(0.6, 1.225)
    found = hover_power(motors, voltage, None, mask, RATE)
    assert "log both" in found.power.reason
    assert "air density" in found.throttle_standard.reason
    assert "thrust curve" in found.throttle_standard.reason
    assert "mass and propeller diameter" in found.ideal.reason
    assert "hover for 30 s" in hover_power(motors, voltage, current, ~mask, RATE).throttle.reason
    assert "air density" in hover_power(motors, voltage, current, mask, RATE).power_standard.reason
