"""The quantities of vibration, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

METHODS: tuple[Method, ...] = (
    Method(
        "order-line",
        "Power in the line that follows an order of the rotor speed, floor taken off; to compare flights the"
        " level is brought to one rotor speed, amplitude going with its square.",
        "order analysis of rotating machinery, common practice, no source",
    ),
    Method(
        "floor",
        "Root density between the lines. The rate loop amplifies what the sensor brings in, so this is the"
        " loop-amplified floor and not the noise of the sensor.",
        "Welch averages: Welch (1967); interval from the gamma distribution (from memory)",
    ),
    Method(
        "clipping",
        "Samples at the ends of the sensor's range, counted.",
        "common practice, no source",
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity("vibration.rotor_speed", "rotor speed", "rev/s", "mean over rotors and time", "order-line"),
    Quantity(
        "vibration.{order}.frequency",
        "{order}: frequency",
        "Hz",
        "mean true frequency of the line",
        "order-line",
    ),
    Quantity(
        "vibration.{order}.rate.total",
        "{order}: rate, all axes",
        "rad/s",
        "rms of the line in the measured rate, root sum of squares of the axes",
        "order-line",
    ),
    Quantity(
        "vibration.{order}.rate.{axis}",
        "{order}: rate",
        "rad/s",
        "rms of the line in one axis",
        "order-line",
        is_detail=True,
    ),
    Quantity(
        "vibration.{order}.accel.total",
        "{order}: specific force, all axes",
        "m/s2",
        "rms of the line in the specific force, root sum of squares of the axes",
        "order-line",
    ),
    Quantity(
        "vibration.{order}.accel.{xyz}",
        "{order}: specific force",
        "m/s2",
        "rms of the line in one axis",
        "order-line",
        is_detail=True,
    ),
    Quantity(
        "vibration.{order}.at_reference.rate",
        "{order}: rate at reference speed",
        "rad/s",
        "the same brought to the reference rotor speed, to be compared between flights",
        "order-line",
    ),
    Quantity(
        "vibration.{order}.at_reference.accel",
        "{order}: specific force at reference speed",
        "m/s2",
        "the same brought to the reference rotor speed, to be compared between flights",
        "order-line",
    ),
    Quantity(
        "vibration.rotors.{n}.{order}.rate",
        "rotor {n}, {order}: rate",
        "rad/s",
        "rms of the line of one rotor at the reference speed",
        "order-line",
        is_detail=True,
    ),
    Quantity(
        "vibration.rotors.{n}.{order}.accel",
        "rotor {n}, {order}: specific force",
        "m/s2",
        "rms of the line of one rotor at the reference speed",
        "order-line",
        is_detail=True,
    ),
    Quantity(
        "vibration.floor.rate.{axis}",
        "loop-amplified floor, rate",
        "rad/s/rtHz",
        "root density between the lines; not sensor noise",
        "floor",
    ),
    Quantity(
        "vibration.clipping.{xyz}",
        "accelerometer clipping",
        "1",
        "share of the samples at an end of the range",
        "clipping",
    ),
)
