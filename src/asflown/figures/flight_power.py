"""The pack under load: voltage against current, and the open-circuit voltage over the flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.power.battery import PackModel
from asflown.figures.figure import Axis, Figure, Series
from asflown.figures.flight_numbers import floats, kept, said

if TYPE_CHECKING:
    from asflown.figures.flight_numbers import Numbers

#: Classes of current that voltages are averaged in, and values a class needs.
_CLASSES, _LEAST = 24, 8


def load_figure(
    voltage: Numbers, current: Numbers, pack: PackModel, evidence: tuple[str, ...] = ()
) -> Figure | None:
    """Mean voltage in classes of current, with the line of the pack's model; ``None`` where nothing is known.

    Parameters
    ----------
    voltage, current
        (n,) V and A.
    """
    good = np.isfinite(voltage) & np.isfinite(current)
    if pack.resistance.value is None or np.count_nonzero(good) < _LEAST:
        return None
    volts, amperes = np.asarray(voltage)[good], np.asarray(current)[good]
    edges = np.linspace(float(amperes.min()), float(amperes.max()), _CLASSES + 1)
    place = np.clip(np.searchsorted(edges, amperes, side="right") - 1, 0, _CLASSES - 1)
    rows = [volts[place == i] for i in range(_CLASSES)]
    full = [i for i, row in enumerate(rows) if row.size >= _LEAST]
    middle = np.array([float(amperes[place == i].mean()) for i in full])
    low, mean, high = (
        np.array([float(f(rows[i])) for i in full])
        for f in (lambda r: np.percentile(r, 2.5), np.mean, lambda r: np.percentile(r, 97.5))
    )
    line = float(np.mean(volts)) - pack.resistance.value * (middle - float(np.mean(amperes)))
    return Figure(
        title="Pack voltage against current",
        x=Axis("pack current", "A"),
        y=Axis("pack voltage", "V"),
        series=(
            Series("measured", floats(middle), floats(mean), low=floats(low), high=floats(high)),
            Series("resistance of the model", floats(middle), floats(line)),
        ),
        caption=(
            "Mean pack voltage in classes of current, with the range of 95 % of the values (the pack empties"
            f" meanwhile); resistance {said(pack.resistance)}, sag at the usual current"
            f" {said(pack.sag_hover)}."
        ),
        evidence=evidence,
    )


def open_circuit_figure(pack: PackModel, evidence: tuple[str, ...] = ()) -> Figure | None:
    """Open-circuit voltage over the flight; ``None`` where it is not known."""
    if pack.time is None or pack.open_circuit is None:
        return None
    rows = kept(pack.time)
    return Figure(
        title="Open-circuit voltage",
        x=Axis("time", "s"),
        y=Axis("open-circuit voltage", "V"),
        series=(Series("open circuit", floats(pack.time[rows]), floats(pack.open_circuit[rows])),),
        caption=(
            f"Voltage without load over the flight: {said(pack.open_circuit_start, 4)} at its start,"
            f" {said(pack.open_circuit_end, 4)} at its end."
        ),
        evidence=evidence,
    )
