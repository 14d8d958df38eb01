"""Samples in the order they were measured: of one kind of message, doubles dropped, late ones put right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asflown.core.link.samples import Sample

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Float = npt.NDArray[np.float64]

#: s by which the aircraft's clock may step back before it counts as restarted: frames may come late.
RESTARTED = 2.0
#: s of a gap that is filled in: at rest nothing happens in it.
WIDEST = 0.25
#: Column and unit of a recorded log by signal, and the factor from the sample.
_COLUMNS: Mapping[str, tuple[str, str]] = {
    "accel": ("accel", "m/s2"),
    "rate": ("gyro", "rad/s"),
    "attitude": ("attitude", "rad"),
    "mag": ("mag", "uT"),
    "channel": ("channel", "us"),
    "pack_voltage": ("pack voltage", "V"),
    "pack_current": ("pack current", "A"),
    "sensor_temperature": ("sensor temperature", "degC"),
}


class RestartedError(Exception):
    """The aircraft's clock went back: it started anew."""


@dataclass
class Recorder:
    """Collects the samples of one message.

    Attributes
    ----------
    doubled
        Samples that came again.
    """

    message: int
    doubled: int = 0
    _rows: dict[float, Mapping[str, float]] = field(default_factory=dict)
    _newest: float = float("-inf")

    def take(self, sample: Sample, arrived: float) -> None:
        """A sample came, at ``arrived`` s of our clock.

        Raises
        ------
        RestartedError
            When the aircraft's clock went back.
        """
        if sample.message != self.message or not sample.values:
            return
        at = arrived if sample.seconds is None else sample.seconds
        if at < self._newest - RESTARTED:
            raise RestartedError
        if at in self._rows:
            self.doubled += 1
            return
        self._rows[at] = sample.values
        self._newest = max(self._newest, at)

    def __len__(self) -> int:
        return len(self._rows)

    @property
    def seconds(self) -> float:
        """From the first to the last."""
        return max(self._rows) - min(self._rows) if self._rows else 0.0

    def made(self) -> Recording:
        """What was collected."""
        import numpy as np

        times = sorted(self._rows)
        names = sorted({name for row in self._rows.values() for name in row}, key=_order)
        nothing = float("nan")
        values = {
            name: np.array([self._rows[at].get(name, nothing) for at in times], dtype=np.float64)
            for name in names
        }
        return Recording(self.message, np.array(times, dtype=np.float64), values, self.doubled)


def _order(name: str) -> tuple[int, str, int]:
    family, _, member = name.partition(".")
    axes = ("x", "roll", "y", "pitch", "z", "yaw")
    place = int(member) if member.isdecimal() else axes.index(member) if member in axes else 0
    return (list(_COLUMNS).index(family), family, place)


@dataclass(frozen=True, eq=False)
class Recording:
    """Samples of one message.

    Attributes
    ----------
    time
        (n,) s, ascending.
    values
        (n,) by signal, SI (`asflown.core.link.samples.Sample`); not a number where it was not told.
    """

    message: int
    time: Float
    values: Mapping[str, Float]
    doubled: int

    @property
    def rate(self) -> float:
        """Samples a second, by the median step; 0 for fewer than two."""
        import numpy as np

        return 0.0 if self.time.size < 2 else 1.0 / float(np.median(np.diff(self.time)))

    @property
    def lost(self) -> int:
        """Samples that are missing between the first and the last, at that rate."""
        if self.time.size < 2:
            return 0
        span = float(self.time[-1] - self.time[0])
        return max(0, round(span * self.rate) + 1 - self.time.size)

    def filled(self) -> Recording:
        """The same at an even rate, what was lost on a straight line between its neighbours.

        Longer gaps than `WIDEST` stay: nothing is known of them. The same recording where nothing was lost.
        """
        import numpy as np

        if self.lost == 0:
            return self
        even = self.time[0] + np.arange(int((self.time[-1] - self.time[0]) * self.rate) + 1) / self.rate
        after = np.clip(np.searchsorted(self.time, even, side="left"), 1, self.time.size - 1)
        is_near = self.time[after] - self.time[after - 1] <= WIDEST
        is_near |= np.isclose(even, self.time[after]) | np.isclose(even, self.time[after - 1])
        at = even[is_near]
        values = {name: self._between(at, row) for name, row in self.values.items()}
        return Recording(self.message, at, values, self.doubled)

    def _between(self, at: Float, row: Float) -> Float:
        """A column at other times; one that is told more seldom lies between its own values."""
        import numpy as np

        is_told = np.isfinite(row)
        return np.asarray(np.interp(at, self.time[is_told], row[is_told])) if is_told.any() else at * np.nan

    def columns(self) -> dict[str, str]:
        """Header of each signal's column in the log."""
        return {name: f"{_column(name)}" for name in self.values}

    def log(self) -> bytes:
        """The same as a log, CSV, its units in the header."""
        heads = ["time (s)", *(f"{_column(name)} ({_unit(name)})" for name in self.values)]
        lines = [f"# recorded over MAVLink, message {self.message}", ",".join(heads)]
        rows = zip(self.time.tolist(), *(one.tolist() for one in self.values.values()), strict=True)
        for at, *row in rows:
            lines.append(",".join([f"{at - self.time[0]:.6f}", *("" if v != v else f"{v:.7g}" for v in row)]))
        return ("\n".join(lines) + "\n").encode()


def _column(name: str) -> str:
    family, _, member = name.partition(".")
    return f"{_COLUMNS[family][0]} {member}".strip()


def _unit(name: str) -> str:
    return _COLUMNS[name.partition(".")[0]][1]
