"""The rows that a controller is read from: its logged output, else what the motors' commands come to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.from_log.bench import free_rows
from asflown.core.behaviour.from_log.windows import Rows
from asflown.core.flight import EvenPart
from asflown.core.signals import AXES

Float = npt.NDArray[np.float64]


def rows_of(parts: Sequence[EvenPart], axis: str, pattern: Float | None) -> tuple[Rows, ...]:
    """Even stretches of one axis.

    Parameters
    ----------
    parts
        With ``rate.*`` and, where logged, ``rate_command.*``, ``control.*`` and ``motor.*``.
    pattern
        (3, motors) from motors to axes; ``None``: the output is ``control.*``.
    """
    made = []
    for part in parts:
        motors = _motors(part)
        if pattern is None:
            output = part.values[f"control.{axis}"]
        else:
            assert motors is not None
            output = pattern[AXES.index(axis)] @ motors
        signals = [output] if motors is None else list(motors)
        free = free_rows(signals, part.rate, moving=output)
        if motors is not None and pattern is None:
            free &= free_rows([output], part.rate, moving=output)
        command = part.values.get(f"rate_command.{axis}")
        made.append(Rows(part.rate, command, part.values[f"rate.{axis}"], output, free))
    return tuple(made)


def _motors(part: EvenPart) -> Float | None:
    names = [name for name in part.values if name.startswith("motor.")]
    names.sort(key=lambda name: int(name.split(".")[1]))
    return part.rows(names) if names else None
