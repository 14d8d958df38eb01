"""The ways an open line can be settled, in words with their values."""

from __future__ import annotations

from collections.abc import Sequence

from asflown.core.carry.dispositions import Disposition, Left, Option
from asflown.core.catalog import ParameterDef, ValueKind
from asflown.core.record import Key


def describe(value: str | None, definition: ParameterDef) -> str:
    """A value with its unit and what it means, e.g. ``3 (climb and hold)`` or ``300 ms``."""
    if value is None:
        return "not stated"
    label = definition.choice_label(value)
    if definition.bits:
        label = _bit_labels(value, definition)
    if label:
        return f"{value} ({label})"
    if definition.unit and definition.kind is not ValueKind.TEXT:
        return f"{value} {definition.unit}"
    return value or "(empty)"


def _bit_labels(value: str, definition: ParameterDef) -> str | None:
    if not value.isdecimal():
        return None
    number = int(value)
    labels = [bit.label for bit in definition.bits if bit.value.isdecimal() and number >> int(bit.value) & 1]
    return ", ".join(labels) if labels else ("none set" if number == 0 else None)


class Options:
    """Collects the options of one open line.

    Parameters
    ----------
    found
        Key and value on the old side.
    target
        Where the value would go; ``None`` while that is the question.
    definition
        The new parameter.
    """

    def __init__(
        self, found: Key, value: str, target: Key | None, factory: str | None, definition: ParameterDef
    ) -> None:
        self.found, self.value, self.target = found, value, target
        self.factory, self.definition = factory, definition
        self._made: list[Option] = []

    def _left(self, value: str | None, target: Key | None = None) -> tuple[Left, ...]:
        place = target or self.target
        return (Left(place, value, self.factory),) if place is not None else ()

    def _kind(self, value: str | None) -> Disposition:
        if value != self.value:
            return Disposition.CONVERT
        return Disposition.KEEP if self.target and self.target.name == self.found.name else Disposition.RENAME

    def add(self, identifier: str, label: str, value: str | None, *, recommended: bool = False) -> Options:
        """An option that leaves this value at the target."""
        self._made.append(
            Option(identifier, label, self._kind(value), self._left(value), is_recommended=recommended)
        )
        return self

    def keep(self, *, recommended: bool = False) -> Options:
        """Leave the number as it was found."""
        text = describe(self.value, self.definition)
        return self.add("keep", f"keep the number: {text}", self.value, recommended=recommended)

    def take_factory(self, *, recommended: bool = False) -> Options:
        """Take the new release's factory value, where it is stated."""
        if self.factory is None or self.factory == self.value:
            return self
        text = describe(self.factory, self.definition)
        return self.add(
            "factory", f"take the new factory value: {text}", self.factory, recommended=recommended
        )

    def typed(self) -> Options:
        """A value the person types."""
        return self.add("value", "set a value of your own", None)

    def split(self, left: Sequence[Left], value: str) -> Options:
        """The same value at several new settings."""
        names = ", ".join(str(item.key) for item in left)
        label = f"it became {names}: {value} in each"
        self._made.append(Option("split", label, Disposition.SPLIT, tuple(left)))
        return self

    def retire(self, *, recommended: bool = False) -> Options:
        """Leave it behind."""
        self._made.append(
            Option("retire", "leave it behind", Disposition.RETIRE, (), is_recommended=recommended)
        )
        return self

    def take(self, other: Options) -> Options:
        """Add the options of another target."""
        self._made += other._made
        return self

    def made(self) -> tuple[Option, ...]:
        """The options, recommended first."""
        return tuple(sorted(self._made, key=lambda option: not option.is_recommended))
