"""A column name cut into words, numbers, and the unit written into it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from asflown.core.columns.lexicon import JOINED, PREFIXED, PREFIXES, SHORT
from asflown.core.columns.spellings import SPELLINGS, bare

#: Units of what is no canonical signal.
FOREIGN = frozenset(
    re.findall(r"\w+", "ut nt gauss mgauss gf kgf n nm w kw wh mwh mah ah db dbm ppm rh hz khz")
)
_SEPARATORS = re.compile(r"[\s_.,:;\-\[\](){}|#@/]+")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_UNIT_INSIDE = frozenset({"us", "dps", "pct"})
_PER = re.compile(
    r"[\s_.](?:(?P<angle>(?:m|c|d)?(?:deg|rad|rev))[\s_.]*(?:/|per|p)?[\s_.]*(?P<by>s2|s\^2|ss|s|sec)"
    r"|(?P<way>[mc]?m|ft)[\s_.]*(?:/|per|p)[\s_.]*(?P<per>s2|s\^2|ss|s|sec)|(?P<m>m)[\s_.]?(?P<s>s2|ss|s\^2))"
    r"[\s\])]*(?P<count>[\s_.\[]*\d{0,2}\]?)$",
    re.I,
)


@dataclass(frozen=True, slots=True)
class Words:
    """A name in parts.

    Attributes
    ----------
    words
        Small letters, in order, joined words parted, without numbers and unit.
    numbers
        Whole numbers in the name, in order.
    units
        What may be unit words: the header's own first, then the name's.
    tail
        The last part where it is a single letter, which may be a unit or count (``motor_a``).
    """

    words: tuple[str, ...]
    numbers: tuple[int, ...] = ()
    units: tuple[str, ...] = ()
    tail: str = ""


def split_name(name: str, unit: str | None = None) -> Words:
    """Cut a name into parts.

    Examples
    --------
    >>> split_name("gyroXDps").words, split_name("gyroXDps").units
    (('gyro', 'x'), ('Dps',))
    >>> split_name("motor[0]").numbers, split_name("vbat").words
    ((0,), ('bat', 'voltage'))
    """
    units = [unit] if unit and unit.strip() else []
    name = name.strip().replace("µ", "u").replace("μ", "u")
    match = _PER.search(name)
    if match:
        base = match["angle"] or match["way"] or match["m"]
        per = (match["by"] or match["per"] or match["s"]).lower()
        units.append(f"{base}/{'s2' if per in ('s2', 's^2', 'ss') else 's'}")
        name = name[: match.start()] + "_" + match["count"]
    whole = [chunk for chunk in _SEPARATORS.split(name) if chunk]
    chunks = [part for chunk in whole for part in _camel_parts(chunk) if part]
    words: list[str] = []
    numbers: list[int] = []
    for place, chunk in enumerate(chunks):
        if place > 0 and _is_unit(chunk, place == len(chunks) - 1):
            units.append(chunk)
            continue
        for part in re.findall(r"[^\W\d_]+|\d+", chunk.casefold()):
            if part.isdecimal():
                numbers.append(int(part[:9]))
            else:
                words += _expanded(part)
    tail = chunks[-1].casefold() if len(chunks) > 1 and len(chunks[-1]) == 1 else ""
    return Words(tuple(words), tuple(numbers), tuple(units), tail)


def _camel_parts(chunk: str) -> list[str]:
    return [chunk] if bare(chunk) in SPELLINGS or chunk.casefold() in FOREIGN else _CAMEL.split(chunk)


def _is_unit(chunk: str, is_last: bool) -> bool:
    word = bare(chunk)
    return (word in SPELLINGS or word in FOREIGN) and (is_last or word in _UNIT_INSIDE)


def _expanded(word: str) -> list[str]:
    if len(word) > 1 and word in SHORT:
        return SHORT[word].split()
    return list(_parted(word) or (word,))


def _parted(word: str) -> tuple[str, ...] | None:
    """The parts of a joined word, ``None`` where it is none."""
    if word in JOINED or len(word) < 4:
        return None
    if word[1:] == "term":
        return (word[0], "term")
    if word[0] in PREFIXES and word[1:] in PREFIXED:
        return (word[1:], PREFIXES[word[0]])
    if word[:-1] in JOINED and word[-1] in "xyz":
        return (word[:-1], word[-1])
    for cut in range(len(word) - 2, 2, -1):
        left, right = word[:cut], word[cut:]
        if left in JOINED:
            parts = (right,) if right in JOINED else _parted(right)
            if parts:
                return (left, *parts)
    return None
