"""The figures of one axis for many controllers, without their intervals: for looking, not for telling."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.margins import is_stable
from asflown.core.behaviour.predict.controls import Controls
from asflown.core.behaviour.predict.plants import Later, later, plants
from asflown.core.behaviour.predict.result import UNITS
from asflown.core.behaviour.response.figures import FROM_REST, GRID, all_figures
from asflown.core.behaviour.response.steps import step_answers, step_numbers
from asflown.core.identified import Identified

Complex = npt.NDArray[np.complex128]


@dataclass(frozen=True)
class Nominal:
    """An axis of a baseline flight with the controller that flew, to be looked at with others.

    Stability is looked for up to the highest frequency of the figures; :func:`predict` looks further.
    """

    found: Identified
    before: Controls
    _plants: dict[Later, Complex] = field(default_factory=dict, repr=False, compare=False)

    def figures(self, controls: Controls) -> Mapping[str, float] | None:
        """By name, as :data:`asflown.core.behaviour.predict.result.UNITS`; ``None`` for an unstable loop.

        A figure that the loop does not have is not a number.
        """
        command, rate = (side[:1] for side in controls.drawn(FROM_REST))
        loop = self._plant(controls) * rate
        if not is_stable(loop[0]):
            return None
        whole = self._plant(controls) * command / (1 + loop)
        middle = slice(-GRID.size, None)
        found = all_figures(whole[:, middle], loop[:, middle], self.found.excited_high)
        drawn = {**found, **step_numbers(step_answers(whole))}
        return {name: float(drawn[name][0]) for name in UNITS}

    def _plant(self, controls: Controls) -> Complex:
        by = later(self.before, controls)
        if by not in self._plants:
            self._plants[by] = plants(self.found, FROM_REST, by)[:1]
        return self._plants[by]
