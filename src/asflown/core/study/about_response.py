"""The quantities of the answer to a rate command, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

_ADS33 = "ADS-33E-PRF (2000), 3.3.2.1, adapted from angle to rate response (see core/behaviour/handling)"
_LOOP = "Astrom & Murray, Feedback Systems, chapter 10 (from memory)"
_JOINT = "joint input-output identification: Ljung, System Identification (from memory)"

METHODS: tuple[Method, ...] = (
    Method(
        "handling",
        "Rate response to the command, read by the bandwidth and phase-delay rules; the bandwidth is the"
        " lesser of the phase rule (-45 deg of rate phase) and the gain rule (6 dB above the gain of the"
        " angle where the rate phase is -90 deg).",
        _ADS33,
    ),
    Method(
        "loop",
        "Loop broken at the motor command: plant from the achieved motor commands to the rate, joint"
        " input-output with the command as reference, times the controller.",
        f"{_LOOP}; {_JOINT}",
    ),
    Method(
        "as-flown",
        "Rate over command straight from the spectra (H1), filters of the log and saturation included.",
        "Bendat & Piersol, Random Data (from memory)",
    ),
    Method(
        "step",
        "Rate after a step of the command, made from the measured rate response.",
        "Ogata, Modern Control Engineering, chapter 5 (from memory)",
    ),
    Method(
        "counting",
        "Counted over the samples used.",
        "common practice, no source",
    ),
)

QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "axes.{axis}.bandwidth",
        "bandwidth",
        "Hz",
        "up to which frequency the rate follows the command: the lesser of phase and gain rule",
        "handling",
    ),
    Quantity(
        "axes.{axis}.bandwidth_phase",
        "bandwidth, phase rule",
        "Hz",
        "where the phase of rate over command is -45 deg",
        "handling",
    ),
    Quantity(
        "axes.{axis}.bandwidth_gain",
        "bandwidth, gain rule",
        "Hz",
        "highest frequency where the angle's gain is 6 dB above that at the -180 deg frequency",
        "handling",
    ),
    Quantity(
        "axes.{axis}.bandwidth_as_flown",
        "bandwidth as flown",
        "Hz",
        "the phase rule on the response as it was logged, log filters and saturation included",
        "as-flown",
    ),
    Quantity(
        "axes.{axis}.phase_delay",
        "phase delay",
        "s",
        "how steeply the phase falls beyond the -180 deg frequency of the angle",
        "handling",
    ),
    Quantity(
        "axes.{axis}.crossover", "crossover", "Hz", "where the gain of the loop falls through one", "loop"
    ),
    Quantity(
        "axes.{axis}.gain_margin",
        "gain margin",
        "dB",
        "how much more gain brings the loop to the edge of oscillation",
        "loop",
    ),
    Quantity(
        "axes.{axis}.phase_margin",
        "phase margin",
        "deg",
        "how much more phase lag at the crossover brings the loop to the edge of oscillation",
        "loop",
    ),
    Quantity(
        "axes.{axis}.peak_sensitivity",
        "peak sensitivity",
        "1",
        "the most by which the loop amplifies a disturbance; the closest distance to the edge is its inverse",
        "loop",
    ),
    Quantity(
        "axes.{axis}.overshoot",
        "overshoot",
        "1",
        "how far the rate goes beyond a step of the command, as a share of it",
        "step",
    ),
    Quantity("axes.{axis}.rise_time", "rise time", "s", "from 10 to 90 % of a step of the command", "step"),
    Quantity(
        "axes.{axis}.saturated_share",
        "saturated share",
        "1",
        "share of the time in which the axis was limited by a motor at its end",
        "counting",
    ),
    Quantity(
        "axes.{axis}.excited_low",
        "excited from",
        "Hz",
        "lowest frequency that was excited enough",
        "counting",
    ),
    Quantity(
        "axes.{axis}.excited_high",
        "excited to",
        "Hz",
        "highest frequency that was excited enough",
        "counting",
    ),
)
