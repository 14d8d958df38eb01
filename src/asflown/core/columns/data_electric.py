"""Pack voltage, pack current and throttle by their data: how they go with the motors and over the flight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asflown.core.columns.data_motors import motor_mean
from asflown.core.columns.open_columns import Scene

if TYPE_CHECKING:
    from asflown.core.flight import FloatArray


def say_electric(scene: Scene) -> None:
    """Enter what goes with the motors: throttle, current, voltage."""
    mean = motor_mean(scene)
    has = {f: bool(scene.named(f)) for f in ("throttle", "pack_current", "pack_voltage")}
    best: dict[str, tuple[float, int, str]] = {}
    for place in scene.still_open():
        at = scene.at(place)
        if scene.sample.mean[at] <= 0 or scene.sample.low[at] < -0.2 * scene.sample.mean[at]:
            continue
        values = scene.sample.blocks[:, :, at]
        goes = _slow_correlation(values, mean) if mean is not None else 0.0
        for family, weight, reason in _readings(scene, at, goes):
            if not has[family] and weight > best.get(family, (0.0, 0, ""))[0]:
                best[family] = (weight, place, reason)
    for family, (weight, place, reason) in best.items():
        scene.ledger.data(place, family, weight, reason)


def _readings(scene: Scene, at: int, goes: float) -> list[tuple[str, float, str]]:
    sample = scene.sample
    fall = _trend(sample.thin[:, at])
    mean, spread = float(sample.mean[at]), float(sample.deviation[at])
    steadiness = mean / spread if spread > 0 else 0.0
    made: list[tuple[str, float, str]] = []
    told = f"correlation {goes:+.2f} with the mean of the motors"
    if goes > 0.5:
        low, high = _motor_span(scene)
        inside = sample.low[at] >= low - 0.3 * (high - low) and sample.high[at] <= high + 0.3 * (high - low)
        if inside:
            made.append(
                ("throttle", 1.0 + 2.0 * goes, f"it goes with the motors and over their span ({told})")
            )
        else:
            made.append(("pack_current", 0.6 + 2.2 * goes, f"it rises with the motors ({told})"))
    volts = any(3.0 <= mean * factor <= 70.0 for factor in (1.0, 1e-3, 1e-2, 0.1))
    if steadiness > 8 and volts and (goes < -0.3 or fall < -0.6):
        weight = 1.2 + 1.5 * max(0.0, -goes) + 1.0 * max(0.0, -fall)
        made.append(("pack_voltage", weight, f"it falls over the log (trend {fall:+.2f}) and sags: {told}"))
    return made


def _motor_span(scene: Scene) -> tuple[float, float]:
    ats = [scene.at(place) for place in scene.named("motor")]
    if not ats:
        return np.inf, -np.inf
    return float(scene.sample.low[ats].min()), float(scene.sample.high[ats].max())


def _slow_correlation(values: FloatArray, others: FloatArray) -> float:
    """Correlation of means over 16 rows, within blocks."""
    length = values.shape[1] // 16 * 16
    if length == 0:
        return 0.0
    a, b = (x[:, :length].reshape(x.shape[0], -1, 16).mean(axis=2) for x in (values, others))
    a, b = a - a.mean(axis=1, keepdims=True), b - b.mean(axis=1, keepdims=True)
    power = float(np.sum(a * a) * np.sum(b * b))
    return float(np.sum(a * b) / np.sqrt(power)) if power > 0 else 0.0


def _trend(values: FloatArray) -> float:
    """Correlation with the row number over the whole log."""
    rows = np.arange(values.size) - (values.size - 1) / 2
    off = values - values.mean()
    power = float(np.sum(off * off) * np.sum(rows * rows))
    return float(np.sum(off * rows) / np.sqrt(power)) if power > 0 else 0.0
