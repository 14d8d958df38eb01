"""A stretch of a flight, cut out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from asflown.core.flight import Flight, Labels, Span, Trace

if TYPE_CHECKING:
    import numpy.typing as npt


def cut(flight: Flight, span: Span) -> Flight:
    """The flight from ``span.start`` to ``span.end``, times as they were; views where stamps rise."""
    picked: dict[int, slice | npt.NDArray[np.bool_]] = {}
    times: dict[int, npt.NDArray[np.float64]] = {}
    traces = {}
    for name, trace in flight.traces.items():
        key = id(trace.time)
        if key not in picked:
            picked[key] = _picked(trace.time, span)
            times[key] = _frozen(trace.time[picked[key]])
        values = times[key] if trace.values is trace.time else _frozen(trace.values[picked[key]])
        traces[name] = Trace(name, times[key], values, trace.unit, trace.column)
    labels = {name: _held(label, span) for name, label in flight.labels.items()}
    return replace(flight, traces=traces, labels=labels)


def _picked(time: npt.NDArray[np.float64], span: Span) -> slice | npt.NDArray[np.bool_]:
    inside = (time >= span.start) & (time <= span.end)
    rows = np.flatnonzero(inside)
    if rows.size and rows[-1] - rows[0] + 1 == rows.size:
        return slice(int(rows[0]), int(rows[-1]) + 1)
    return inside


def _frozen(values: Any) -> Any:
    part = values.view()
    part.flags.writeable = False
    return part


def _held(label: Labels, span: Span) -> Labels:
    """What holds from the start of the span on, and the changes inside it."""
    inside = [i for i, at in enumerate(label.time) if span.start < at <= span.end]
    before = [i for i, at in enumerate(label.time) if at <= span.start]
    rows = [*before[-1:], *inside]
    time = np.array([max(float(label.time[i]), span.start) for i in rows], dtype=np.float64)
    return Labels(label.name, time, tuple(label.words[i] for i in rows))
