"""The life of an aircraft along time, as its logbook tells it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from asflown.figures.figure import Axis, Figure, Form, Series


class Told(Protocol):
    """One entry of the logbook."""

    @property
    def days(self) -> float:
        """Since the first entry."""

    @property
    def row(self) -> int:
        """Place among the rows."""

    @property
    def says(self) -> str:
        """One sentence."""


def timeline_figure(
    name: str,
    rows: Sequence[str],
    moments: Sequence[Told],
    ticks: tuple[tuple[float, str], ...],
    caption: str,
) -> Figure | None:
    """A point for each entry, entries of a kind in a row; ``None`` for an empty logbook.

    Parameters
    ----------
    rows
        Names, lowest first.
    ticks
        Days since the first entry, and the moment in words.
    """
    if not moments:
        return None
    return Figure(
        title=f"Logbook of {name} along time",
        x=Axis("time", "UTC", ticks=ticks),
        y=Axis("kind of entry", "", ticks=tuple((float(number), row) for number, row in enumerate(rows))),
        series=(
            Series(
                "entry",
                tuple(one.days for one in moments),
                tuple(float(one.row) for one in moments),
                form=Form.POINTS,
                words=tuple(one.says for one in moments),
            ),
        ),
        caption=caption,
    )
