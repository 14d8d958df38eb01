"""What matching reads of a parameter, prepared once."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from asflown.core.carry.matching.quantity import Measure, Quantity, quantity_of, unit_of
from asflown.core.carry.matching.words import FILLERS, Splitter, raw_words
from asflown.core.catalog import ParameterDef, ValueKind

#: Signs that part a group path from a name.
_PATH = re.compile(r"[./:]")


@dataclass(frozen=True)
class Reading:
    """One parameter as matching sees it.

    Attributes
    ----------
    words, leaf
        Stems of the whole name, and of what follows the last sign of a group path.
    text
        Stems of the description, fillers left out, in order.
    default
        Factory value as comparable text; a number as its shortest form.
    span
        Minimum and maximum.
    labels
        Texts of the choices or bits, in lower case.
    group
        The group stated, else the path before the last sign.
    is_in_use
        Whether ``default`` is the value found in use, as nobody states a factory value.
    """

    definition: ParameterDef
    words: tuple[str, ...]
    leaf: tuple[str, ...]
    text: tuple[str, ...]
    kind: str | None
    type: str | None
    default: str | None
    quantity: Quantity | None
    unit: Measure | None
    span: tuple[float | None, float | None]
    labels: frozenset[str]
    group: str
    is_in_use: bool = False

    @property
    def name(self) -> str:
        """The name as the catalog prints it."""
        return self.definition.name


def read_both(
    old: Sequence[ParameterDef], new: Sequence[ParameterDef], in_use: Mapping[str, str] | None = None
) -> tuple[tuple[Reading, ...], tuple[Reading, ...]]:
    """Prepare both catalogs together: joined words are parted where either uses the parts apart.

    Parameters
    ----------
    in_use
        Value found by old name; stands in for a factory value nobody states.
    """
    found = in_use or {}
    texts = {
        id(p): tuple(w for w in raw_words(p.description or "") if w not in FILLERS) for p in (*old, *new)
    }
    counts: Counter[str] = Counter()
    for words in texts.values():
        counts.update(set(words))
    splitter = Splitter((raw_words(p.name) for p in (*old, *new)), counts)

    def read(definition: ParameterDef, value: str | None = None) -> Reading:
        return _read(definition, splitter, texts[id(definition)], value)

    return tuple(read(p, found.get(p.name)) for p in old), tuple(map(read, new))


def _read(definition: ParameterDef, splitter: Splitter, text: tuple[str, ...], found: str | None) -> Reading:
    unit = unit_of(definition)
    is_in_use = definition.default is None and found is not None
    value = found if is_in_use else definition.default
    low, high = definition.minimum, definition.maximum
    return Reading(
        definition=definition,
        words=splitter.stems(raw_words(definition.name)),
        leaf=splitter.stems(raw_words(_PATH.split(definition.name)[-1])),
        text=splitter.stems(text),
        kind=_kind(definition),
        type=definition.type.casefold() if definition.type else None,
        default=plain_text(value),
        quantity=quantity_of(value, unit),
        unit=unit,
        span=(None if low is None else float(low), None if high is None else float(high)),
        labels=frozenset(c.label.casefold() for c in (*definition.choices, *definition.bits)),
        group=definition.group or _group(definition.name),
        is_in_use=is_in_use,
    )


def _group(name: str) -> str:
    parts = _PATH.split(name)
    return ".".join(parts[:-1])


def _kind(definition: ParameterDef) -> str | None:
    if definition.kind is not ValueKind.UNKNOWN:
        return str(definition.kind)
    return definition.type.casefold() if definition.type else None


def plain_text(value: str | None) -> str | None:
    """A factory value as comparable text: numbers in one form, words in lower case, nothing as ``None``."""
    if value is None or not value.strip():
        return None
    text = value.strip()
    try:
        return repr(float(text))
    except ValueError:
        return text.casefold()
