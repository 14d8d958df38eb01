"""Vibration: the Campbell diagram of rotating machinery, and spectra with their lines."""

from __future__ import annotations

import numpy as np

from asflown.core.vibration.result import CampbellMap, Density, Vibration
from asflown.figures.figure import Axis, Figure, Mark, Series, Shading
from asflown.figures.flight_numbers import decibels, floats, kept, plain, said

#: Most cells of the diagram along frequency.
_CELLS = 400
#: Hz: below lies what the pilot flies, which no one calls vibration. Common practice, no source.
_MANOEUVRES = 20.0
_NAMES = {"rate": "rate", "accel": "specific force"}


def campbell_figure(of: CampbellMap, evidence: tuple[str, ...] = ()) -> Figure:
    """Density against frequency and rotor speed, with the order lines, folded ones too."""
    rows = kept(of.frequency, most=_CELLS)
    level = decibels(of.density[:, rows])
    shading = Shading(
        x=floats(of.speed),
        y=floats(of.frequency[rows]),
        values=tuple(tuple(None if np.isnan(v) else float(v) for v in column) for column in level.T),
        name=f"density of {_signal(of.signal)}",
        unit=f"dB re 1 ({_unit(of.signal)})²/Hz",
        blank_why="too little was flown at that rotor speed",
        ends=_ends(level, of.frequency[rows]),
    )
    lines = tuple(
        Series(_order_name(order, of.blades), floats(of.speed), floats(of.order_line(order)))
        for order in of.orders
    )
    return Figure(
        title=f"Campbell diagram, {_signal(of.signal)}",
        x=Axis("rotor speed", "rev/s"),
        y=Axis("frequency", "Hz"),
        series=lines,
        marks=(Mark("half the log rate", y=of.half_rate),),
        caption=_campbell_says(of, level, rows),
        evidence=evidence,
        shading=shading,
    )


def _ends(level: np.ndarray, frequency: np.ndarray) -> tuple[float, float] | None:
    """Ends of the colours: what the pilot flies is far stronger, and would leave the rest in one colour."""
    seen = level[:, frequency >= _MANOEUVRES]
    if not np.any(np.isfinite(seen)):
        return None
    return float(np.nanmin(level)), float(np.nanmax(seen))


def _campbell_says(of: CampbellMap, level: np.ndarray, rows: np.ndarray) -> str:
    flown = of.seconds > 0
    if not np.any(np.isfinite(level)):
        return f"Too little was flown at any rotor speed to draw {_signal(of.signal)}."
    fast = np.flatnonzero(of.frequency[rows] >= _MANOEUVRES)
    seen = level[:, fast] if fast.size and np.any(np.isfinite(level[:, fast])) else level
    rows = rows[fast] if seen is not level else rows
    where = np.unravel_index(int(np.nanargmax(seen)), seen.shape)
    speeds = of.speed[flown]
    orders = ", ".join(plain(order) for order in of.orders) or "none"
    peak = plain(float(of.frequency[rows][where[1]]))
    return (
        f"{_signal(of.signal).capitalize()} over {plain(float(of.seconds.sum()))} s at rotor speeds of"
        f" {plain(float(speeds.min()))} to {plain(float(speeds.max()))} rev/s: strongest"
        f" above {plain(_MANOEUVRES)} Hz at {peak} Hz and {plain(float(of.speed[where[0]]))} rev/s;"
        f" order lines drawn: {orders}; what is stronger below has the colour of that."
    )


def _order_name(order: float, blades: int | None) -> str:
    what = ", blades" if blades is not None and order == blades else ""
    return f"order {plain(order)}{what}"


def spectrum_figure(of: Density, vibration: Vibration, evidence: tuple[str, ...] = ()) -> Figure:
    """Root density of one signal with its band, and where the orders of the rotors are seen."""
    rows = kept(of.frequency[1:], is_log=True) + 1
    root = {name: np.sqrt(np.maximum(getattr(of, name)[rows], 0.0)) for name in ("density", "low", "high")}
    marks = tuple(Mark(f"order {plain(line.order)}", x=line.seen_at) for line in vibration.lines)
    return Figure(
        title=f"Spectrum, {_signal(of.signal)}",
        x=Axis("frequency", "Hz", is_log=True),
        y=Axis("root density", f"{_unit(of.signal)}/√Hz", is_log=True),
        series=(
            Series(
                _signal(of.signal),
                floats(of.frequency[rows]),
                floats(root["density"]),
                low=floats(root["low"]),
                high=floats(root["high"]),
            ),
        ),
        marks=marks,
        caption=_spectrum_says(of, vibration),
        evidence=evidence,
    )


def _spectrum_says(of: Density, vibration: Vibration) -> str:
    fast = np.flatnonzero(of.frequency >= _MANOEUVRES)
    strongest = int(fast[np.argmax(of.density[fast])]) if fast.size else int(np.argmax(of.density))
    text = (
        f"Root density of {_signal(of.signal)} over {plain(vibration.seconds)} s with its 95 % band;"
        f" largest above {plain(_MANOEUVRES)} Hz at {plain(float(of.frequency[strongest]))} Hz"
    )
    levels = [
        f"order {plain(line.order)} at {plain(line.seen_at)} Hz: {said(line.level[of.signal])} rms"
        for line in vibration.lines
        if of.signal in line.level and line.level[of.signal].value is not None
    ]
    return f"{text}; {'; '.join(levels)}." if levels else f"{text}."


def _signal(name: str) -> str:
    family, _, member = name.partition(".")
    return f"{_NAMES.get(family, family)} {member}".strip()


def _unit(name: str) -> str:
    return "m/s²" if name.startswith("accel") else "rad/s"
