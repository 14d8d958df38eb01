"""Layouts of logs (TOML): which column is which signal, in which unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asflown.core.columns.kinds import kind_of
from asflown.core.columns.log_units import unit_of, words_possible
from asflown.core.layout import Assignment, Doubt, Layout
from asflown.errors import Fault, InputError
from asflown.formats.hand_written import checked, load_toml, toml_lines
from asflown.formats.notes import toml_text

if TYPE_CHECKING:
    from asflown.formats.schemas import LayoutColumn


def read_layout(text: str, where: str) -> Layout:
    """Read a layout.

    A line without ``factor`` takes factor and offset from its unit.

    Raises
    ------
    InputError
        With every fault and its line.
    """
    from asflown.formats.schemas import LayoutFile

    data = text.encode("utf-8", "surrogatepass")
    lines = toml_lines(data)
    written = checked(LayoutFile, load_toml(data, where), where, lines)
    faults: list[Fault] = []
    made: list[Assignment] = []
    for number, column in enumerate(written.column):
        found = _assignment(column)
        if found is None:
            line = lines.get(("column", number, "unit"))
            possible = ", ".join(words_possible(kind_of(column.signal)))
            place = f"{where}:{line} column[{number + 1}].unit" if line else where
            faults.append(
                Fault(f"'{column.unit}' is no unit of {column.signal}; possible: {possible}", place)
            )
        else:
            made.append(found)
    if faults:
        raise InputError(
            f"{len(faults)} thing{'s' if len(faults) > 1 else ''} to correct",
            where=where,
            faults=tuple(faults),
            next_step="write one of the units, or the factor",
        )
    return Layout(
        written.fingerprint,
        tuple(made),
        tuple(written.unused),
        tuple(Doubt(d.subject, d.question, tuple(d.choices), d.why) for d in written.doubt),
        written.confirmed,
        written.rate_filter,
    )


def _assignment(line: LayoutColumn) -> Assignment | None:
    factor, offset = line.factor, line.offset
    if factor is None:
        unit = unit_of(kind_of(line.signal), line.unit)
        if unit is None or not unit.is_known:
            return None
        factor, offset = unit.factor, unit.offset if offset is None else offset
    return Assignment(
        line.column,
        line.signal,
        line.unit,
        factor,
        offset or 0.0,
        line.origin,
        line.certainty,
        tuple(line.reasons),
    )


def write_layout(layout: Layout) -> str:
    """Write a layout; it reads back equal.

    Examples
    --------
    >>> print(write_layout(Layout("0" * 16, (Assignment("t", "time", "us", 1e-06),))).splitlines()[-3])
    factor = 1e-06
    """
    lines = [
        "# Which column of a log is which signal. SI value = (number - offset) * factor.",
        f"fingerprint = {toml_text(layout.fingerprint)}",
        f"confirmed = {'true' if layout.is_confirmed else 'false'}",
    ]
    if layout.rate_filter is None:
        lines.append('# rate_filter = "none"  # filtering of the logged rates; not stated')
    else:
        lines.append(f"rate_filter = {toml_text(layout.rate_filter)}")
    lines.append(f"unused = {_list(layout.unused)}")
    for line in layout.assignments:
        lines += ["", "[[column]]", *_assignment_lines(line)]
    for doubt in layout.doubts:
        lines += ["", "[[doubt]]"]
        lines += [f"{key} = {toml_text(getattr(doubt, key))}" for key in ("subject", "question", "why")]
        lines.append(f"choices = {_list(doubt.choices)}")
    return "\n".join(lines) + "\n"


def _assignment_lines(line: Assignment) -> list[str]:
    made = [f"{key} = {toml_text(getattr(line, key))}" for key in ("column", "signal", "unit")]
    made.append(f"factor = {line.factor!r}")
    if line.offset:
        made.append(f"offset = {line.offset!r}")
    made += [f"origin = {toml_text(line.origin.value)}", f"certainty = {line.certainty!r}"]
    if line.reasons:
        made.append(f"reasons = {_list(line.reasons, line_each=True)}")
    return made


def _list(texts: tuple[str, ...], *, line_each: bool = False) -> str:
    if line_each and len(texts) > 1:
        return "[\n" + "".join(f"    {toml_text(text)},\n" for text in texts) + "]"
    return "[" + ", ".join(toml_text(text) for text in texts) + "]"
