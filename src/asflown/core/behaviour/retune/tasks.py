"""A retune from plants, the old controllers and the new release's structures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.declared import KnownController
from asflown.core.behaviour.retune.knobs import Knob
from asflown.core.behaviour.retune.loops import Loop, target_of
from asflown.core.behaviour.retune.result import Retuned
from asflown.core.behaviour.retune.retune import retune
from asflown.core.control import ControlStructure

Complex = npt.NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class AxisTask:
    """What one axis is to keep.

    Attributes
    ----------
    plant
        (nf,) at :data:`asflown.core.behaviour.retune.loops.GRID`: rate for measured drive, as it was flown.
    old
        The controller that flew, at the scale of the measured drive.
    plant_after
        (nf,) the same as the new loop meets it: its delay corrected for another hold and computing time.
    scale
        Of the new release's drive to the measured one.
    """

    plant: Complex
    old: KnownController
    plant_after: Complex
    scale: float = 1.0


def retune_axes(
    axes: Mapping[str, AxisTask],
    structures: Mapping[str, ControlStructure],
    values: Mapping[str, float],
    stored: Mapping[str, float],
    knobs: Sequence[Knob],
    *,
    filters: bool = True,
) -> Retuned:
    """Turn the new release's knobs so that every axis answers as before.

    Parameters
    ----------
    structures, values, stored
        Of the new release: by axis, and by role as planned; see
        :func:`asflown.core.behaviour.declared.controller_of`.
    knobs
        See :func:`asflown.core.behaviour.retune.knobs.knobs_of`.
    filters
        Whether cut-offs may be turned; otherwise gains alone.

    Raises
    ------
    ValueError
        As :func:`asflown.core.behaviour.retune.retune.retune` does, and for plants on another grid.
    """
    loops = {
        axis: Loop(
            structures[axis], values, stored, task.scale, target_of(task.plant, task.plant_after, task.old)
        )
        for axis, task in axes.items()
    }
    return retune(loops, [knob for knob in knobs if filters or knob.is_gain])
