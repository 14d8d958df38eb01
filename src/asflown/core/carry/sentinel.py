"""Values that may be words (off, automatic) though the catalog does not say so: they are not scaled."""

from __future__ import annotations

import re

from asflown.core.catalog import ParameterDef
from asflown.core.unit_table import known
from asflown.core.values import number

#: What a description says of a value that is no number (plain English, no source).
_MEANS = (
    r"off|disabl\w*|inactive|auto\w*|unlimited|infinit\w*|never|for ?ever|no limit|none|ignor\w*|unused"
    r"|default|unset|unknown|not used|calibrated|as before"
)
#: Dimensions in which -1 is no amount.
_NEVER_NEGATIVE = frozenset(
    {"time", "frequency", "voltage", "charge", "mass", "resistance", "pressure", "energy"}
)


def suspected_word(value: str, definition: ParameterDef) -> str | None:
    """Say so when a value may stand for a word; ``None`` when it is a number as far as can be seen.

    Two signs count: the description speaks of the value beside such a word (``0 turns it off``); or it is -1
    where the range begins at -1 or the unit knows no negative amounts.

    Examples
    --------
    >>> suspected_word("-1", ParameterDef("wait", unit="s"))
    '-1 s is no amount: it may stand for a word'
    >>> suspected_word("0", ParameterDef("wait", unit="s", description="How long; 0 turns it off."))
    'the description speaks of 0 as a word: "0 turns it off"'
    """
    read = number(value)
    if read is None:
        return None
    said = _said(value.strip(), definition.description or "")
    if said is not None:
        return f'the description speaks of {value} as a word: "{said}"'
    if read != -1:
        return None
    if definition.minimum == -1:
        return "-1 is the end of the range: it may stand for a word"
    scale = known(definition.unit) if definition.unit else None
    if scale is not None and scale.dimension in _NEVER_NEGATIVE:
        return f"-1 {definition.unit} is no amount: it may stand for a word"
    return None


def _said(value: str, text: str) -> str | None:
    """The part of a text that names the value beside a word."""
    exact = rf"(?<![\w.+-]){re.escape(value)}(?![\w.]*\d)(?!\.\d)"
    after = rf"{exact}[^.;,()]{{0,30}}?\b(?:{_MEANS})\b"
    before = rf"\b(?:{_MEANS})\b[^.;,()]{{0,20}}?(?:with|by|to|at|is|=|:|when)\s*{exact}"
    match = re.search(after, text, re.IGNORECASE) or re.search(before, text, re.IGNORECASE)
    return match[0].strip() if match else None
