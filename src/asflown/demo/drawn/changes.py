"""What may become of a parameter in a drawn new release, with the whole truth of it."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from asflown.core.catalog import ChangeNote, ConversionSpec, NoteKind
from asflown.core.record import Key
from asflown.demo.drawn.parameters import draw_value
from asflown.demo.firmware.parameter import Parameter


@dataclass(frozen=True)
class Became:
    """What became of one old parameter, or of two that were joined.

    Attributes
    ----------
    kind
        ``same``, ``rename``, ``convert``, ``split``, ``merge``, ``retire``, ``default`` or ``meaning``.
    new
        The definitions now; none where it is gone.
    factor, choices, bit_moves
        How the number moved: ``new = old * factor``; old value to new; old bit to new bit.
    note
        What the change notes say, where they could say it.
    is_noted
        Whether they do.
    """

    kind: str
    old: tuple[Parameter, ...]
    new: tuple[Parameter, ...] = ()
    factor: Decimal = Decimal(1)
    choices: Mapping[str, str] = field(default_factory=dict)
    bit_moves: Mapping[int, int] = field(default_factory=dict)
    note: ChangeNote | None = None
    is_noted: bool = False

    def right(self, values: Mapping[Key, str]) -> Mapping[Key, str]:
        """The new values that mean what the old ones meant; none where it is gone or means another thing."""
        if self.kind in ("retire", "meaning"):
            return {}
        made: dict[Key, str] = {}
        for key in self.old[0].keys():
            texts = [values[Key(item.name, key.bank, key.index)] for item in self.old]
            for item in self.new:
                made[Key(item.name, key.bank, key.index)] = self._moved(texts, item)
        return made

    def _moved(self, texts: list[str], new: Parameter) -> str:
        if len(texts) > 1:
            return new.printed(str(sum(Decimal(text) for text in texts)))
        text = texts[0]
        if self.choices:
            return self.choices[text]
        if self.bit_moves:
            return str(sum(1 << there for here, there in self.bit_moves.items() if int(text) >> here & 1))
        if self.factor == 1 or text in self.old[0].plain:
            return text
        return new.printed(str(Decimal(text) * self.factor))


Maker = Callable[[random.Random, Parameter, Callable[[], str]], Became]


def same(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """Nothing changed."""
    return Became("same", (old,), (old,))


def rename(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """Another name."""
    new = replace(old, name=fresh())
    return Became("rename", (old,), (new,), note=ChangeNote(NoteKind.RENAME, (old.name,), (new.name,)))


def retire(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """Gone."""
    note = ChangeNote(NoteKind.RETIRE, (old.name,), why="nothing reads it any more")
    return Became("retire", (old,), note=note)


def default(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """Another factory value."""
    if old.asks:
        return same(rng, old, fresh)
    new = replace(old, default=(draw_value(rng, old),))
    return Became("default", (old,), (new,), note=ChangeNote(NoteKind.DEFAULT, (old.name,)))


def meaning(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """The same name and form, another meaning; only the notes tell."""
    note = ChangeNote(NoteKind.MEANING, (old.name,), why="counted from the other end")
    return Became("meaning", (old,), (replace(old, text=f"{old.text}, from the other end"),), note=note)


def convert(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """The number moved: renumbered choices, moved bits, or another scale."""
    if old.type == "word":
        return rename(rng, old, fresh)
    if old.choices:
        return _renumbered(rng, old)
    return _moved_bits(rng, old) if old.bits else _scaled(rng, old, fresh)


def _renumbered(rng: random.Random, old: Parameter) -> Became:
    order = list(old.choices)
    rng.shuffle(order)
    moves = dict(zip(old.choices, order, strict=True))
    labels = {moves[value]: label for value, label in old.choices.items()}
    new = replace(old, choices=dict(sorted(labels.items())), default=(moves[old.default[0]],))
    spec = ConversionSpec(choices=moves)
    note = ChangeNote(NoteKind.CONVERT, (old.name,), (old.name,), spec)
    return Became("convert", (old,), (new,), choices=moves, note=note)


def _moved_bits(rng: random.Random, old: Parameter) -> Became:
    order = [int(bit) for bit in old.bits]
    rng.shuffle(order)
    moves = dict(zip((int(bit) for bit in old.bits), order, strict=True))
    labels = {str(moves[int(bit)]): label for bit, label in old.bits.items()}
    made = Became("convert", (old,), (old,), bit_moves=moves)
    new = replace(old, bits=dict(sorted(labels.items())), default=(made._moved([old.default[0]], old),))
    return replace(made, new=(new,))


#: Unit before and now, with the factor between.
_UNITS = {"s": ("ms", "1000"), "V": ("mV", "1000"), "m": ("cm", "100")}


def _scaled(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    unit, factor = _UNITS.get(old.unit, (old.unit, "16"))
    by = Decimal(factor)
    kind = old.type if old.is_float else "i32"
    name = fresh() if rng.random() < 0.3 else old.name
    new = replace(old, name=name, type=kind, unit=unit, low=old.low * by, high=old.high * by)
    new = replace(new, default=(new.printed(_times(old.default[0], by, old)),))
    told_by_unit = unit != old.unit and rng.random() < 0.5
    spec = ConversionSpec(unit_from=old.unit, unit_to=unit) if told_by_unit else ConversionSpec(factor=by)
    note = ChangeNote(NoteKind.CONVERT, (old.name,), (name,), spec)
    return Became("convert", (old,), (new,), factor=by, note=note)


def _times(text: str, factor: Decimal, old: Parameter) -> str:
    made = Decimal(text) * factor
    return f"{made:f}" if old.is_float else str(int(made))


def split(rng: random.Random, old: Parameter, fresh: Callable[[], str]) -> Became:
    """Two settings take the place of one, both with its value."""
    if old.type == "word" or old.choices or old.plain:
        return rename(rng, old, fresh)
    new = (replace(old, name=fresh()), replace(old, name=fresh()))
    names = tuple(item.name for item in new)
    spec = ConversionSpec(expressions={name: "old" for name in names})
    return Became("split", (old,), new, note=ChangeNote(NoteKind.SPLIT, (old.name,), names, spec))


def merge(first: Parameter, second: Parameter, name: str) -> Became:
    """One setting holds the sum of two."""
    new = replace(
        first,
        name=name,
        type="i32",
        high=first.high + second.high,
        default=(str(int(first.default[0]) + int(second.default[0])),),
        plain={},
        needs=(),
        asks=(),
        clips=False,
    )
    spec = ConversionSpec(expressions={name: f"{first.name} + {second.name}"})
    note = ChangeNote(NoteKind.MERGE, (first.name, second.name), (name,), spec)
    return Became("merge", (first, second), (new,), note=note)


def may_merge(item: Parameter) -> bool:
    """Whether a parameter is a plain count that can be added to another."""
    is_count = not item.is_float and item.type != "word" and not item.choices and not item.bits
    return is_count and item.low >= 0 and not (item.plain or item.banks or item.indexes or item.asks)


#: Makers with their share.
MAKERS: tuple[tuple[Maker, float], ...] = (
    (same, 0.48),
    (rename, 0.14),
    (convert, 0.14),
    (retire, 0.08),
    (default, 0.1),
    (split, 0.04),
    (meaning, 0.02),
)
