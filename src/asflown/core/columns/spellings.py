"""Spellings of units in log headers, by kind. Common practice, no source."""

from __future__ import annotations

import re

from asflown.core.columns.kinds import Kind

# fmt: off
_SPELLINGS: dict[Kind, dict[str, str]] = {
    Kind.TIME: {
        "s": "s sec secs second seconds",
        "ms": "ms msec millis millisecond milliseconds",
        "us": "us usec micros microsecond microseconds",
        "ns": "ns nsec nanos nanosecond nanoseconds",
        "min": "min minutes",
    },
    Kind.RATE: {
        "rad/s": "rad/s rad/sec rads radps rad_s rad_per_s rads-1 rad*s^-1 rads^-1 radpersec rps rad",
        "deg/s": "deg/s deg/sec dps degs degps deg_s deg_per_s "
        "degs-1 degs^-1 °/s °ps degpersec degree/s degrees/s deg",
        "mrad/s": "mrad/s mrads mradps",
        "mdeg/s": "mdps mdeg/s mdegs mdegps",
        "0.01 deg/s": "cdps cdeg/s cdegs cdegps centidps",
        "0.1 deg/s": "ddps ddeg/s",
        "rev/s": "rev/s revps revs",
        "rpm": "rpm",
        "raw counts": "raw lsb lsbs count counts adc digits",
    },
    Kind.ACCELERATION: {
        "m/s2": "m/s2 m/s^2 m/s² m/s/s mps2 mpss ms2 ms-2 ms^-2 m_s2 mss m/ss",
        "g": "g gs gn gee gees g0",
        "mg": "mg mgs milli-g millig",
        "cm/s2": "cm/s2 cm/s^2 cmps2 cmss gal",
        "mm/s2": "mm/s2 mmps2",
        "ft/s2": "ft/s2 ftps2",
        "raw counts": "raw lsb lsbs count counts adc digits",
    },
    Kind.SHARE: {
        "0..1": "0-1 norm normalized normalised unit frac fraction ratio 1 -",
        "0..100 %": "pct % percent perc 0-100",
        "1000..2000 us": "us usec micros microseconds pulse pw",
        "0..1000": "permille ‰",
    },
    Kind.STICK: {
        "-1..1": "norm normalized normalised unit ratio 1 - -1-1",
        "1000..2000 us": "us usec micros microseconds",
        "-100..100 %": "pct % percent perc",
    },
    Kind.CONTROL: {"-1..1": "norm normalized normalised unit ratio 1 -", "-100..100 %": "pct % percent"},
    Kind.ROTOR: {
        "rpm": "rpm r/min 1/min rev/min min-1 krpm",
        "rev/s": "rev/s rps hz revs revps 1/s",
        "rad/s": "rad/s rads radps rad_s rad_per_s rads-1 rad/sec",
        "electrical rpm": "erpm elec electrical",
    },
    Kind.VOLTAGE: {
        "V": "v volt volts",
        "mV": "mv millivolt millivolts",
        "0.01 V": "cv centivolt centivolts",
        "0.1 V": "dv decivolt decivolts",
    },
    Kind.CURRENT: {
        "A": "a amp amps ampere amperes",
        "mA": "ma milliamp milliamps",
        "0.01 A": "ca centiamp centiamps",
        "0.1 A": "da deciamp deciamps",
    },
    Kind.ANGLE: {
        "rad": "rad rads radian radians",
        "deg": "deg degs degree degrees ° dgr",
        "0.1 deg": "ddeg decideg decidegrees",
        "0.01 deg": "cdeg centideg centidegrees",
        "mrad": "mrad",
    },
    Kind.LENGTH: {
        "m": "m metre metres meter meters",
        "cm": "cm",
        "mm": "mm",
        "ft": "ft feet foot",
        "km": "km",
    },
    Kind.SPEED: {
        "m/s": "m/s mps m_s ms ms-1 ms^-1 m/sec",
        "cm/s": "cm/s cmps cms",
        "mm/s": "mm/s mmps",
        "km/h": "km/h kmh kph kmph",
        "kn": "kn kt kts knots",
        "ft/s": "ft/s fps",
    },
    Kind.TEMPERATURE: {
        "K": "k kelvin",
        "degC": "c degc °c celsius cel deg_c degrees",
        "0.01 degC": "cdegc centidegc",
        "0.1 degC": "ddegc",
        "degF": "f degf °f",
    },
    Kind.PRESSURE: {"Pa": "pa pascal pascals", "hPa": "hpa", "kPa": "kpa", "mbar": "mbar mb", "bar": "bar"},
    Kind.LABEL: {},
}
# fmt: on
_BY_KIND = {
    kind: {spelling: word for word, spellings in words.items() for spelling in spellings.split()}
    for kind, words in _SPELLINGS.items()
}
#: Every spelling; a name's last word is a unit only if it stands here.
SPELLINGS = frozenset(spelling for table in _BY_KIND.values() for spelling in table) - {"-", "1"}


def bare(text: str) -> str:
    """A unit text in small letters without brackets and blanks; ``µ`` is written u."""
    text = text.strip().strip("[](){}<>").strip().replace("µ", "u").replace("μ", "u").casefold()
    text = text.replace("⁻¹", "-1").replace("⁻²", "-2").replace("·", "").replace("**", "^")
    return re.sub(r"[\s.*]+", "", text) if not re.search(r"\d\.\d", text) else text


def trade_word(text: str, kind: Kind) -> str | None:
    """The unit of a kind that a header's spelling means, ``None`` where it means none of that kind.

    Examples
    --------
    >>> trade_word("[rad s^-1]", Kind.RATE), trade_word("dps", Kind.RATE), trade_word("g", Kind.VOLTAGE)
    ('rad/s', 'deg/s', None)
    """
    return _BY_KIND[kind].get(bare(text))
