"""Propose which column is which signal in which unit."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from asflown.core.columns.assume import understand
from asflown.core.columns.evidence_of_data import say_data
from asflown.core.columns.ledger import Ledger
from asflown.core.columns.names import read_names
from asflown.core.columns.said import say_names
from asflown.core.columns.settle import settle
from asflown.core.layout import Layout
from asflown.core.log_table import LogTable


def propose(
    table: LogTable, *, assume: Mapping[str, str] = MappingProxyType({}), is_at_rest: bool = False
) -> Layout:
    """Propose a layout for a person to confirm.

    Parameters
    ----------
    assume
        What a person stated, by signal or family: a column name or a unit (``{"rate": "deg/s"}``).
    is_at_rest
        It was logged on the ground: how fast a flight turns tells no unit of its rates.

    Returns
    -------
    Layout
        Only what is settled; what is not stands in its doubts, with choices.

    Raises
    ------
    InputError
        For a statement about no signal, or with neither a column nor a unit.
    """
    stated = understand(assume, table)
    ledger = Ledger()
    readings = read_names(table.columns)
    say_names(ledger, table.columns, readings)
    places = {column.name: place for place, column in reversed(list(enumerate(table.columns)))}
    for name, column in stated.columns.items():
        if column in places:
            ledger.name(places[column], name, 30.0, "a person stated it")
    say_data(ledger, table, readings, stated, is_at_rest=is_at_rest)
    return settle(ledger, table, stated)
