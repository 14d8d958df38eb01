"""What is measured of one axis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from asflown.core.flight import Span
from asflown.core.identified import Identified
from asflown.core.measured import Measured

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

#: Routes to the figures of the loop.
KNOWN = "known controller"
FREE = "model-free"
RESPONSE_ONLY = "response only"

#: The figures, with their units, in the order shown.
UNITS: Mapping[str, str] = {
    "bandwidth": "Hz",
    "bandwidth_gain": "Hz",
    "phase_delay": "s",
    "crossover": "Hz",
    "gain_margin": "dB",
    "phase_margin": "deg",
    "peak_sensitivity": "1",
}


@dataclass(frozen=True, eq=False)
class Curve:
    """A frequency response with its pointwise band: of the drawn loops, or of the random error.

    Attributes
    ----------
    frequencies
        (nf,) Hz.
    gain, gain_low, gain_high
        (nf,) dB.
    phase, phase_low, phase_high
        (nf,) deg, unwrapped.
    excited
        (nf,) where the command had the power to show it; elsewhere it is the model's continuation.
    """

    frequencies: Float
    gain: Float
    gain_low: Float
    gain_high: Float
    phase: Float
    phase_low: Float
    phase_high: Float
    excited: Bool


@dataclass(frozen=True, eq=False)
class StepBand:
    """Rate after a step of the command, with the pointwise band of the drawn loops (what the noise does).

    Attributes
    ----------
    time
        (n,) s.
    answer, low, high
        (n,) shares of the step; 95 % of the drawn answers lie between low and high at each time.
    """

    time: Float
    answer: Float
    low: Float
    high: Float


@dataclass(frozen=True, eq=False)
class RouteFigures:
    """The figures by one route, and the responses they were read from."""

    route: str
    figures: Mapping[str, Measured]
    response: Curve | None = None
    loop: Curve | None = None
    step: StepBand | None = None
    overshoot: Measured | None = None
    rise_time: Measured | None = None


@dataclass(frozen=True, eq=False)
class AxisResponse:
    """Everything measured of one axis.

    Attributes
    ----------
    figures
        The best route's: the known controller's where there is one, else the model-free ones.
    routes
        Each route that could be gone.
    as_flown
        Bandwidth by the phase rule straight from the spectra, saturation and the log's filters included.
    excited_low, excited_high
        Hz, ends of the excited range; ``None`` where nothing was.
    saturated_share
        Of the time used, in which a motor stood at its end.
    thrust_exponent
        Of the curve from command to thrust, as used.
    statements
        What a reader should know.
    measured_response
        Rate over command straight from the spectra, as flown; where a planned excitation is used, at its
        lines only, and values that are not numbers stand between them.
    stick
        What the stick commands at some deflections, rad/s; empty where no stick is logged.
    identified
        Plant and controller as fitted; ``None`` where no plant was.
    """

    axis: str
    figures: Mapping[str, Measured]
    routes: Mapping[str, RouteFigures] = field(default_factory=dict)
    as_flown: Measured | None = None
    excited_low: float | None = None
    excited_high: float | None = None
    saturated_share: float | None = None
    thrust_exponent: float | None = None
    spans: tuple[Span, ...] = ()
    statements: tuple[str, ...] = ()
    measured_response: Curve | None = None
    identified: Identified | None = None
    stick: Mapping[str, Measured] = field(default_factory=dict)
