"""One parameter of the invented firmware, and the tables parameters are written in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from asflown.core.record import Key

#: Bits of the integer storage words.
WIDTHS = {"u8": 8, "i8": 8, "u16": 16, "i16": 16, "u32": 32, "i32": 32}


@dataclass(frozen=True)
class Parameter:
    """A parameter as the firmware holds it.

    Attributes
    ----------
    type
        ``u8`` … ``i32``, ``f<digits>`` (a 32-bit float printed with so many digits after the point), or
        ``word`` (one of the choices, typed as a word).
    default
        Factory values, one per bank (or one for all).
    choices, bits, plain
        Value (or bit number) to its meaning.
    redo
        How the value is made on the aircraft.
    clips
        Whether the firmware stores the nearest allowed value instead of refusing (and says so).
    asks
        What must hold of other settings before a value is taken: ``("over", name)``: it is more than that
        setting's value; ``("on", name)``: a value other than 0 is taken only while that setting is not 0.
    """

    name: str
    group: str
    type: str
    default: tuple[str, ...]
    low: Decimal
    high: Decimal
    unit: str
    consequence: str
    belonging: str
    text: str
    choices: Mapping[str, str]
    bits: Mapping[str, str]
    plain: Mapping[str, str]
    why: str | None = None
    role: str | None = None
    factor: str | None = None
    unit_from: str | None = None
    slots: bool = False
    redo: str | None = None
    needs: tuple[str, ...] = ()
    banks: tuple[str, ...] = ()
    indexes: tuple[str, ...] = ()
    private: bool = False
    read_only: bool = False
    volatile: bool = False
    reboot: bool = False
    clips: bool = False
    asks: tuple[tuple[str, str], ...] = ()

    @property
    def is_float(self) -> bool:
        """Whether it is stored as a 32-bit float."""
        return self.type[0] == "f"

    @property
    def decimals(self) -> int:
        """Digits after the point as printed."""
        return int(self.type[1:]) if self.is_float else 0

    @property
    def bounds(self) -> tuple[Decimal, Decimal]:
        """Least and most the storage word holds (floats: the stated range)."""
        if self.is_float or self.type == "word":
            return self.low, self.high
        bits = WIDTHS[self.type]
        if self.type[0] == "u":
            return Decimal(0), Decimal(2**bits - 1)
        return Decimal(-(2 ** (bits - 1))), Decimal(2 ** (bits - 1) - 1)

    def keys(self) -> tuple[Key, ...]:
        """Every setting it stands for."""
        banks: tuple[str | None, ...] = self.banks or (None,)
        indexes: tuple[str | None, ...] = self.indexes or (None,)
        return tuple(Key(self.name, bank, index) for bank in banks for index in indexes)

    def factory(self, key: Key) -> str:
        """The factory value of one of its settings."""
        places = self.banks or self.indexes
        if len(self.default) == 1 or not places:
            return self.printed(self.default[0])
        return self.printed(self.default[places.index((key.bank if self.banks else key.index) or "")])

    def printed(self, value: str) -> str:
        """A value as the terminal prints it: floats with all their digits after the point."""
        return f"{Decimal(value):.{self.decimals}f}" if self.is_float else value

    def meaning(self, value: str) -> str:
        """A value in words: its choice, its bits, its plain meaning, or the number with its unit."""
        named = self.choices.get(value) or self.plain.get(value)
        if named is not None:
            return named
        if self.bits and value.isdecimal():
            on = [label for bit, label in self.bits.items() if int(value) >> int(bit) & 1]
            return ", ".join(on) or "none"
        return f"{value} {spoken(self.unit)}".strip()


_SPOKEN = {
    "0.1s": "tenths of a second",
    "0.1V": "tenths of a volt",
    "0.01V": "hundredths of a volt",
    "0.1Hz": "tenths of a hertz",
    "0.1deg": "tenths of a degree",
}


def spoken(unit: str) -> str:
    """A unit as people say it."""
    return _SPOKEN.get(unit, unit)


def labels(text: str) -> dict[str, str]:
    """``"0 off, 1 on"`` as a mapping."""
    pairs = (part.strip().partition(" ") for part in text.split(",") if part.strip())
    return {value: label for value, _, label in pairs}


def table(group: str, usual: str, text: str, *, banks: tuple[str, ...] = ()) -> tuple[Parameter, ...]:
    """Read a table of parameters.

    Parameters
    ----------
    usual
        Consequence and belonging where a row states none, e.g. ``handling airframe``.
    text
        Rows ``name | type | default | low..high | unit | consequence belonging | description``.
        ``{a,b}`` in a name makes one parameter each, ``*`` in the description is that word; several
        defaults stand between blanks, one for each.
    """
    rows = [line for line in text.strip().splitlines() if line.strip()]
    return tuple(parameter for row in rows for parameter in _row(group, usual, row, banks))


def _row(group: str, usual: str, row: str, banks: tuple[str, ...]) -> Iterator[Parameter]:
    name, kind, default, span, unit, what, words = (cell.strip() for cell in row.split("|"))
    head, braced, rest = name.partition("{")
    inner, _, tail = rest.partition("}")
    members = inner.split(",") if braced else [""]
    defaults = default.split() if braced else []
    low, _, high = span.partition("..")
    consequence, belonging = (what or usual).split()
    for number, member in enumerate(members):
        own = (defaults[number % len(defaults)],) if defaults else tuple(default.split())
        yield Parameter(
            f"{head}{member}{tail}",
            group,
            kind,
            own,
            Decimal(low),
            Decimal(high),
            unit,
            consequence,
            belonging,
            words.replace("*", member),
            {},
            {},
            {},
            banks=banks,
        )


def with_facts(
    parameters: Iterable[Parameter], facts: Mapping[str, Mapping[str, Any]]
) -> tuple[Parameter, ...]:
    """Lay facts that no table column holds over parameters; texts of choices and bits are read."""
    return tuple(_with(parameter, facts.get(parameter.name, {})) for parameter in parameters)


def _with(parameter: Parameter, facts: Mapping[str, Any]) -> Parameter:
    read: dict[str, Any] = {
        word: labels(value) if word in ("choices", "bits", "plain") else value
        for word, value in facts.items()
    }
    return replace(parameter, **read)
