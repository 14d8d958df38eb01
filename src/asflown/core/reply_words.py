"""The words of one reply: its pattern, and whether they say yes by themselves."""

from __future__ import annotations

import re

from asflown.core.record import Key

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_DIGITS = re.compile(r"\d+")
_AROUND = ".,;:=()[]'\"!<>"

#: Words of plain English that say a thing was done. No firmware's own.
_YES = frozenset(
    ["ok", "okay", "yes", "done", "set", "taken", "accepted", "stored", "saved", "kept", "written"]
)
#: Words that say nothing either way.
_BETWEEN = frozenset(["is", "now", "to", "at", "be", "has", "been", "and", "was", "it"])


def pattern(text: str, key: Key | None, value: str | None) -> str:
    """A reply with its setting's own name and value, and other numbers, replaced by marks.

    Parameters
    ----------
    key, value
        Of the setting it answers; ``None`` where it answers none.
    """
    if key is None:
        return _DIGITS.sub("#", text)
    words = []
    for word in text.split(" "):
        core = word.strip(".,;:=()[]'\"")
        mark = _mark(core, key, value)
        words.append(word.replace(core, mark) if mark else _DIGITS.sub("#", word))
    return " ".join(words)


def says_yes(text: str, key: Key | None = None, value: str | None = None) -> bool:
    """Whether a reply says by its words alone that the line was taken.

    It does when it has a plain yes and nothing else but the setting's own name and value. A word that is not
    known, or another number, makes it no yes: it is left to a person.

    Examples
    --------
    >>> says_yes("OK"), says_yes("not ok"), says_yes("taken 500", Key("lift"), "900")
    (True, False, False)
    """
    words = [word.strip(_AROUND) for word in text.split()]
    left = {word.casefold() for word in words if word and not (key and _mark(word, key, value))}
    return bool(left & _YES) and left <= _YES | _BETWEEN


def _mark(word: str, key: Key, value: str | None) -> str:
    if not word:
        return ""
    if word == key.name:
        return "{name}"
    return "{value}" if value and (word == value or _same_number(word, value)) else ""


def _same_number(a: str, b: str) -> bool:
    if not (_NUMBER.fullmatch(a) and _NUMBER.fullmatch(b)):
        return False
    return float(a) == float(b)
