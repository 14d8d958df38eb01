"""What a retune comes to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from asflown.core.behaviour.retune.loops import Kept

#: Remaining differences up to which the old answer counts as kept, dB and deg: what pilots do not tell
#: apart between 0.5 and 25 Hz. Common practice, no source.
GOOD_DECIBELS, GOOD_DEGREES = 0.5, 4.0
#: By how much, as a share, peak and noise may pass the old ones and still count as no worse.
SAME = 1e-5


@dataclass(frozen=True)
class Retuned:
    """The outcome: a proposal, or a refusal.

    Attributes
    ----------
    values
        New value in SI by role, of the knobs that move; none where refused.
    axes
        What remains, by axis; of the nearest values where refused.
    planned
        The same for the values as planned.
    started
        Where the search began, in words, in order.
    best_start
        Which of them led here.
    at_end
        Roles that stand at the end of the release's own range.
    reasons
        What keeps the answer from being closer, in words.
    gains_alone
        Whether the old answer is also kept with the planned filters.
    refusal
        Why nothing is proposed: no values were found that are stable with nothing worse than before.
    nearest
        Where refused, the values of the knobs that move for the best that is stable; none where none is.
    """

    values: Mapping[str, float]
    axes: Mapping[str, Kept]
    planned: Mapping[str, Kept]
    started: tuple[str, ...]
    best_start: str
    at_end: tuple[str, ...]
    reasons: tuple[str, ...]
    gains_alone: bool
    refusal: str | None
    nearest: Mapping[str, float]

    @property
    def is_good(self) -> bool:
        """Whether the old answer is kept on every axis, with peak and noise no worse."""
        return self.refusal is None and all(is_good(one) for one in self.axes.values())


def is_good(one: Kept) -> bool:
    """Whether an axis answers as before, with peak sensitivity and noise no worse."""
    return is_allowed(one) and one.decibels <= GOOD_DECIBELS and one.degrees <= GOOD_DEGREES


def is_allowed(one: Kept) -> bool:
    """Whether an axis is stable, with peak sensitivity and noise no worse."""
    quiet = one.noise is None or one.noise <= 1.0 + SAME
    return one.stable and one.peak <= 1.0 + SAME and quiet
