"""What may be carried to another board or another aircraft: each parameter's belonging decides."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from asflown.core.carry.dispositions import Basis, Cause, Disposition, Line, Option
from asflown.core.carry.frame import Frame
from asflown.core.catalog import Belonging
from asflown.core.plan import Purpose

#: What stays behind when a proven set-up is copied to a sister aircraft.
INDIVIDUAL = frozenset({Belonging.WIRING, Belonging.BOARD, Belonging.DEVICE, Belonging.PLACE})


def belonging_of(frame: Frame, line: Line) -> Belonging:
    """The stated belonging of a line's parameters; the old definition first."""
    definitions = [frame.old.definition(item.key.name) for item in line.old]
    definitions += [frame.new.definition(item.key.name) for item in line.new]
    return next((d.belonging for d in definitions if d.belonging is not Belonging.UNKNOWN), Belonging.UNKNOWN)


def is_individual(frame: Frame, line: Line) -> bool:
    """Whether a setting stays with its aircraft: by what it belongs to, or because it is private."""
    if belonging_of(frame, line) in INDIVIDUAL:
        return True
    definitions = [frame.old.definition(item.key.name) for item in line.old]
    return any(d.private for d in (*definitions, *(frame.new.definition(i.key.name) for i in line.new)))


def rebelong(frame: Frame, lines: Iterable[Line], purpose: Purpose) -> tuple[Line, ...]:
    """Apply the rules of a new board or a sister aircraft to drafted lines."""
    if purpose is Purpose.REFIT:
        return tuple(lines)
    return tuple(
        line
        if line.disposition in (Disposition.REDO, Disposition.RETIRE) or line.is_new_only
        else _new_board(line, belonging_of(frame, line))
        if purpose is Purpose.NEW_BOARD
        else _sister(line, belonging_of(frame, line), stays=is_individual(frame, line))
        for line in lines
    )


def _new_board(line: Line, belonging: Belonging) -> Line:
    if belonging is Belonging.BOARD:
        why = "belongs to the board that was replaced; find the new board's value on the aircraft"
        return _redo(line, why)
    if belonging is Belonging.WIRING:
        return _asked(line, Cause.WIRING, "wiring of the old board; the new board may be wired differently")
    if belonging is Belonging.UNKNOWN:
        return _asked(line, Cause.OWNER_UNKNOWN, "not stated whether it belongs to the board or the airframe")
    return line


def _sister(line: Line, belonging: Belonging, *, stays: bool) -> Line:
    if stays:
        whose = belonging if belonging in INDIVIDUAL else "private"
        return replace(
            line,
            disposition=Disposition.RETIRE,
            new=(),
            cause=None,
            options=(),
            basis=Basis.BELONGING,
            why=f"belongs to the individual ({whose}); stays behind",
            copied=None,
        )
    if belonging is Belonging.UNKNOWN:
        return _asked(line, Cause.OWNER_UNKNOWN, "not stated whether it belongs to the individual aircraft")
    return line


def _redo(line: Line, why: str) -> Line:
    new = tuple(replace(item, value=None) for item in line.new)
    return replace(
        line, disposition=Disposition.REDO, new=new, cause=None, options=(), why=why, basis=Basis.BELONGING
    )


def _asked(line: Line, cause: Cause, why: str) -> Line:
    """Open a line whose value is known, offering to carry it or to leave the factory value."""
    if line.is_open:
        return replace(line, why=f"{line.why}; {why}")
    value = ", ".join(item.value or "" for item in line.new)
    carry = Option("keep", f"carry it over: {value}", line.disposition, line.new)
    factory = tuple(replace(item, value=item.factory) for item in line.new)
    options = [carry]
    if factory and all(item.value is not None for item in factory):
        label = f"leave the factory value: {', '.join(item.value or '' for item in factory)}"
        options.append(Option("factory", label, Disposition.CONVERT, factory))
    open_new = tuple(replace(item, value=None) for item in line.new)
    options.append(Option("value", "set a value of your own", Disposition.CONVERT, open_new))
    return replace(
        line,
        disposition=Disposition.DECIDE,
        new=open_new,
        cause=cause,
        cause_detail="",
        options=tuple(options),
        basis=Basis.BELONGING,
        why=why,
    )
