"""Which page does what a command does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from urllib.parse import quote

_Words = tuple[str, ...]


def at(*parts: str) -> str:
    """An address of these parts, each escaped."""
    return "/" + "/".join(quote(part, safe="") for part in parts)


def address_of(words: _Words, aircraft: str = "") -> str | None:
    """The page for a command's words after ``asflown``; ``None`` where there is none.

    Parameters
    ----------
    aircraft
        That is meant where the words name none.
    """
    if not words:
        return "/"
    plain, options = _split(words[1:])
    if aircraft and not options.get("aircraft"):
        options = {**options, "otherwise": aircraft}
    made = _BY_COMMAND.get(words[0])
    return made(plain, options) if made else None


def _split(words: _Words) -> tuple[list[str], dict[str, str]]:
    """Plain words, and the word after each option."""
    plain: list[str] = []
    options: dict[str, str] = {}
    place = 0
    while place < len(words):
        word = words[place]
        if word.startswith("--"):
            following = words[place + 1] if place + 1 < len(words) else ""
            takes = bool(following) and not following.startswith("--")
            options[word[2:]] = following if takes else ""
            place += 2 if takes else 1
        else:
            plain.append(word)
            place += 1
    return plain, options


def _is_name(word: str) -> bool:
    """Whether a word is a name, not a place holder such as ``LISTING`` or ``FOLDER``."""
    return bool(word) and not word.isupper()


def _of_aircraft(*page: str, is_named: bool = True) -> Callable[[list[str], Mapping[str, str]], str | None]:
    """A page of the aircraft that ``--aircraft``, or where ``is_named`` the first plain word, names."""

    def made(plain: list[str], options: Mapping[str, str]) -> str | None:
        said = options.get("aircraft") or next((word for word in plain if is_named and _is_name(word)), "")
        name = said or options.get("otherwise", "")
        return at("aircraft", name, *page) if _is_name(name) else None

    return made


def _decide(plain: list[str], options: Mapping[str, str]) -> str | None:
    if not plain or not _is_name(plain[0]):
        return None
    if len(plain) > 1 and _is_name(plain[1]):
        return at("aircraft", plain[0], "decide", plain[1])
    return at("aircraft", plain[0], "plan")


def _sub(
    pages: Mapping[str, Callable[[list[str], Mapping[str, str]], str | None]], default: str
) -> Callable[[list[str], Mapping[str, str]], str | None]:
    """Of a command with commands of its own."""

    def made(plain: list[str], options: Mapping[str, str]) -> str | None:
        word = plain[0] if plain and plain[0] in pages else default
        rest = plain[1:] if plain and plain[0] in pages else plain
        found = pages.get(word)
        return found(rest, options) if found else None

    return made


def _thing(kind: str) -> Callable[[list[str], Mapping[str, str]], str | None]:
    def made(plain: list[str], options: Mapping[str, str]) -> str | None:
        return at(kind, plain[0]) if plain and _is_name(plain[0]) else None

    return made


def _fixed(address: str) -> Callable[[list[str], Mapping[str, str]], str | None]:
    return lambda plain, options: address


def _compare(plain: list[str], options: Mapping[str, str]) -> str | None:
    if len(plain) != 2 or not all(map(_is_name, plain)):
        return None
    return f"/compare?first={quote(plain[0], safe='')}&second={quote(plain[1], safe='')}"


def _behaviour(plain: list[str], options: Mapping[str, str]) -> str | None:
    if len(plain) == 1 and "plan" in options and _is_name(plain[0]):
        return at("aircraft", plain[0], "behaviour")
    if len(plain) == 2 and all(map(_is_name, plain)):
        return f"/behaviour?first={quote(plain[0], safe='')}&second={quote(plain[1], safe='')}"
    return _thing("behaviour")(plain, options)


def _card(plain: list[str], options: Mapping[str, str]) -> str | None:
    aircraft = options.get("aircraft") or options.get("otherwise", "")
    if not _is_name(aircraft):
        return None
    named = bool(plain) and _is_name(plain[0])
    return at("aircraft", aircraft, "card", plain[0]) if named else at("aircraft", aircraft, "cards")


def _bench(plain: list[str], options: Mapping[str, str]) -> str | None:
    card = options.get("card", "")
    return _of_aircraft(*(("card", card) if _is_name(card) else ("bench",)))(plain, options)


def _flights(plain: list[str], options: Mapping[str, str]) -> str | None:
    return _of_aircraft("flights")(plain, options)


_BY_COMMAND: Mapping[str, Callable[[list[str], Mapping[str, str]], str | None]] = {
    "aircraft": _sub(
        {
            "list": _fixed("/"),
            "new": _fixed("/new-aircraft"),
            "show": _of_aircraft("about"),
            "edit": _of_aircraft("about"),
        },
        "list",
    ),
    "found": _of_aircraft("take", is_named=False),
    "records": _sub(
        {
            "show": _thing("record"),
            "set-aside": _thing("record"),
            "say-repeated": _thing("record"),
            "say-extent": _thing("record"),
            "list": _of_aircraft("records"),
        },
        "list",
    ),
    "compare": _compare,
    "release": _sub(
        {"add": _fixed("/releases"), "show": _thing("release"), "list": _fixed("/releases")}, "list"
    ),
    "plan": _of_aircraft("plan"),
    "ports": _of_aircraft("ports"),
    "image": _fixed("/image"),
    "host-check": _fixed("/host-check"),
    "board": _sub({"new": _fixed("/boards"), "add": _fixed("/boards"), "show": _thing("board")}, "new"),
    "decide": _decide,
    "not-now": _of_aircraft("not-now"),
    "write-out": _of_aircraft("write"),
    "load": _of_aircraft("load"),
    "replies": _of_aircraft("replies", is_named=False),
    "readback": _of_aircraft("read-back", is_named=False),
    "cards": _sub({"mark": _card, "show": _of_aircraft("cards")}, "show"),
    "bench": _sub({"read": _card, "fixed": _card, "show": _bench}, "show"),
    "field": _sub({"take": _of_aircraft("field", is_named=False), "make": _of_aircraft("field")}, "make"),
    "gate": _of_aircraft("gates", is_named=False),
    "sign": _of_aircraft("sign"),
    "back": lambda plain, options: _of_aircraft("load" if "load" in options else "back")(plain, options),
    "logbook": _of_aircraft(),
    "verify": _fixed("/verify"),
    "handover": _fixed("/hand-over"),
    "receive": _fixed("/hand-over"),
    "flight": _sub(
        {
            "show": _thing("flight"),
            "list": _flights,
            "measure": _flights,
            "add": _flights,
        },
        "list",
    ),
    "calibrate": _sub(
        {"show": _thing("calibration"), "list": _of_aircraft("calibrations")}
        | {
            word: _of_aircraft("calibrations", is_named=False)
            for word in ("meter", "accelerometer", "level", "gyro", "magnetometer", "receiver")
        },
        "list",
    ),
    "behaviour": _sub({"show": _behaviour, "compare": _behaviour}, "show"),
    "predict": _of_aircraft("predict"),
    "retune": _of_aircraft("retune"),
    "testcard": _of_aircraft("test-card"),
    "verdict": _of_aircraft("verdict"),
}
