"""Numbers and words that every sheet of a flight uses."""

from __future__ import annotations

import math

from asflown.core.evidence import Evidence
from asflown.core.finding import Finding
from asflown.core.vibration.result import BLIND

UNKNOWN = "unknown"
#: What stands in place of an interval, by the route of a number that has none.
_WITHOUT_SPREAD = {"counted": "counted", BLIND: "not known"}
_DEGREES = 180.0 / math.pi
#: How a sheet shows a unit, and what its numbers are multiplied by; the JSON stays in SI.
_SHOWN = {
    "1": ("", 1.0),
    "m/s2": ("m/s²", 1.0),
    "m/s2/rtHz": ("m/s²/√Hz", 1.0),
    "A s": ("A h", 1.0 / 3600.0),
    "J": ("W h", 1.0 / 3600.0),
    "ohm": ("Ω", 1.0),
    "rad/s": ("deg/s", _DEGREES),
    "rad/s/rtHz": ("deg/s/√Hz", _DEGREES),
}


def figures(value: float, like: float) -> str:
    """A value written as fine as ``like`` (an uncertainty) deserves: two figures of it.

    Examples
    --------
    >>> figures(6.2345, 0.031)
    '6.234'
    >>> figures(1234.5, 30)
    '1234'
    >>> figures(-0.00001, 0.2)
    '0.00'
    """
    if not math.isfinite(value):
        return str(value)
    if like <= 0 or not math.isfinite(like):
        return f"{value:.4g}"
    digits = max(0, min(9, 1 - math.floor(math.log10(like))))
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def unit_shown(unit: str) -> tuple[str, float]:
    """How a unit is shown, and what its numbers are multiplied by then."""
    return _SHOWN.get(unit, (unit, 1.0))


def spread(low: float, high: float, value: float) -> float:
    """Half the width of an interval, at least a thousandth of the value."""
    return max((high - low) / 2, abs(value) * 1e-4)


def valued(evidence: Evidence, *, milli: bool = False) -> tuple[str, str, str]:
    """Value, interval and unit of evidence as a table shows them; ``unknown`` where there is no value.

    Parameters
    ----------
    milli
        Show in thousandths of the unit (``ms`` for ``s``).
    """
    unit, factor = unit_shown(evidence.unit)
    if evidence.value is None or evidence.interval is None:
        return UNKNOWN, "", unit
    if milli:
        unit, factor = f"m{unit}", factor * 1e3
    value, low, high = (x * factor for x in (evidence.value, evidence.interval.low, evidence.interval.high))
    if not evidence.has_spread:
        return f"{value:.4g}", _WITHOUT_SPREAD.get(evidence.route, "as logged"), unit
    like = spread(low, high, value)
    return figures(value, like), f"{figures(low, like)} to {figures(high, like)}", unit


def seconds(value: float) -> str:
    """A moment or a length, s."""
    return f"{value:.1f}" if abs(value) < 1e4 else f"{value:.0f}"


def span_shown(span: tuple[float, float] | None) -> str:
    """A stretch of the flight: ``3.0 to 58.0 s``."""
    return "" if span is None else f"{seconds(span[0])} to {seconds(span[1])} s"


def bytes_shown(size: int) -> str:
    """A size a person can picture."""
    for limit, word in ((1 << 30, "GB"), (1 << 20, "MB"), (1 << 10, "kB")):
        if size >= limit:
            return f"{size / limit:.1f} {word}"
    return f"{size} bytes"


def found_says(finding: Finding) -> str:
    """A finding about a flight, with what can be done."""
    ways = f" Ways out: {'; '.join(finding.ways_out)}." if finding.ways_out else ""
    return f"{finding.subject}: {finding.statement.rstrip('.')}.{ways}"
