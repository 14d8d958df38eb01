"""What one flight taught of an axis: plant and controller as fitted, in plain numbers that can be kept."""

from __future__ import annotations

from dataclasses import dataclass

Numbers = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Fitted:
    """An estimate and its covariance.

    Attributes
    ----------
    numbers
        (p,) as the model of the fit takes them.
    covariance
        (p, p) by rows.
    """

    numbers: Numbers
    covariance: tuple[Numbers, ...]

    def __post_init__(self) -> None:
        if any(len(row) != len(self.numbers) for row in (self.numbers, *self.covariance)) or len(
            self.covariance
        ) != len(self.numbers):
            raise ValueError(f"a covariance of {len(self.numbers)} rows and columns is wanted")


@dataclass(frozen=True, slots=True)
class Identified:
    """One axis of one flight; what predictions for other controllers are made from.

    Attributes
    ----------
    plant
        See :mod:`asflown.core.behaviour.identify.plant`; the last k numbers are powers of slow factors.
    taken, spread
        (k,) powers of slow factors that were in the drive, and (k, k) covariance of the factors' logarithms.
    excited_low, excited_high
        Hz, ends of the range that the command excited.
    saturated
        Share of the time used with a motor at its end.
    controller
        As read from the log; ``None`` where it could not be.
    scale
        What the measured drive is of the declared controller's; ``None`` where no declared one was borne out.
    drive_size
        Sum of the absolute entries by which motor commands came to the drive; ``None`` where it did not come
        from them, or nobody kept it.
    loop_rate, latency
        Hz and s of the declared controller that flew; ``None`` where none is declared.
    """

    axis: str
    plant: Fitted
    taken: Numbers
    spread: tuple[Numbers, ...]
    excited_low: float
    excited_high: float
    saturated: float
    controller: Fitted | None = None
    scale: float | None = None
    loop_rate: float | None = None
    latency: float | None = None
    drive_size: float | None = None
