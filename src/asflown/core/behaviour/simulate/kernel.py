"""The flight loop, compiled. Import it late: numba takes a second to load.

Every random number comes from the generator handed in, so a seed gives one flight. The linear parts are
stepped exactly (exponentials of the step); the thrust's course within a step is a parabola through its
start, middle and end.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numba import njit


class Setup(NamedTuple):
    """Numbers of one flight, as the loop wants them (n motors, f filters, g segments of a loop step)."""

    steps: int
    step: float
    pick: int
    averaged: bool
    log_filtered: bool
    commands: Any  # (m, 4) roll, pitch, yaw (rad/s, or stick where levelled), throttle
    command_hold: int  # loop steps a row of commands
    gains: Any  # (4, 3) kp, ki * step, kd / step, kf / step
    integral_limit: float
    gyro_filters: Any  # (f, 5) b0 b1 b2 a1 a2
    yaw_filters: Any  # (f, 5)
    d_filters: Any  # (f, 5)
    mixer: Any  # (n, 3)
    idle: float
    keep_authority: bool
    compensate_to: float  # 0: not
    voltage_step: float  # share of a step of the measured voltage's lag
    hold_thrust: float  # share of a step of the pilot's own voltage correction, 0: none
    levelled: bool
    level_gain: float
    level_angle: float
    level_limit: float
    delay_steps: int
    segments: Any  # (g,) s, lengths of the segments a loop step falls into
    decay: Any  # (g, 3) exp(-damping * length)
    half_decay: Any  # (g, 3) exp(-damping * length / 2)
    up: Any  # (g, 2) exp(-length / lag_up), and of half the length
    down: Any  # (g, 2)
    flex: Any  # (g, 3, 2, 5) state transition and weights of start, middle, end
    flexible: Any  # (3,) bool
    gain: Any  # (3,)
    effect: Any  # (3, n)
    lead: float
    damping: Any  # (3,)
    strength: Any  # (n,)
    command_exponent: float
    thrust_exponent: float
    reference_voltage: float
    hover: float
    rotor_speed_full: float
    vibration: Any  # (n,)
    harmonic: float
    accel_vibration: float
    gyro_sigma: float
    accel_sigma: float
    accel_limit: float
    battery: Any  # (6,) full, empty, capacity, resistance, full_current, idle_current
    air: Any  # (3,) rad/s^2 rms
    air_pole: float
    air_order: int
    wake: Any  # (3,)
    wake_pole: float


def compiled(function: Callable[..., Any]) -> Any:
    """Compile; keep the machine code beside the source (or where NUMBA_CACHE_DIR says) if that can be."""
    try:
        return njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # nowhere to keep it
        return njit(nogil=True, error_model="numpy")(function)


def _power_plain(value: float, exponent: float) -> float:
    if value <= 0.0:
        return 0.0
    if exponent == 1.0:
        return value
    if exponent == 2.0:
        return value * value
    if exponent == 0.5:
        return float(np.sqrt(value))
    return float(value**exponent)


_power = compiled(_power_plain)


def _between_plain(before: float, here: float, after: float, later: float, part: float) -> float:
    """Catmull-Rom cubic between ``here`` (part 0) and ``after`` (part 1)."""
    slope, end = 0.5 * (after - before), 0.5 * (later - here)
    rise = after - here
    bend, twist = 3.0 * rise - 2.0 * slope - end, slope + end - 2.0 * rise
    return here + part * (slope + part * (bend + part * twist))


_between = compiled(_between_plain)


def _filtered_plain(value: float, filters: Any, state: Any) -> float:
    """One sample through a chain of second-order sections (transposed direct form II)."""
    for number in range(filters.shape[0]):
        out = filters[number, 0] * value + state[number, 0]
        state[number, 0] = filters[number, 1] * value - filters[number, 3] * out + state[number, 1]
        state[number, 1] = filters[number, 2] * value - filters[number, 4] * out
        value = out
    return value


_filtered = compiled(_filtered_plain)


def _mix_plain(setup: Any, throttle: float, control: Any, factor: float, motor: Any) -> bool:
    """Motor commands into ``motor``; whether any of them was clipped."""
    low, high = 1e9, -1e9
    for i in range(motor.shape[0]):
        value = 0.0
        for a in range(3):
            value += setup.mixer[i, a] * control[a]
        motor[i] = value
        low, high = min(low, value), max(high, value)
    floor, ceiling = setup.idle / factor, 1.0 / factor
    if setup.keep_authority:
        if throttle + high > ceiling:
            throttle = ceiling - high
        if throttle + low < floor:
            throttle = min(floor - low, max(ceiling - high, 0.5 * (floor + ceiling - low - high)))
    clipped = False
    for i in range(motor.shape[0]):
        value = (throttle + motor[i]) * factor
        if value > 1.0 + 1e-12 or value < setup.idle - 1e-12:
            clipped = True
        motor[i] = min(max(value, setup.idle), 1.0)
    return clipped


_mix = compiled(_mix_plain)


def _move_plain(
    setup: Any, segment: int, target: Any, lagged: Any, thrust: Any, rate: Any, flex: Any, push: Any
) -> None:
    """Step rotors, body and frame through one segment of a loop step with the motor targets held."""
    start0 = start1 = start2 = middle0 = middle1 = middle2 = end0 = end1 = end2 = 0.0
    for i in range(target.shape[0]):
        gap = lagged[i] - target[i]
        ways = setup.down if gap > 0.0 else setup.up
        middle = setup.strength[i] * _power(target[i] + gap * ways[segment, 1], setup.thrust_exponent)
        lagged[i] = target[i] + gap * ways[segment, 0]
        end = setup.strength[i] * _power(lagged[i], setup.thrust_exponent)
        start = thrust[i]
        thrust[i] = end
        e0, e1, e2 = setup.effect[0, i], setup.effect[1, i], setup.effect[2, i]
        start0, middle0, end0 = start0 + e0 * start, middle0 + e0 * middle, end0 + e0 * end
        start1, middle1, end1 = start1 + e1 * start, middle1 + e1 * middle, end1 + e1 * end
        start2, middle2, end2 = start2 + e2 * start, middle2 + e2 * middle, end2 + e2 * end
    for a in range(3):
        if a == 0:
            first, middle, last = start0, middle0, end0
        elif a == 1:
            first, middle, last = start1, middle1, end1
        else:
            first, middle, last = start2, middle2, end2
        length, decay, half = setup.segments[segment], setup.decay[segment, a], setup.half_decay[segment, a]
        turned = (decay * first + 4.0 * half * middle + last) * length / 6.0
        pushed = push[a] * (decay + 4.0 * half + 1.0) * length / 6.0
        if a == 2 and setup.lead != 0.0:
            turned += setup.lead * (last - decay * first - setup.damping[2] * turned)
        rate[a] = decay * rate[a] + setup.gain[a] * turned + pushed
        if setup.flexible[a]:
            w = setup.flex[segment, a]
            x, v = flex[a, 0], flex[a, 1]
            for row in range(2):
                flex[a, row] = (
                    w[row, 0] * x
                    + w[row, 1] * v
                    + setup.gain[a] * (w[row, 2] * first + w[row, 3] * middle + w[row, 4] * last)
                )


_move = compiled(_move_plain)


def _fly_plain(setup: Any, random: Any, out: Any) -> float:  # noqa: C901 - one loop over time, told in order
    """Fly; rows into ``out`` (column, row). Returns the share of loop steps with a clipped motor.

    Columns: rate_command 0-2, rate 3-5, control 6-8, throttle 9, accel 10-12, pack_voltage 13,
    pack_current 14, stick 15-18, attitude 19-21, motor 22.., rotor_speed 22+n..
    """
    motors = setup.mixer.shape[0]
    step = setup.step
    rate, read, control = np.zeros(3), np.zeros(3), np.zeros(3)
    command, command_before, stick = np.zeros(3), np.zeros(3), np.zeros(4)
    integral, slope_before = np.zeros(3), np.zeros(3)
    gyro_state = np.zeros((3, max(setup.gyro_filters.shape[0], 1), 2))
    yaw_state = np.zeros((max(setup.yaw_filters.shape[0], 1), 2))
    d_state = np.zeros((3, max(setup.d_filters.shape[0], 1), 2))
    flex, push = np.zeros((3, 2)), np.zeros(3)
    air, wind = np.zeros((3, 2)), np.zeros(3)
    wake_state = np.zeros(3)
    attitude, angle = np.zeros(3), np.zeros(3)
    motor, target = np.zeros(motors), np.zeros(motors)
    accel, rate_sum, accel_sum = np.zeros(3), np.zeros(3), np.zeros(3)
    full, empty, capacity, resistance, full_current, idle_current = setup.battery
    exponent = setup.command_exponent * setup.thrust_exponent
    used = 0.0
    current = idle_current + full_current * setup.hover**1.5
    voltage = full - current * resistance
    seen_voltage, felt_voltage = voltage, voltage
    hover_motor = setup.hover ** (1.0 / exponent) * setup.reference_voltage / voltage
    lagged = np.full(motors, setup.hover ** (1.0 / setup.thrust_exponent))
    thrust = np.zeros(motors)
    phase, tilt_cos, tilt_sin = np.zeros(motors), np.zeros(motors), np.zeros(motors)
    for i in range(motors):
        thrust[i] = setup.strength[i] * _power(lagged[i], setup.thrust_exponent)
        phase[i] = 2.0 * np.pi * random.random()
        tilt = 2.0 * np.pi * random.random()
        tilt_cos[i], tilt_sin[i] = np.cos(tilt), np.sin(tilt)
    ring = setup.delay_steps + 2
    waiting = np.full((ring, motors), hover_motor)
    segments = setup.segments.shape[0]
    air_kick = np.sqrt(1.0 - setup.air_pole**2)
    if setup.air_order == 2:
        q = setup.air_pole
        air_kick = np.sqrt((1.0 - q * q) ** 3 / (1.0 + q * q))
    wake_kick = np.sqrt(1.0 - setup.wake_pole**2)
    noisy, windy = setup.gyro_sigma > 0.0, (setup.air[0] + setup.air[1] + setup.air[2]) > 0.0
    waking = (setup.wake[0] + setup.wake[1] + setup.wake[2]) > 0.0
    shaking = setup.accel_vibration > 0.0
    for i in range(motors):
        shaking = shaking or setup.vibration[i] > 0.0
    wake_level, clipped_steps, rows = 0.1, 0, out.shape[1]
    collective_slow = setup.hover * motors
    for k in range(setup.steps):
        # what the pilot does
        row, part = k // setup.command_hold, (k % setup.command_hold) / setup.command_hold
        # a cubic through the rows: its slope is continuous, as a feed-forward of a stepped slope would be
        # logged at other moments than it acts
        last = setup.commands.shape[0] - 1
        after = min(row + 1, last)
        before, later = max(row - 1, 0), min(row + 2, last)
        for a in range(3):
            stick[a] = _between(
                setup.commands[before, a],
                setup.commands[row, a],
                setup.commands[after, a],
                setup.commands[later, a],
                part,
            )
        throttle = setup.commands[row, 3] + part * (setup.commands[after, 3] - setup.commands[row, 3])
        if setup.hold_thrust > 0.0:
            felt_voltage += setup.hold_thrust * (voltage - felt_voltage)
            throttle *= setup.reference_voltage / felt_voltage
        # what the sensors see
        collective = 0.0
        for i in range(motors):
            collective += thrust[i]
        accel[0], accel[1] = 0.0, 0.0
        accel[2] = -9.80665 * collective / (motors * setup.hover)
        for a in range(3):
            read[a] = rate[a]
            if setup.flexible[a]:
                read[a] += flex[a, 1]
            if noisy:
                read[a] += setup.gyro_sigma * random.standard_normal()
            if setup.accel_sigma > 0.0:
                accel[a] += setup.accel_sigma * random.standard_normal()
        if shaking:
            for i in range(motors):
                speed2 = thrust[i]
                s, c = np.sin(phase[i]), np.cos(phase[i])
                s2 = 2.0 * s * c
                c2 = 1.0 - 2.0 * s * s
                force = setup.vibration[i] * speed2
                ct, st = tilt_cos[i], tilt_sin[i]
                read[0] += force * (s * ct + c * st + setup.harmonic * s2)
                read[1] += force * (c * ct - s * st + setup.harmonic * c2)
                read[2] += 0.4 * force * (s * st - c * ct + setup.harmonic * c2)
                force = setup.accel_vibration * speed2
                accel[0] += force * (c * ct - s * st)
                accel[1] += force * (s * ct + c * st)
                accel[2] += force * (0.5 * s + setup.harmonic * c2)
        for a in range(3):
            accel[a] = min(max(accel[a], -setup.accel_limit), setup.accel_limit)
            rate_sum[a] += read[a]
            accel_sum[a] += accel[a]
        # what the controller does
        for a in range(3):
            if setup.levelled and a < 2:
                wanted = setup.level_gain * (stick[a] * setup.level_angle - angle[a])
                command[a] = min(max(wanted, -setup.level_limit), setup.level_limit)
                angle[a] += step * read[a]
            else:
                command[a] = stick[a]
            filtered = _filtered(read[a], setup.gyro_filters, gyro_state[a])
            if a == 2:
                filtered = _filtered(filtered, setup.yaw_filters, yaw_state)
            slope = _filtered(filtered, setup.d_filters, d_state[a])
            if k == 0:
                slope_before[a], command_before[a] = slope, command[a]
            error = command[a] - filtered
            summed = integral[a] + setup.gains[1, a] * error
            integral[a] = min(max(summed, -setup.integral_limit), setup.integral_limit)
            control[a] = (
                setup.gains[0, a] * error
                + integral[a]
                - setup.gains[2, a] * (slope - slope_before[a])
                + setup.gains[3, a] * (command[a] - command_before[a])
            )
            slope_before[a], command_before[a] = slope, command[a]
            if setup.log_filtered:
                read[a] = filtered
        factor = 1.0
        if setup.compensate_to > 0.0:
            seen_voltage += setup.voltage_step * (voltage - seen_voltage)
            factor = setup.compensate_to / seen_voltage
        if _mix(setup, throttle, control, factor, motor):
            clipped_steps += 1
        place = k % ring
        for i in range(motors):
            waiting[place, i] = motor[i]
        # what the log keeps
        if k % setup.pick == 0 and k // setup.pick < rows:
            n = k // setup.pick
            share = 1.0 / setup.pick if k > 0 else 1.0
            for a in range(3):
                out[a, n] = command[a]
                out[3 + a, n] = rate_sum[a] * share if setup.averaged else read[a]
                out[6 + a, n] = control[a]
                out[10 + a, n] = accel_sum[a] * share if setup.averaged else accel[a]
                out[15 + a, n] = stick[a]
                out[19 + a, n] = attitude[a]
                rate_sum[a], accel_sum[a] = 0.0, 0.0
            out[9, n], out[13, n], out[14, n], out[18, n] = throttle, voltage, current, throttle
            for i in range(motors):
                out[22 + i, n] = motor[i]
                out[22 + motors + i, n] = setup.rotor_speed_full * np.sqrt(thrust[i])
        # what the air does
        for a in range(3):
            if windy:
                white = random.standard_normal()
                air[a, 0] = setup.air_pole * air[a, 0] + air_kick * white
                if setup.air_order == 2:
                    air[a, 1] = setup.air_pole * air[a, 1] + air[a, 0]
                    wind[a] = setup.air[a] * air[a, 1]
                else:
                    wind[a] = setup.air[a] * air[a, 0]
            if waking:
                wake_state[a] = setup.wake_pole * wake_state[a] + wake_kick * random.standard_normal()
            push[a] = wind[a] + setup.wake[a] * wake_level * wake_state[a]
        if waking:
            collective_slow += step / 0.3 * (collective - collective_slow)
            turning = (abs(rate[0]) + abs(rate[1]) + abs(rate[2])) / 15.0
            falling = max(0.0, 1.0 - collective / max(collective_slow, 1e-3))
            wake_level += step / 0.15 * (min(1.0, 0.1 + turning + 2.0 * falling) - wake_level)
        # what the aircraft does
        ratio = voltage / setup.reference_voltage
        for segment in range(segments):
            late = setup.delay_steps + (1 if segment < segments - 1 else 0)
            source = (k - late) % ring
            for i in range(motors):
                target[i] = _power(waiting[source, i] * ratio, setup.command_exponent)
            _move(setup, segment, target, lagged, thrust, rate, flex, push)
        drawn = 0.0
        for i in range(motors):
            speed = np.sqrt(thrust[i])
            phase[i] += 2.0 * np.pi * setup.rotor_speed_full * speed * step
            drawn += thrust[i] * speed
        for a in range(3):
            attitude[a] += step * rate[a]
        current = idle_current + full_current * drawn / motors
        used += current * step / capacity
        resting = full - (full - empty) * used - 0.6 * empty * np.exp((used - 1.0) / 0.04)
        voltage = max(resting - current * resistance, 0.3 * full)
    return float(clipped_steps / max(setup.steps, 1))


fly = compiled(_fly_plain)
