"""A controller as a prediction takes it: declared with numbers, or as read from a log."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asflown.core.behaviour.declared import KnownController
from asflown.core.behaviour.from_log.read import ReadController
from asflown.core.behaviour.identify.controller import ControllerFit
from asflown.core.behaviour.response.axis import draws_of
from asflown.core.behaviour.response.result import FREE, KNOWN
from asflown.core.identified import Fitted

Float = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

#: Highest frequency, Hz, to which a controller read from a log is told.
TOLD_TO = 200.0
_SEED = 20261127
_AS_READ = (
    "above the frequencies that the controller's log shows, its filters are taken to go on in the forms read,"
    " with wider intervals"
)
_ONE_STEP = "rows of both logs are taken to hold rate and output of one step of the loop"


@dataclass(frozen=True)
class Controls:
    """One axis' controller at the scale of the measured drive.

    Attributes
    ----------
    declared, fitted, read
        One of them: as a release declares it, as the flight itself showed it, or as another log did.
    scale
        Of the measured drive over the output that was read.
    loop_rate, latency
        Hz, and s from the gyro's sample to the middle of the motors' hold, where known.
    """

    declared: KnownController | None = None
    fitted: Fitted | None = None
    read: ReadController | None = None
    scale: float = 1.0
    loop_rate: float | None = None
    latency: float | None = None

    def __post_init__(self) -> None:
        if sum(one is not None for one in (self.declared, self.fitted, self.read)) != 1:
            raise ValueError("a controller is declared or read from a log, one of them")

    @property
    def route(self) -> str:
        """By which the figures of a loop with it are known."""
        return FREE if self.fitted is not None else KNOWN

    @property
    def half_rate(self) -> float:
        """Hz, up to which its response is known."""
        if self.declared is not None:
            return 0.5 * self.declared.rate_hz
        return TOLD_TO if self.loop_rate is None else min(TOLD_TO, 0.5 * self.loop_rate)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is taken in its response, one sentence each without the full stop."""
        if self.declared is not None:
            return self.declared.remarks
        if self.read is None:
            return ()
        return (_AS_READ, _ONE_STEP)

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
        if self.read is not None:
            command, rate = self.read.drawn(frequencies)
            return self.scale * command, self.scale * rate
        assert self.fitted is not None
        numbers, covariance = np.asarray(self.fitted.numbers), np.asarray(self.fitted.covariance)
        fit = ControllerFit(numbers, covariance, 0.0, 0.0, 0)
        rng = np.random.default_rng(_SEED)
        return fit.drawn(frequencies, draws_of(np.zeros(numbers.size), covariance, rng))


def declared_controls(controller: KnownController, scale: float) -> Controls:
    """A declared controller whose drive is brought to the scale of the measured one."""
    scaled = controller.scaled(controller.scale * scale)
    return Controls(declared=scaled, loop_rate=controller.rate_hz, latency=controller.latency)


def read_controls(read: ReadController, scale: float) -> Controls:
    """A controller read from a log, whose output is brought to the scale of the measured drive.

    Raises
    ------
    ValueError
        Where the family does not fit, or the command did not move: nothing is predicted from such.
    """
    if read.check.reason is not None:
        raise ValueError(f"the controller in the log is not of the family: {read.check.reason}")
    if not read.commanded:
        raise ValueError("the command did not move in the controller's log: move the stick of this axis too")
    return Controls(read=read, scale=scale, loop_rate=read.loop_rate)
