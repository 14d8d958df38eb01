"""Parameters drawn from a seed: names, kinds, ranges, precision, words among numbers, mutual demands."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from asflown.demo.firmware.parameter import Parameter
from asflown.demo.memory import cell_of, shown

_HEADS = (
    "tide",
    "reed",
    "creek",
    "perch",
    "plume",
    "wader",
    "salt",
    "shoal",
    "marsh",
    "dune",
    "sluice",
    "eelgrass",
)
_TAILS = (
    "gain",
    "span",
    "wait",
    "share",
    "depth",
    "pace",
    "level",
    "count",
    "width",
    "bias",
    "mode",
    "reach",
)
_UNITS = ("", "s", "ms", "Hz", "V", "deg", "m", "%")
_LABELS = ("off", "slow", "steady", "fast", "by hand", "alone")
_CONSEQUENCES = ("safety", "handling", "comfort", "none")
_BELONGINGS = ("wiring", "board", "airframe", "pilot", "device", "place")


def draw_names(rng: random.Random, count: int) -> tuple[str, ...]:
    """Different names of at most 16 characters, in one style."""
    style = rng.choice((".", "_", "-", "camel"))
    pairs = rng.sample([(a, b, n) for a in _HEADS for b in _TAILS for n in ("", "2")], count)
    if style == "camel":
        return tuple(a + b.capitalize() + n for a, b, n in pairs)
    return tuple(f"{a}{style}{b}{n}" for a, b, n in pairs)


def draw_parameter(rng: random.Random, name: str, *, banks: tuple[str, ...] = ()) -> Parameter:
    """A parameter: a choice, a mask, a whole number or a float whose values 32 bits hold exactly."""
    kind = rng.choice(("choice", "bits", "whole", "whole", "float", "float", "word"))
    bare = Parameter(
        name,
        "drawn",
        "u16",
        ("0",),
        Decimal(0),
        Decimal(1000),
        "",
        rng.choice(_CONSEQUENCES),
        rng.choice(_BELONGINGS),
        f"how the {name.replace('.', ' ').replace('_', ' ').replace('-', ' ')} is taken",
        {},
        {},
        {},
        banks=banks,
        indexes=("1", "2", "3") if not banks and rng.random() < 0.1 else (),
    )
    made = {"choice": _choice, "bits": _bits, "whole": _whole, "float": _float, "word": _word}[kind](
        rng, bare
    )
    return replace(made, default=(draw_value(rng, made),), clips=kind == "whole" and rng.random() < 0.3)


def _choice(rng: random.Random, bare: Parameter) -> Parameter:
    picked = rng.sample(_LABELS, rng.randint(2, 5))
    choices = {str(number): label for number, label in enumerate(picked)}
    return replace(bare, type="u8", high=Decimal(len(picked) - 1), choices=choices)


def _bits(rng: random.Random, bare: Parameter) -> Parameter:
    picked = rng.sample(_LABELS, rng.randint(2, 5))
    bits = {str(number): label for number, label in enumerate(picked)}
    return replace(bare, type="u16", high=Decimal(2 ** len(picked) - 1), bits=bits)


def _whole(rng: random.Random, bare: Parameter) -> Parameter:
    low, high = rng.choice(((0, 200), (1, 1000), (-500, 500), (0, 10000)))
    plain = {"0": "off"} if low == 0 and rng.random() < 0.4 else {}
    return replace(
        bare, type="i16", low=Decimal(low), high=Decimal(high), unit=rng.choice(_UNITS), plain=plain
    )


def _float(rng: random.Random, bare: Parameter) -> Parameter:
    digits = rng.choice((1, 2, 3))
    return replace(bare, type=f"f{digits}", low=Decimal(0), high=Decimal(64), unit=rng.choice(_UNITS))


def _word(rng: random.Random, bare: Parameter) -> Parameter:
    words = rng.choice((("ON", "OFF"), ("low", "mid", "full"), ("yes", "no")))
    return replace(bare, type="word", choices={word: word for word in words})


def draw_value(rng: random.Random, parameter: Parameter) -> str:
    """A value the parameter takes, as printed, exact in a 32-bit float."""
    if parameter.type == "word":
        return rng.choice(tuple(parameter.choices))
    if not parameter.is_float:
        return str(rng.randint(int(parameter.low), int(parameter.high)))
    steps = 2**parameter.decimals  # k / 2^n has n digits after the point
    low, high = int(parameter.low * steps), int(parameter.high * steps)
    return parameter.printed(str(Decimal(rng.randint(low, high)) / steps))


def ask_of_each_other(rng: random.Random, parameters: Sequence[Parameter]) -> tuple[Parameter, ...]:
    """Some parameters take a value only while an earlier one is not 0, whatever the catalog says of it."""
    plain = [p for p in parameters if not (p.banks or p.indexes or p.choices)]  # 0 stays 0 in them
    made = {p.name: p for p in parameters}
    for number, parameter in enumerate(plain):
        if number == 0 or rng.random() > 0.2 or parameter.low > 0:
            continue
        other = rng.choice(plain[:number])
        if other.plain or other.low > 0:
            continue
        made[parameter.name] = replace(
            parameter, asks=(("on", other.name),), needs=(other.name,), default=(_zero(parameter),)
        )
    return tuple(made.values())


def _zero(parameter: Parameter) -> str:
    return shown(parameter, cell_of(parameter, "0"))
