"""How common renames are in this pair of catalogs, told from the pairs themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asflown.core.carry.matching.tables import Floats

#: Share of renames among lost names that the model was fitted to, and how far a pair of catalogs moves it.
USUAL, TRUST = 0.27, 0.5
ROUNDS = 30


def prior_shift(best: Floats) -> float:
    """What to add to all log-odds where renames are rarer or more common than usual.

    Parameters
    ----------
    best
        Log-odds of the likeliest successor of every lost name, shape (names,).

    Notes
    -----
    Expectation maximisation over the share of renames (Saerens, Latinne and Decaestecker 2002), begun at
    the usual share, with one rename and one retirement added as if seen, and taken at :data:`TRUST`.
    """
    import numpy as np

    usual = np.log(USUAL / (1 - USUAL))
    shift = 0.0
    for _ in range(ROUNDS):
        sure = 1 / (1 + np.exp(-np.clip(best + shift, -60, 60)))
        share = (sure.sum() + 1) / (len(best) + 2)
        shift = TRUST * float(np.log(share / (1 - share)) - usual)
    return shift
