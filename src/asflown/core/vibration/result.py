"""What measuring the vibration of a flight gives: frozen results, no arithmetic beyond reading them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asflown.core.measured import Measured
from asflown.core.signal.aliasing import folded

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.float64]

#: How the speed of the rotors was known.
FROM_TELEMETRY = "rotor speed telemetry"
BLIND = "line tracked blind"


@dataclass(frozen=True, eq=False)
class Density:
    """Power density of one signal, with the 95 % interval of its mean over the flight.

    Attributes
    ----------
    frequency
        (nf,) Hz.
    density, low, high
        (nf,) unit²/Hz, unbiased for the mean; the interval is a gamma one with as many degrees of freedom
        as the scatter between segments leaves (fewer than a steady signal's where the vibration comes and
        goes).
    averages
        (nf,) independent averages the density is worth.
    """

    signal: str
    unit: str
    frequency: FloatArray
    density: FloatArray
    low: FloatArray
    high: FloatArray
    averages: FloatArray


@dataclass(frozen=True, eq=False)
class CampbellMap:
    """Campbell diagram of rotating machinery: density against frequency and rotor speed.

    Attributes
    ----------
    speed
        (ns,) rev/s, middles of the speed bins (mean over the rotors).
    frequency
        (nf,) Hz.
    density
        (ns, nf) unit²/Hz; not a number where too little was flown at that speed.
    seconds
        (ns,) s flown in each speed bin.
    orders
        Order lines to draw: frequency = order times speed, folded at half the log rate where above it.
    blades
        Blades of a propeller; the blade-pass line is this order. ``None``: not stated.
    half_rate
        Hz, half the log rate.
    """

    signal: str
    speed: FloatArray
    frequency: FloatArray
    density: FloatArray
    seconds: FloatArray
    orders: tuple[float, ...]
    half_rate: float
    blades: int | None = None

    def order_line(self, order: float) -> FloatArray:
        """Hz where an order is seen at each speed, folded at half the log rate."""
        return folded(order * self.speed, 2.0 * self.half_rate)


@dataclass(frozen=True, slots=True)
class RotorLine:
    """One order of the rotors.

    Attributes
    ----------
    order
        Multiple of the rotor speed.
    route
        How the speed was known.
    frequency
        Hz, mean over the time used, true (not folded).
    frequency_low, frequency_high
        Hz, between which it moved for 90 % of the time.
    seen_at
        Hz where it shows in the log: the same, or folded at half the log rate.
    level
        By signal, and ``rate`` / ``accel`` for the root sum of squares of the axes: rms, rad/s or m/s².
    at_reference
        The same at ``reference_speed``, amplitude taken to go with speed² (power with (f/f0)^4).
    reference_speed
        rev/s.
    folded_share
        Share of the time the line lay above half the log rate.
    """

    order: float
    route: str
    frequency: float
    frequency_low: float
    frequency_high: float
    seen_at: float
    level: Mapping[str, Measured]
    at_reference: Mapping[str, Measured]
    reference_speed: float
    folded_share: float = 0.0


@dataclass(frozen=True, slots=True)
class RotorLevel:
    """Level of one order of one rotor at the reference speed, by signal; a reason where not separable."""

    rotor: int
    order: float
    at_reference: Mapping[str, Measured]
    reference_speed: float


@dataclass(frozen=True, slots=True)
class Clipping:
    """Samples of one signal at the ends of the sensor's range.

    Attributes
    ----------
    low, high
        The rails found, in the signal's unit; ``None`` where none was met.
    samples, share
        Samples at the rails, and their share of all.
    flat_tops
        Runs of two or more such samples in a row.
    longest
        s, of the longest run.
    """

    signal: str
    low: float | None
    high: float | None
    samples: int
    share: float
    flat_tops: int
    longest: float
    statement: str


@dataclass(frozen=True, slots=True)
class Floor:
    """Loop-amplified floor: what is left between the lines in a band. It is not sensor noise.

    Attributes
    ----------
    level
        Root density, unit/rtHz.
    """

    signal: str
    low_hz: float
    high_hz: float
    level: Measured
    statement: str


@dataclass(frozen=True, slots=True)
class AliasFact:
    """An order of the rotors that comes near or above half the log rate."""

    order: float
    frequency: float
    seen_at: float
    share_above: float
    statement: str


@dataclass(frozen=True, eq=False)
class Vibration:
    """Vibration of one flight.

    Attributes
    ----------
    speed_route
        How the speed of the rotors was known; ``None`` where it could not be.
    speed
        rev/s, mean over rotors and time; ``None`` where not known.
    lines
        One for each order found or looked for.
    rotors
        Levels of single rotors; empty without telemetry.
    telemetry_delay
        s by which the speed telemetry was found to lag; 0 where none was found.
    notes
        What a person should know, one sentence each.
    """

    rate_hz: float
    seconds: float
    spectra: Mapping[str, Density]
    campbell: tuple[CampbellMap, ...]
    speed_route: str | None
    speed: float | None
    lines: tuple[RotorLine, ...]
    rotors: tuple[RotorLevel, ...]
    floor: tuple[Floor, ...]
    clipping: tuple[Clipping, ...]
    aliases: tuple[AliasFact, ...]
    telemetry_delay: float = 0.0
    notes: tuple[str, ...] = ()

    def line(self, order: float) -> RotorLine | None:
        """The line of an order, ``None`` where it was not looked for."""
        return next((line for line in self.lines if line.order == order), None)
