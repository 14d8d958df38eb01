"""The equations of motion, compiled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.behaviour.simulate.kernel import compiled

if TYPE_CHECKING:
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

_GRAVITY = 9.80665
#: Of the ground: N/m and N/(m/s) for a kilogram, and what holds an aircraft that stands on it upright.
_STIFF, _DAMPED, _UPRIGHT, _STILL = 4000.0, 80.0, 400.0, 60.0


@compiled
def slope(state: Float, commands: Float, n: Float, ground: float, made: Float) -> None:
    """Write the derivative of the state (17,) into ``made`` (20,), and behind it the specific force."""
    mass, jx, jy, jz = n[0], n[1], n[2], n[3]
    lift, torque, rotor_inertia, lag, fastest = n[16], n[17], n[18], n[19], n[20]
    qw, qx, qy, qz = state[6], state[7], state[8], state[9]
    p, q, r = state[10], state[11], state[12]
    m00, m01, m02 = 1 - 2 * (qy * qy + qz * qz), 2 * (qx * qy - qw * qz), 2 * (qx * qz + qw * qy)
    m10, m11, m12 = 2 * (qx * qy + qw * qz), 1 - 2 * (qx * qx + qz * qz), 2 * (qy * qz - qw * qx)
    m20, m21, m22 = 2 * (qx * qz - qw * qy), 2 * (qy * qz + qw * qx), 1 - 2 * (qx * qx + qy * qy)
    vn, ve, vd = state[3], state[4], state[5]
    u, v, w = m00 * vn + m10 * ve + m20 * vd, m01 * vn + m11 * ve + m21 * vd, m02 * vn + m12 * ve + m22 * vd
    fx, fy, fz = -n[21] * abs(u) * u, -n[22] * abs(v) * v, -n[23] * abs(w) * w
    mx, my, mz, momentum = 0.0, 0.0, 0.0, 0.0
    for i in range(4):
        speed, spin = state[13 + i], n[12 + i]
        change = (commands[i] * fastest - speed) / lag
        made[13 + i] = change
        thrust = lift * speed * speed
        fz -= thrust
        mx -= n[5 + 2 * i] * thrust
        my += n[4 + 2 * i] * thrust
        # what turns the rotor turns the frame the other way
        mz -= spin * (torque * thrust + rotor_inertia * change)
        momentum += spin * rotor_inertia * speed
    if ground > 0.0 and state[2] > 0.0:
        push = mass * (_STIFF * state[2] + _DAMPED * vd)
        push = max(push, 0.0)
        hold_n, hold_e = -mass * 20.0 * vn, -mass * 20.0 * ve
        fx += m00 * hold_n + m10 * hold_e - m20 * push
        fy += m01 * hold_n + m11 * hold_e - m21 * push
        fz += m02 * hold_n + m12 * hold_e - m22 * push
        share = min(1.0, push / (mass * _GRAVITY))
        mx += share * (-jx * _UPRIGHT * m21 - jx * _STILL * p)
        my += share * (jy * _UPRIGHT * m20 - jy * _STILL * q)
        mz += share * (-jz * _STILL * r)
    made[17], made[18], made[19] = fx / mass, fy / mass, fz / mass
    made[0], made[1], made[2] = vn, ve, vd
    made[3] = m00 * made[17] + m01 * made[18] + m02 * made[19]
    made[4] = m10 * made[17] + m11 * made[18] + m12 * made[19]
    made[5] = m20 * made[17] + m21 * made[18] + m22 * made[19] + _GRAVITY
    made[6] = 0.5 * (-qx * p - qy * q - qz * r)
    made[7] = 0.5 * (qw * p + qy * r - qz * q)
    made[8] = 0.5 * (qw * q - qx * r + qz * p)
    made[9] = 0.5 * (qw * r + qx * q - qy * p)
    made[10] = (mx - (jz - jy) * q * r - q * momentum) / jx
    made[11] = (my - (jx - jz) * p * r + p * momentum) / jy
    made[12] = (mz - (jy - jx) * p * q) / jz


@compiled
def advance(state: Float, commands: Float, n: Float, dt: float, ground: float) -> Float:
    """Advance the state (17,) in place by one step; the specific force (3,) at its beginning."""
    a, b, c, d = np.empty(20), np.empty(20), np.empty(20), np.empty(20)
    slope(state, commands, n, ground, a)
    slope(state + 0.5 * dt * a[:17], commands, n, ground, b)
    slope(state + 0.5 * dt * b[:17], commands, n, ground, c)
    slope(state + dt * c[:17], commands, n, ground, d)
    for i in range(17):
        state[i] += dt / 6 * (a[i] + 2 * b[i] + 2 * c[i] + d[i])
    length = np.sqrt(state[6] ** 2 + state[7] ** 2 + state[8] ** 2 + state[9] ** 2)
    for i in range(6, 10):
        state[i] /= length
    return a[17:20].copy()
