"""The looks at the data in their order: time first, as lags need it; units last, as they need the sets."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.columns.assume import Stated
from asflown.core.columns.contradictions import contradictions
from asflown.core.columns.data_accel import say_accel, say_sign_of_z
from asflown.core.columns.data_commands import say_spans
from asflown.core.columns.data_control import say_control
from asflown.core.columns.data_electric import say_electric
from asflown.core.columns.data_motors import say_motors
from asflown.core.columns.data_pairs import say_pairs
from asflown.core.columns.data_rates import say_against_attitude, say_named_pairs
from asflown.core.columns.data_time import ask_for_time, row_step, say_time
from asflown.core.columns.data_units import say_units
from asflown.core.columns.ledger import STATED_UNIT, Ledger
from asflown.core.columns.names import NameReading
from asflown.core.columns.open_columns import scene
from asflown.core.columns.sample import take_sample
from asflown.core.columns.spectra import together
from asflown.core.log_table import LogTable


def _few_words(ledger: Ledger, table: LogTable) -> None:
    """A column of few words fits a label that its name speaks for."""
    for (place, name), weight in list(ledger.weights.items()):
        words = table.columns[place].words
        if weight > 0 and name in ("mode", "armed", "failsafe", "event") and words:
            few = len(set(words[:: max(1, len(words) // 2000)]))
            if few <= 12 or name == "event":
                ledger.data(place, name, 0.8, f"it holds {few} different words")


def say_data(
    ledger: Ledger,
    table: LogTable,
    readings: Sequence[NameReading],
    stated: Stated,
    *,
    is_at_rest: bool = False,
) -> None:
    """Enter what the data say."""
    sample = take_sample(table)
    say_time(ledger, table.columns, sample)
    _few_words(ledger, table)
    if not stated.columns.get("time"):
        ask_for_time(ledger)
    if sample is None:
        return
    unit = stated.unit("time")
    step = row_step(ledger, sample, unit.factor if unit else None)
    tied = together(sample, step)
    seen = scene(ledger, table.columns, readings, sample, tied)
    for look in (say_motors, say_electric, say_pairs, say_control, say_accel, say_sign_of_z):
        look(seen)
    say_units(ledger, sample, step, is_at_rest=is_at_rest)
    say_spans(ledger, sample)
    say_against_attitude(ledger, table.columns, sample, tied)
    say_named_pairs(ledger, table.columns, sample, tied)
    held = {key: word for key, word in ledger.stated.items() if stated.unit(key[1]) is None}
    for doubt in contradictions(ledger, table.columns, held, STATED_UNIT, "the header or name"):
        ledger.doubt(doubt)
