"""A controller as a prediction takes it: declared with numbers, or as read from a log."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.declared import KnownController
from asflown.core.behaviour.identify.controller import ControllerFit
from asflown.core.behaviour.response.axis import draws_of
from asflown.core.behaviour.response.result import FREE, KNOWN
from asflown.core.identified import Fitted

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Highest frequency, Hz, to which a controller read from a log is told.
TOLD_TO = 200.0
_SEED = 20261127


@dataclass(frozen=True)
class Controls:
    """One axis' controller at the scale of the measured drive.

    Attributes
    ----------
    declared, fitted
        One of them: as a release declares it, or as a log showed it.
    loop_rate, latency
        Hz, and s from the gyro's sample to the middle of the motors' hold, where known.
    """

    declared: KnownController | None = None
    fitted: Fitted | None = None
    loop_rate: float | None = None
    latency: float | None = None

    def __post_init__(self) -> None:
        if (self.declared is None) == (self.fitted is None):
            raise ValueError("a controller is declared or read from a log, one of them")

    @property
    def route(self) -> str:
        """By which the figures of a loop with it are known."""
        return KNOWN if self.declared is not None else FREE

    @property
    def half_rate(self) -> float:
        """Hz, up to which its response is known."""
        return TOLD_TO if self.declared is None else 0.5 * self.declared.rate_hz

    def drawn(self, frequencies: Float) -> tuple[Complex, Complex]:
        """Responses for the command and for the rate taken away, (1 or 1 + draws, nf); the estimate first.

        Parameters
        ----------
        frequencies
            (nf,) Hz, up to :attr:`half_rate`.
        """
        if self.declared is not None:
            command, rate = self.declared.response(frequencies)
            return command[None], rate[None]
        assert self.fitted is not None
        numbers, covariance = np.asarray(self.fitted.numbers), np.asarray(self.fitted.covariance)
        fit = ControllerFit(numbers, covariance, 0.0, 0.0, 0)
        rng = np.random.default_rng(_SEED)
        return fit.drawn(frequencies, draws_of(np.zeros(numbers.size), covariance, rng))


def declared_controls(controller: KnownController, scale: float) -> Controls:
    """A declared controller whose drive is brought to the scale of the measured one."""
    scaled = controller.scaled(controller.scale * scale)
    return Controls(declared=scaled, loop_rate=controller.rate_hz, latency=controller.latency)
