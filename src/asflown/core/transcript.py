"""Finding written lines in a terminal's transcript."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Container, Mapping, Sequence

_DIGITS = re.compile(r"\d+")
#: Terminal control: CSI, OSC and other escape sequences (ECMA-48, from memory), and bare controls except
#: tab, line feed, carriage return and backspace.
_CONTROL = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[ -/]*[0-~]"
    r"|[\x00-\x07\x0b\x0c\x0e-\x1f\x7f]"
)


def plain(text: str) -> str:
    """A line as it reads: blanks run together, none at the ends."""
    return " ".join(text.split())


def clean(transcript: str) -> list[str]:
    """The lines as a person saw them: control codes gone, backspaces and carriage returns applied."""
    text = transcript.replace("\r\n", "\n").replace("\n\r", "\n")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    return [plain(_overtyped(line)) for line in _CONTROL.sub("", text).split("\n")]


def _overtyped(line: str) -> str:
    line = next((part for part in reversed(line.split("\r")) if part.strip()), "")
    if "\b" not in line:
        return line
    kept: list[str] = []
    for character in line:
        if character != "\b":
            kept.append(character)
        elif kept:
            kept.pop()
    return "".join(kept)


def _starts(text: str) -> list[int]:
    """Places where an echo may begin: the start, after a blank, and after a prompt's last character."""
    places = [0]
    for at in range(1, len(text)):
        if text[at - 1] == " " or (not text[at - 1].isalnum() and text[at] != " "):
            places.append(at)
    return places


#: A prompt is short: longer beginnings are replies that quote the line.
_LONGEST_PROMPT = 40


def learn_prompt(texts: Container[str], longest: int, shown: Sequence[tuple[int, str]]) -> str | None:
    """What stands before an echoed line, digits as ``#``; ``None`` when no written line shows.

    An echo comes before the reply that may quote it, so of the usual beginnings the first one wins.
    """
    counts: Counter[str] = Counter()
    for _, text in shown:
        at = _quote(text, texts, longest)
        if at is not None:
            counts[_DIGITS.sub("#", text[:at])] += 1
    if not counts:
        return None
    most = max(counts.values())
    return next(prompt for prompt, count in counts.items() if count * 2 >= most)


def _quote(text: str, texts: Container[str], longest: int) -> int | None:
    """Where a written line begins that a shown line ends with."""
    if len(text) > longest + _LONGEST_PROMPT:
        return None
    return next((at for at in _starts(text[: _LONGEST_PROMPT + 1]) if text[at:] in texts), None)


def after_prompt(text: str, prompt: str) -> str | None:
    """The line without its prompt; ``None`` when it does not begin with one."""
    if not prompt:
        return text
    pattern = r"\d+".join(re.escape(part) for part in prompt.rstrip().split("#"))
    match = re.match(pattern + r"(?:\s|$)" if prompt.endswith(" ") else pattern, text)
    return text[match.end() :].strip() if match else None


def align(texts: Sequence[str], bare: Sequence[str | None], shown: Sequence[str]) -> dict[int, int]:
    """Which transcript line shows which written line: ``{transcript place: written place}``."""
    where: dict[str, list[int]] = {}
    for place, written in enumerate(texts):
        where.setdefault(written, []).append(place)
    longest = max(map(len, texts), default=0)
    candidates: list[tuple[int, str]] = []
    for at, line in enumerate(bare):
        known = _known(line, where, longest) or (shown[at] if shown[at] in where else None)
        if known is not None:
            candidates.append((at, known))
    anchors = _longest_rise([(at, where[text][0]) for at, text in candidates if len(where[text]) == 1])
    placed = _filled(anchors, candidates, where, len(texts))
    return _quoted(placed, shown, where, longest, len(texts))


def _quoted(
    placed: dict[int, int], shown: Sequence[str], where: Mapping[str, list[int]], longest: int, end: int
) -> dict[int, int]:
    """Add written lines that show only as a reply quoting them, between the lines around them."""
    seen = set(placed.values())
    ceiling = end
    upper = [end] * len(shown)
    for at in range(len(shown) - 1, -1, -1):
        ceiling = placed.get(at, ceiling)
        upper[at] = ceiling
    lower = -1
    for at, text in enumerate(shown):
        if at in placed:
            lower = placed[at]
            continue
        begins = _quote(text, where, longest)
        spots = where[text[begins:]] if begins is not None else []
        if len(spots) == 1 and lower < spots[0] < upper[at] and spots[0] not in seen:
            placed[at] = lower = spots[0]
            seen.add(lower)
    return placed


def _known(line: str | None, where: Container[str], longest: int) -> str | None:
    """The written text a transcript line shows, alone or followed by a reply on the same line."""
    if line is None:
        return None
    if line in where:
        return line
    head = line[: longest + 1]
    at = head.rfind(" ")
    while at > 0:
        if head[:at] in where:
            return head[:at]
        at = head.rfind(" ", 0, at)
    return None


def _longest_rise(pairs: Sequence[tuple[int, int]]) -> dict[int, int]:
    """The longest run of pairs that rises strictly in the second place (patience sorting)."""
    tails: list[int] = []
    tail_pair: list[int] = []
    came_from: list[int] = []
    for number, (_, place) in enumerate(pairs):
        depth = bisect_left(tails, place)
        if depth < len(tails) and tails[depth] == place:
            came_from.append(-1)  # the first one that shows a line is its echo
            continue
        came_from.append(tail_pair[depth - 1] if depth else -1)
        if depth == len(tails):
            tails.append(place)
            tail_pair.append(number)
        else:
            tails[depth] = place
            tail_pair[depth] = number
    chain: dict[int, int] = {}
    at = tail_pair[-1] if tail_pair else -1
    while at >= 0:
        chain[pairs[at][0]] = pairs[at][1]
        at = came_from[at]
    return chain


def _filled(
    anchors: dict[int, int],
    candidates: Sequence[tuple[int, str]],
    where: Mapping[str, list[int]],
    end: int,
) -> dict[int, int]:
    """Place the lines that stand several times: in order, between the anchors around them."""
    ceiling: dict[int, int] = {}
    upper = end
    for at, _ in reversed(candidates):
        if at in anchors:
            upper = anchors[at]
        ceiling[at] = upper
    placed = dict(anchors)
    lower = -1
    for at, text in candidates:
        if at in anchors:
            lower = anchors[at]
            continue
        if len(where[text]) == 1:
            continue
        spots = where[text]
        spot = bisect_left(spots, lower + 1)
        if spot < len(spots) and spots[spot] < ceiling[at]:
            placed[at] = lower = spots[spot]
    return placed
