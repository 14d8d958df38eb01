"""Balance of the motors in hover."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.measured import Measured
from asflown.figures.figure import Axis, Figure, Form, Mark, Series
from asflown.figures.flight_numbers import said


def balance_figure(
    mean: Measured, offsets: Sequence[Measured], evidence: tuple[str, ...] = ()
) -> Figure | None:
    """Command of each motor less the mean, in hover, with its interval; ``None`` where nothing is known.

    Parameters
    ----------
    mean
        Mean command of all motors, 1.
    offsets
        Of each motor from the first.
    """
    known = [(number, one) for number, one in enumerate(offsets, 1) if one.value is not None]
    if not known:
        return None
    percent = [
        (float(number), *(100.0 * float(x or 0.0) for x in (one.value, one.low, one.high)))
        for number, one in known
    ]
    x, y, low, high = (tuple(column) for column in zip(*percent, strict=True))
    hardest = max(known, key=lambda pair: pair[1].value or 0.0)
    return Figure(
        title="Motor commands in hover",
        x=Axis("motor", "number", ticks=tuple((at, f"{at:g}") for at in x)),
        y=Axis("command less the mean", "% of full"),
        series=(Series("motor", x, y, low=low, high=high, form=Form.POINTS),),
        marks=(Mark("mean of all motors", y=0.0),),
        caption=(
            f"Command of each motor in hover less the mean of {said(mean)}, with 95 % intervals: motor"
            f" {hardest[0]} works hardest, {said(hardest[1])} of full above it."
        ),
        evidence=evidence,
    )
