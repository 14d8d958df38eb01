"""The quantities of the answer to a rate command, and how they are computed."""

from __future__ import annotations

from asflown.core.study.quantity import Method, Quantity

_ADS33 = "ADS-33E-PRF (2000), 3.3.2.1, adapted from angle to rate response (see core/behaviour/handling)"
_LOOP = "Astrom & Murray, Feedback Systems, chapter 10 (from memory)"
_JOINT = "joint input-output identification: Ljung, System Identification (from memory)"

METHODS: tuple[Method, ...] = (
    Method(
        "handling",
        "Response of the rate to its command, from plant and controller as measured. Phase rule: where the"
        " rate lags by 45 deg. Gain rule: the highest frequency where the gain of the angle is 6 dB above"
        " that where the rate lags by 90 deg. Phase delay from the phase at twice that frequency.",
        _ADS33,
    ),
    Method(
        "loop",
        "Loop broken at the motor command: plant from the achieved motor commands to the rate, joint"
        " input-output with the command as reference, times the controller (known, or measured from the"
        " log).",
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
        "stick",
        "A straight line through the samples of stick and commanded rate near that deflection, both sides"
        " together.",
        "least squares; common practice, no source",
    ),
    Method("counting", "Counted over the samples used.", "common practice, no source"),
)

#: The figures that each route may reach.
_BY_ROUTE: tuple[Quantity, ...] = (
    Quantity(
        "bandwidth",
        "bandwidth",
        "Hz",
        "up to which frequency the rate follows the command, by the phase rule: it lags by 45 deg there",
        "handling",
    ),
    Quantity(
        "bandwidth_gain",
        "bandwidth, gain rule",
        "Hz",
        "the same by the gain rule: 6 dB of gain are left there",
        "handling",
    ),
    Quantity(
        "phase_delay",
        "phase delay",
        "s",
        "how steeply the phase falls beyond the frequency where the rate lags by 90 deg",
        "handling",
    ),
    Quantity("crossover", "crossover", "Hz", "where the gain of the loop falls through one", "loop"),
    Quantity(
        "gain_margin",
        "gain margin",
        "dB",
        "how much more gain brings the loop to the edge of oscillation",
        "loop",
    ),
    Quantity(
        "phase_margin",
        "phase margin",
        "deg",
        "how much more phase lag at the crossover brings the loop to the edge of oscillation",
        "loop",
    ),
    Quantity(
        "peak_sensitivity",
        "peak sensitivity",
        "1",
        "the most by which the loop amplifies a disturbance; its inverse is the distance to the edge",
        "loop",
    ),
    Quantity(
        "overshoot",
        "overshoot",
        "1",
        "how far the rate goes beyond a step of the command, as a share of it",
        "step",
    ),
    Quantity("rise_time", "rise time", "s", "from 10 to 90 % of a step of the command", "step"),
)


def _placed(one: Quantity, path: str, *, is_detail: bool) -> Quantity:
    says = f"{one.says}, by this route" if is_detail else one.says
    return Quantity(f"{path}.{one.name}", one.title, one.unit, says, one.method, is_detail)


QUANTITIES: tuple[Quantity, ...] = (
    *(_placed(one, "axes.{axis}", is_detail=False) for one in _BY_ROUTE),
    Quantity(
        "axes.{axis}.bandwidth_as_flown",
        "bandwidth as flown",
        "Hz",
        "the phase rule on the response as it was logged, log filters and saturation included",
        "as-flown",
    ),
    Quantity(
        "axes.{axis}.command_at_half_stick",
        "commanded at half stick",
        "rad/s",
        "rate that half the stick's way asks for",
        "stick",
        is_detail=True,
    ),
    Quantity(
        "axes.{axis}.command_at_full_stick",
        "commanded at full stick",
        "rad/s",
        "rate that the whole way of the stick asks for",
        "stick",
        is_detail=True,
    ),
    Quantity(
        "axes.{axis}.saturated_share",
        "time saturated",
        "1",
        "share of the time used in which a motor stood at its end",
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
    *(_placed(one, "axes.{axis}.by_route.{route}", is_detail=True) for one in _BY_ROUTE),
)
