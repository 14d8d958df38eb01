"""The options the commands of a flight share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asflown.errors import UsageError

if TYPE_CHECKING:
    from asflown.app.flights.open_log import Said


@Parameter(name="*")
@dataclass(frozen=True)
class Columns:
    """What is said about a log's columns.

    Attributes
    ----------
    layout
        A layout file.
    assume
        Statements SIGNAL=UNIT or SIGNAL=COLUMN.
    """

    layout: Annotated[
        str | None,
        Parameter(
            name="--layout",
            help="A layout file that says which column is which signal (see --save-layout).",
            show_default=False,
        ),
    ] = None
    assume: Annotated[
        tuple[str, ...],
        Parameter(
            name="--assume",
            consume_multiple=True,
            negative=(),
            help="What a column is or its unit: rate=deg/s motor.1=OUT_A time='1000 Hz' …",
            show_default=False,
        ),
    ] = ()


@Parameter(name="*")
@dataclass(frozen=True)
class FlownIn:
    """The conditions a flight was flown in: they confound a comparison, so they are kept with it.

    Attributes
    ----------
    pack, propellers, wind, temperature, pressure, altitude, place, pilot, day
        As a person says them.
    """

    pack: Annotated[str | None, Parameter(help="Which pack.", show_default=False)] = None
    propellers: Annotated[str | None, Parameter(help="Which propellers.", show_default=False)] = None
    wind: Annotated[str | None, Parameter(help="Mean wind, m/s or with a unit.", show_default=False)] = None
    temperature: Annotated[
        str | None, Parameter(help="Air temperature, degC or with a unit.", show_default=False)
    ] = None
    pressure: Annotated[
        str | None, Parameter(help="Air pressure, hPa or with a unit.", show_default=False)
    ] = None
    altitude: Annotated[
        str | None, Parameter(help="Height of the place, m or with a unit.", show_default=False)
    ] = None
    place: Annotated[str | None, Parameter(help="Where it was flown.", show_default=False)] = None
    pilot: Annotated[str | None, Parameter(help="Who flew.", show_default=False)] = None
    day: Annotated[str | None, Parameter(help="When it was flown.", show_default=False)] = None


NO_COLUMNS, NOT_STATED = Columns(), FlownIn()


def said(columns: Columns) -> Said:
    """What was said about the columns, the layout file read."""
    from asflown.app.flights.open_log import Said
    from asflown.faces.wiring import read_file

    layout = None
    if columns.layout is not None:
        data, name = read_file(columns.layout)
        layout = (data.decode("utf-8-sig", "surrogateescape"), name)
    return Said(assumed(columns.assume), layout)


def assumed(statements: tuple[str, ...]) -> dict[str, str]:
    """Statements by signal.

    Raises
    ------
    UsageError
        When one is no SIGNAL=UNIT.
    """
    made = {}
    for text in statements:
        key, sign, value = text.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise UsageError(f"{text!r} is no SIGNAL=UNIT", next_step="write e.g. --assume rate=deg/s")
        made[key.strip()] = value.strip()
    return made


def flown_in(conditions: FlownIn) -> Mapping[str, str]:
    """The conditions that were said, by their word."""
    return {word: text for word, text in vars(conditions).items() if text is not None}
