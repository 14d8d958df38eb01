"""The quantities of narrow-band oscillation, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

METHODS: tuple[Method, ...] = (
    Method(
        "limit-cycle",
        "Power in half-second frames over the median of a healthy flight at the same frequency, less its"
        " neighbours'; told where one frequency stands out for several frames in a row and no rotor line"
        " and no command lies there.",
        "detector of this project, its thresholds set on simulated flights",
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "limit_cycle.{axis}.found",
        "stretches of oscillation",
        "1",
        "how many stretches of narrow-band oscillation the baseline flight did not have",
        "limit-cycle",
    ),
    Quantity(
        "limit_cycle.{axis}.frequency",
        "oscillation at",
        "Hz",
        "frequency of the strongest stretch",
        "limit-cycle",
    ),
    Quantity(
        "limit_cycle.{axis}.rms",
        "oscillation",
        "rad/s",
        "greatest rms of the strongest stretch",
        "limit-cycle",
    ),
    Quantity(
        "limit_cycle.{axis}.growth",
        "oscillation over baseline",
        "dB",
        "rms of the strongest stretch over that of the baseline flight in the same band",
        "limit-cycle",
    ),
)
