"""What every drafting step of a carry-over needs to know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Found, Left, Line, Option, line_id
from asflown.core.carry.sides import NewSide, OldSide
from asflown.core.catalog import Consequence, ParameterDef, worst
from asflown.core.record import Key


@dataclass(frozen=True)
class Frame:
    """Both sides and how far they can be trusted.

    Attributes
    ----------
    is_same_release
        Old and new are the same release: every name means what it meant.
    is_trusted
        Complete change notes cover the whole way: what they do not name keeps its meaning.
    """

    old: OldSide
    new: NewSide
    is_same_release: bool = False
    is_trusted: bool = False

    def consequence(self, olds: Sequence[str], news: Sequence[str]) -> tuple[Consequence, str | None]:
        """The consequence that is stated for these parameters, the worst if several, and its words."""
        definitions = [self.old.definition(name) for name in olds] + [
            self.new.definition(name) for name in news
        ]
        return stated_consequence(definitions)

    def left(self, key: Key, value: str | None) -> Left:
        """A setting of the new side with its factory value beside it."""
        return Left(key, value, self.new.factory(key))


def stated_consequence(definitions: Sequence[ParameterDef]) -> tuple[Consequence, str | None]:
    """Worst stated consequence; unknown only where no definition states one."""
    stated = [d for d in definitions if d.consequence is not Consequence.UNKNOWN]
    if not stated:
        return Consequence.UNKNOWN, None
    top = worst(*(d.consequence for d in stated))
    return top, next((d.consequence_why for d in stated if d.consequence is top and d.consequence_why), None)


def make_line(
    disposition: Disposition,
    old: Sequence[Found],
    new: Sequence[Left],
    *,
    why: str,
    basis: Basis,
    consequence: tuple[Consequence, str | None],
    cause: Cause | None = None,
    detail: str = "",
    options: tuple[Option, ...] = (),
    candidates: tuple[tuple[str, float], ...] = (),
    steps: tuple[str, ...] = (),
    copied: str | None = None,
) -> Line:
    """A line with its identifier."""
    return Line(
        id=line_id([item.key for item in old], [item.key for item in new]),
        disposition=disposition,
        old=tuple(old),
        new=tuple(new),
        why=why,
        basis=basis,
        consequence=consequence[0],
        consequence_why=consequence[1],
        cause=cause,
        cause_detail=detail,
        options=options,
        candidates=candidates,
        steps=steps,
        copied=copied,
    )
