"""The quantities of the motors, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

_PRACTICE = "common practice, no source"

METHODS: tuple[Method, ...] = (
    Method(
        "hover-means",
        "Means of the motor commands in steady hover; the interval counts how long a"
        " command remembers its past.",
        _PRACTICE,
    ),
    Method(
        "limits",
        "Samples with a motor at its end, counted; the ends are the least and largest command where"
        " they come back.",
        _PRACTICE,
    ),
    Method(
        "thrust-curve",
        "Specific force along z regressed on the motor commands, each to a power of its own,"
        " behind a lag; the throttle is the instrument where it was logged.",
        _PRACTICE,
    ),
    Method(
        "lost-steps",
        "A rotor that slows down, or a turn that answers no command, while the command rises.",
        _PRACTICE,
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity("motors.hover", "hover command", "1", "mean motor command in steady hover", "hover-means"),
    Quantity(
        "motors.each.{n}.offset",
        "motor {n}: command less the mean in hover",
        "1",
        "how much harder than the mean the motor works in hover",
        "hover-means",
    ),
    Quantity(
        "motors.pattern.{axis}",
        "imbalance in hover",
        "1",
        "by how much the motors that raise the axis work above the mean",
        "hover-means",
    ),
    Quantity(
        "motors.headroom",
        "headroom above hover",
        "1",
        "from the hardest working motor's mean command to full",
        "hover-means",
    ),
    Quantity(
        "motors.thrust_ratio",
        "full thrust over hover thrust",
        "1",
        "by the mean hover command and the thrust curve",
        "thrust-curve",
    ),
    Quantity(
        "motors.saturated_share",
        "time with a motor at its end",
        "1",
        "share of the time in the air with any motor at idle or full",
        "limits",
    ),
    Quantity(
        "motors.each.{n}.full_share",
        "motor {n}: time at full",
        "1",
        "share of the time",
        "limits",
        is_detail=True,
    ),
    Quantity(
        "motors.each.{n}.idle_share",
        "motor {n}: time at idle",
        "1",
        "share of the time",
        "limits",
        is_detail=True,
    ),
    Quantity(
        "motors.thrust_exponent",
        "exponent of the thrust curve",
        "1",
        "thrust goes with the command to this power: 1 linear, 2 quadratic",
        "thrust-curve",
    ),
    Quantity(
        "motors.voltage_exponent",
        "exponent of the pack voltage",
        "1",
        "thrust goes with the voltage to this power; about 0 where the firmware makes up for the voltage",
        "thrust-curve",
    ),
    Quantity(
        "motors.lag",
        "lag of the thrust",
        "s",
        "first-order lag of the rotors, delay included",
        "thrust-curve",
    ),
    Quantity(
        "motors.lost_steps",
        "signs of lost steps",
        "1",
        "how many times a motor seemed to fall out of step",
        "lost-steps",
    ),
)
