"""A log as the reader takes it, and the controller it gives."""

from __future__ import annotations

from typing import Any

import numpy as np

from asflown.core.behaviour.from_log.read import ReadController, read_controller
from asflown.core.behaviour.from_log.windows import Rows


def rows_of(log: Any, free: Any = None) -> Rows:
    """A log as the reader takes it."""
    return Rows(
        log.rate,
        log.command,
        log.response,
        log.output,
        np.ones(log.output.size, dtype=bool) if free is None else free,
    )


def read(log: Any, **more: Any) -> ReadController:
    """The controller of a log."""
    made = read_controller("roll", [rows_of(log)], **more)
    assert isinstance(made, ReadController), made
    return made
