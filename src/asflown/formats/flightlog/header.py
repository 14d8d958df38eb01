"""The header cells: name and unit told apart, names made unique."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

_BRACKETS = re.compile(r"^(.*\S)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\)|\{([^{}]*)\}|<([^<>]*)>)$", re.S)
_ONLY_BRACKETS = re.compile(r"^\s*[\[({<](.*)[\])}>]\s*$", re.S)

#: Unit words as logs write them, small letters; trade terms, no source.
_UNIT_WORDS = """
s sec secs second seconds ms msec millis us usec µs μs micros microseconds milliseconds ns nsec min
minute minutes h hr hour hours d hz khz mhz ghz rpm erpm krpm rps rev revs rad rads mrad deg degs
degree degrees dps ° turn m mm cm km µm um metre metres meter meters ft feet in inch mi nm kt kts
knot knots mph kph kmh mps fps g gn mg µg ug kg lb v mv kv uv µv volt volts a ma ka amp amps ampere
amperes ah mah wh mwh w mw kw watt watts j ohm mohm ω mω n mn nmm pa hpa kpa mpa mbar bar psi atm k
°c °f c f degc degf celsius kelvin fahrenheit % percent pct ppm t mt ut µt gauss mgauss lsb count
counts tick ticks raw_counts pwm bit bits db dbm l ml v/v sat sats e7deg dege7 1e7deg 1e-7deg cdeg
centideg cdegs
"""
_UNITS = frozenset(_UNIT_WORDS.split())
_EXPONENT = re.compile(r"(?:\^|\*\*)?[-+−]?\d+$|[²³⁻¹⁰-⁹]+$|\^\([-+]?\d+\)$")
_JOINTS = re.compile(r"\s*(?:/|\*|·|⋅|×|\bper\b|\s)\s*")
#: Ends of a name that can only be a unit: ``time_us``, ``rate_deg_s``.
_TAILS = re.compile(
    r"[_.](usec|msec|nsec|sec|seconds|us|ns|deg_s|rad_s|degps|radps|dps|m_s2|mps2|mps|rpm|erpm|hz|khz|mv|"
    r"mah|mps|hpa|kpa|volts?|amps?|pct|percent|celsius|degc|radians?|degrees?|rad|deg)$",
    re.I,
)
_TAIL_WORDS = {"deg_s": "deg/s", "rad_s": "rad/s", "m_s2": "m/s2", "degps": "deg/s", "radps": "rad/s"}
_TIME_TAIL = re.compile(r"^(?:.*[_. ])?(?:time|timestamp|stamp|t|elapsed|clock|boot)[_.](s|ms)$", re.I)


def is_unit(text: str) -> bool:
    """Whether a text is a unit: unit words joined by ``/``, ``*``, blanks, with exponents."""
    text = text.strip()
    if not text or len(text) > 40:
        return False
    if text in ("1", "-"):
        return True
    parts = [part for part in _JOINTS.split(text) if part]
    named = [part for part in parts if part != "1"]
    return bool(named) and all(_is_word(part) for part in named)


def _is_word(part: str) -> bool:
    word = part.strip(" ()").lower()
    return word in _UNITS or _EXPONENT.sub("", word) in _UNITS


def name_and_unit(cell: str) -> tuple[str, str | None]:
    """Tell a header cell's name from its unit; what is no unit for certain stays in the name.

    A unit written as the end of a name (``time_us``) is told and left in the name.

    Examples
    --------
    >>> name_and_unit("gyro x [deg/s]"), name_and_unit("motor[3]"), name_and_unit("Voltage/V")
    (('gyro x', 'deg/s'), ('motor[3]', None), ('Voltage', 'V'))
    >>> name_and_unit("time_us"), name_and_unit("rate_command.roll [rad s^-1]")
    (('time_us', 'us'), ('rate_command.roll', 'rad s^-1'))
    """
    cell = " ".join(cell.split())[:200]
    match = _BRACKETS.match(cell)
    if match:
        inside = next(group for group in match.groups()[1:] if group is not None).strip()
        return (
            (match[1].rstrip(" /,"), inside)
            if is_unit(inside) and not _is_index(cell, inside)
            else (cell, None)
        )
    for place in [at for at, letter in enumerate(cell) if letter == "/"][:20]:
        name, unit = cell[:place].strip(), cell[place + 1 :].strip()
        if name and not is_unit(name) and is_unit(unit.strip("()[]")):
            return name, unit.strip("()[]")
    match = _TAILS.search(cell)
    if match and match.start() > 0:
        return cell, _TAIL_WORDS.get(match[1].lower(), match[1])
    match = _TIME_TAIL.match(cell)
    return (cell, match[1]) if match else (cell, None)


def _is_index(cell: str, inside: str) -> bool:
    """``motor[1]`` counts, ``throttle [1]`` is a ratio: a blank stands before a unit of one."""
    return inside == "1" and not re.search(r"\s[\[({<]", cell)


def looks_like_units(cells: Sequence[str]) -> bool:
    """Whether a row below the header holds units: most of its filled cells are some, in brackets or not."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    told = sum(is_unit(_bare(cell)) or bool(_ONLY_BRACKETS.match(cell)) for cell in filled)
    return bool(filled) and told >= max(1, 0.6 * len(filled))


def _bare(cell: str) -> str:
    match = _ONLY_BRACKETS.match(cell)
    return (match[1] if match else cell).strip()


def named(header: Sequence[str], units: Sequence[str]) -> tuple[list[tuple[str, str | None, str]], list[str]]:
    """Names, units and header cells of all columns, and which names stood more than once.

    A name that is empty or stands for several columns gets its column number.
    """
    made: list[tuple[str, str | None, str]] = []
    for number, cell in enumerate(header):
        name, unit = name_and_unit(cell)
        own = _bare(units[number]) if number < len(units) else ""
        whole = cell if not own else f"{cell} [{own}]"
        made.append((name or f"column {number + 1}", own or unit, whole))
    counts = Counter(name for name, _, _ in made)
    twice = [name for name, count in counts.items() if count > 1]
    taken = set(counts)
    for number, (name, unit, whole) in enumerate(made):
        if counts[name] > 1:
            made[number] = (_free(f"{name} (column {number + 1})", taken), unit, whole)
    return made, twice


def _free(name: str, taken: set[str]) -> str:
    while name in taken:
        name += "'"
    taken.add(name)
    return name
