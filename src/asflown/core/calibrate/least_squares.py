"""Linear least squares by QR: digits survive where the normal equations lose twice as many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Solved:
    """A solution and how errors of the target come through.

    Attributes
    ----------
    value
        (k,) parameters.
    shape
        (k, k) covariance of the parameters for rows of variance 1.
    left
        (n,) target less fit.
    """

    value: Float
    shape: Float
    left: Float

    @property
    def dof(self) -> int:
        """Degrees of freedom of the scatter."""
        return self.left.size - self.value.size

    @property
    def variance(self) -> float:
        """Of a row, by the scatter; not a number where nothing is left over."""
        return float(self.left @ self.left) / self.dof if self.dof else float("nan")

    @property
    def error(self) -> Float:
        """(k,) standard errors by the scatter."""
        return np.sqrt(self.variance * np.diagonal(self.shape))


def solve(design: Float, target: Float) -> Solved:
    """Parameters that bring ``design @ parameters`` nearest to a target.

    Parameters
    ----------
    design, target
        (n, k) and (n,), each row already times its weight.

    Raises
    ------
    numpy.linalg.LinAlgError
        When the columns hang together.
    """
    q, r = np.linalg.qr(design)
    value = np.linalg.solve(r, q.T @ target)
    inverse = np.linalg.inv(r)
    return Solved(value, inverse @ inverse.T, target - design @ value)
