"""New parameters that no found setting goes into."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Left, Line, Option
from asflown.core.carry.frame import Frame, make_line
from asflown.core.carry.options import describe
from asflown.core.catalog import Consequence
from asflown.core.record import Key


def lines_for_new(
    frame: Frame, taken: Collection[Key], claims: Mapping[str, str], kept: Mapping[Key, str]
) -> tuple[Line, ...]:
    """One line for each setting of the new release that no line leaves a value at.

    Parameters
    ----------
    taken
        Keys that other lines fill.
    claims
        New name to the old name that an open proposal would put there; such a line is not asked twice.
    kept
        Values the aircraft keeps of its own (a sister copy leaves what belongs to the individual).
    """
    return tuple(_line(frame, key, claims, kept) for key in frame.new.keys if key not in taken)


def _line(frame: Frame, key: Key, claims: Mapping[str, str], kept: Mapping[Key, str]) -> Line:
    definition = frame.new.definition(key.name)
    factory = frame.new.factory(key)
    consequence = frame.consequence([], [key.name])
    if key in kept:
        why = f"stays as it is on this aircraft: {describe(kept[key], definition)}"
        return _adopted(frame.left(key, kept[key]), why, Basis.BELONGING, consequence)
    text = describe(factory, definition)
    if definition.redo:
        why = f"must be done on the aircraft: {definition.redo}"
        return make_line(
            Disposition.REDO,
            [],
            [frame.left(key, None)],
            why=why,
            basis=Basis.CATALOG,
            consequence=consequence,
        )
    if key.name in claims:
        why = f"factory value {text}, unless it is the successor of {claims[key.name]}"
        return _adopted(frame.left(key, factory), why, Basis.FACTORY, consequence)
    if definition.read_only or definition.volatile or frame.is_same_release:
        return _adopted(frame.left(key, factory), f"factory value {text}", Basis.FACTORY, consequence)
    if not consequence[0].is_risky and factory is not None:
        return _adopted(frame.left(key, factory), f"new; factory value {text}", Basis.FACTORY, consequence)
    why = f"new in this release; factory value {text}"
    return make_line(
        Disposition.DECIDE,
        [],
        [frame.left(key, None)],
        why=why,
        basis=Basis.FACTORY,
        consequence=consequence,
        cause=Cause.NEW,
        options=_options(key, factory, text),
    )


def _adopted(left: Left, why: str, basis: Basis, consequence: tuple[Consequence, str | None]) -> Line:
    return make_line(Disposition.ADOPT, [], [left], why=why, basis=basis, consequence=consequence)


def _options(key: Key, factory: str | None, text: str) -> tuple[Option, ...]:
    typed = Option("value", "set a value of your own", Disposition.ADOPT, (Left(key, None, factory),))
    label = f"leave it at its factory value: {text}"
    left = (Left(key, factory, factory),)
    return (Option("factory", label, Disposition.ADOPT, left, is_recommended=True), typed)
