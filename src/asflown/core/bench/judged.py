"""Values read at the bench, held against what the card expects of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from asflown.core.cards import Agree, Card, Measure
from asflown.core.refit import Reading
from asflown.core.values import number, same_value


@dataclass(frozen=True, slots=True)
class Judged:
    """One box of a card.

    Attributes
    ----------
    reading
        ``None`` where nothing was read.
    expected
        In words; empty where the card expects no number.
    is_as_expected
        ``None`` where nothing was read, or nothing is expected.
    """

    measure: Measure
    reading: Reading | None
    expected: str
    is_as_expected: bool | None


def judged(card: Card, readings: Iterable[Reading]) -> tuple[Judged, ...]:
    """Every box of a card with what was read, in the card's order."""
    by_what = {reading.what: reading for reading in readings}
    return tuple(_judged(measure, card, by_what) for measure in card.all_measures)


def _judged(measure: Measure, card: Card, by_what: dict[str, Reading]) -> Judged:
    reading = by_what.get(measure.what)
    expected = "; ".join(_expected(measure, card.agree, over_link=reading is None or reading.over_link))
    if reading is None:
        return Judged(measure, None, expected, None)
    answers = [answer for answer in _answers(measure, reading, card.agree, by_what) if answer is not None]
    return Judged(measure, reading, expected, all(answers) if answers else None)


def _expected(measure: Measure, agree: Sequence[Agree], *, over_link: bool) -> Iterator[str]:
    unit = f" {measure.unit}" if measure.unit else ""
    if measure.setting and measure.planned is not None:
        yield f"{measure.planned}{unit}"
    span = measure.expects or (measure.expects_live if over_link else None)
    if span is not None:
        low, high = (f"{end:.4g}".replace("-", "−") for end in (span.low, span.high))
        yield f"{low} to {high}{unit}"
    for one in agree:
        if one.second == measure.what:
            yield f"within {one.within:g}{unit} of {one.first}"
    if measure.live == "channels" and over_link:
        yield "one channel moves, and no other"


def _answers(
    measure: Measure, reading: Reading, agree: Sequence[Agree], by_what: dict[str, Reading]
) -> Iterator[bool | None]:
    if measure.setting and measure.planned is not None:
        yield same_value(reading.value, measure.planned, None)
    if measure.live == "channels" and reading.over_link:
        yield reading.value.count("channel ") == 1
        return
    value = amount(reading)
    span = measure.expects or (measure.expects_live if reading.over_link else None)
    if span is not None:
        yield None if value is None else span.low <= value <= span.high
    for one in agree:
        if one.second == measure.what and one.first in by_what and value is not None:
            first = amount(by_what[one.first])
            # a difference of two decimal readings: not a hair more than the last place of a float
            yield None if first is None else abs(first - value) <= one.within * (1 + 1e-9)


def amount(reading: Reading) -> float | None:
    """A reading as a number, ``None`` where it is words."""
    read = number(reading.value.replace("−", "-").replace(",", "."))
    value = None if read is None else float(read)
    return value if value is not None and math.isfinite(value) else None


def contradicted(card: Card, readings: Iterable[Reading]) -> tuple[Judged, ...]:
    """The boxes whose value is not as expected."""
    return tuple(one for one in judged(card, readings) if one.is_as_expected is False)
