"""What is printed: a sheet or cards, and on which paper."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from asflown.app.views.sheet import Sheet

if TYPE_CHECKING:
    from asflown.faces.drawings import Drawings
    from asflown.figures.figure import Figure


class Paper(StrEnum):
    """Paper in the printer; cards take half a leaf of it."""

    A4 = "a4"
    LETTER = "letter"


@dataclass(frozen=True)
class Printed:
    """One print.

    Attributes
    ----------
    body
        The same as JSON: goes along as ``record.json``.
    stamp
        Class of a verdict's stamp.
    signs
        What a person puts a name to by hand, one sign line each.
    is_card
        Whether it is taken to the bench or the field: half a leaf, boxes to write in, what stops it on top.
    more
        What its template takes beside that.
    """

    sheet: Sheet
    body: Callable[[], object]
    figures: Sequence[Figure] = ()
    stamp: str = ""
    signs: tuple[str, ...] = ()
    template: str = "sheet.html"
    is_card: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)


def with_drawings(sheet: Sheet, body: Callable[[], object], drawings: Drawings | None) -> Printed:
    """A sheet with its figures; what could not be drawn is said."""
    if drawings is None:
        return Printed(sheet, body)
    return Printed(replace(sheet, notes=(*sheet.notes, *drawings.lacks)), body, tuple(drawings.figures))
