"""The quantities of the sensors on the ground, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

METHODS: tuple[Method, ...] = (
    Method(
        "at-rest",
        "Means and white-noise densities (between a tenth and four tenths of the sample rate) while the"
        " aircraft lay still with its motors stopped.",
        "common practice, no source",
    ),
    Method(
        "allan",
        "Overlapping Allan deviation of an unbroken rest of ten minutes or more.",
        "IEEE Std 952-1997; NIST SP 1065 (from memory)",
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity("ground.gyro_bias.{axis}", "gyro bias", "rad/s", "mean rate at rest", "at-rest"),
    Quantity(
        "ground.gyro_noise.{axis}", "gyro noise", "rad/s/rtHz", "white noise of the rate at rest", "at-rest"
    ),
    Quantity(
        "ground.accel_norm",
        "specific force at rest",
        "m/s2",
        "length of the specific force; local gravity is 9.78 to 9.83",
        "at-rest",
    ),
    Quantity(
        "ground.accel_noise.{xyz}",
        "accelerometer noise",
        "m/s2/rtHz",
        "white noise of the specific force at rest",
        "at-rest",
    ),
    Quantity(
        "ground.allan.{axis}.white_noise",
        "Allan: white noise",
        "rad/s/rtHz",
        "angle random walk",
        "allan",
        is_detail=True,
    ),
    Quantity(
        "ground.allan.{axis}.bias_instability",
        "Allan: bias instability",
        "rad/s",
        "flat of the Allan deviation",
        "allan",
        is_detail=True,
    ),
    Quantity(
        "ground.allan.{axis}.bias_walk",
        "Allan: bias walk",
        "rad/s/rts",
        "rate random walk",
        "allan",
        is_detail=True,
    ),
)
