"""Whether a listing itself tells that it is full or changes-only."""

from __future__ import annotations

import re
from collections.abc import Iterable

from asflown.core.record import Extent

_CHANGES = re.compile(
    r"\b(changes?[- ]only|only (the )?(changes|changed|modified|non-?default|differing)|"
    r"(changed|modified|altered) (settings|parameters|values|options)( only)?|non-?default|"
    r"differ(s|ing|ent|ences?)? (from|to|against) (the )?(factory|defaults?)"
    r"|not (at )?(factory|default)|overrides only)\b",
    re.IGNORECASE,
)
_FULL = re.compile(
    r"\b((all|every|full|complete|entire) (the )?(\w+ )?(settings?|parameters?"
    r"|values?|listing|list|configuration|options|variables)"
    r"|(settings|parameters): all)\b",
    re.IGNORECASE,
)


def extent_hint(lines: Iterable[str]) -> Extent:
    """What remarks and other words around the settings tell; UNKNOWN where nothing or both.

    Examples
    --------
    >>> extent_hint(["# changes only"])
    <Extent.CHANGES_ONLY: 'changes-only'>
    """
    changes = full = False
    for line in lines:
        short = line[:300]
        if _CHANGES.search(short):
            changes = True
        elif _FULL.search(short):
            full = True
    if changes == full:
        return Extent.UNKNOWN
    return Extent.CHANGES_ONLY if changes else Extent.FULL
