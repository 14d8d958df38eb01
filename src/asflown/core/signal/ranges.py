"""Where a mask holds, as ranges of its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt


def true_ranges(mask: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Stretches of truth in a mask ``(n,)``: first rows ``(k,)``, and the rows ``(k,)`` after the last ones.

    Examples
    --------
    >>> import numpy as np
    >>> starts, ends = true_ranges(np.array([True, False, True, True]))
    >>> starts.tolist(), ends.tolist()
    ([0, 2], [1, 4])
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return edges[::2], edges[1::2]
