"""Names with the placeholder ``{n}`` of the parameter metadata standard: one entry for many parameters."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from asflown.core.catalog import ParameterDef

MARK = "{n}"


def numbers(name: str, names: Iterable[str]) -> tuple[str, ...]:
    """The numbers that stand for the placeholder in the names it fits, in their order.

    Examples
    --------
    >>> numbers("HULL{n}_LOAD", ["HULL2_LOAD", "HULL_LOAD", "HULL10_LOAD"])
    ('2', '10')
    """
    if MARK not in name:
        return ()
    first, *rest = map(re.escape, name.split(MARK))
    pattern = re.compile(
        first + "".join((r"(?P<n>[0-9]+)" if i == 0 else r"(?P=n)") + p for i, p in enumerate(rest))
    )
    return tuple(match["n"] for match in map(pattern.fullmatch, names) if match)


def expanded(parameter: ParameterDef, found: Iterable[str]) -> tuple[ParameterDef, ...]:
    """One definition for each number; the entry itself where there is none.

    Texts that name parameters (``needs``, ``unit_from``) follow with the same number.
    """
    made = tuple(_one(parameter, number) for number in found)
    return made or (parameter,)


def _one(parameter: ParameterDef, number: str) -> ParameterDef:
    return replace(
        parameter,
        name=parameter.name.replace(MARK, number),
        needs=tuple(name.replace(MARK, number) for name in parameter.needs),
        unit_from=parameter.unit_from.replace(MARK, number) if parameter.unit_from else None,
        indexes=(),
    )
