"""What a terminal printed while a listing was written: each reply attributed to its setting."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from asflown.core.record import Key

#: Terminal control: CSI, OSC and other escape sequences (ECMA-48, from memory), and bare controls except
#: tab, line feed, carriage return and backspace.
_CONTROL = re.compile(
    r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[ -/]*[0-~]"
    r"|[\x00-\x07\x0b\x0c\x0e-\x1f\x7f]"
)
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """One line that was written.

    Attributes
    ----------
    number
        1-based line of the listing.
    text
        The line as written.
    key
        The setting it writes; ``None`` for a section word, a header, a comment.
    value
        The value it writes.
    """

    number: int
    text: str
    key: Key | None = None
    value: str | None = None


class ReplyKind(StrEnum):
    """What a reply is, told from the transcript alone: no word of any firmware is known here."""

    #: The same for most lines.
    ACKNOWLEDGEMENT = "acknowledgement"
    COMPLAINT = "complaint"
    #: Before the first or after the last written line.
    AROUND = "around the listing"


@dataclass(frozen=True, slots=True)
class Reply:
    """One line the terminal printed by itself.

    Attributes
    ----------
    line
        1-based line of the transcript.
    after
        The written line it answers; ``None`` where it answers none.
    """

    line: int
    text: str
    kind: ReplyKind
    after: WrittenLine | None = None


@dataclass(frozen=True)
class Replies:
    """A transcript laid beside the lines that were written.

    Attributes
    ----------
    echo
        Whether the transcript shows the written lines.
    found
        Transcript line of each written line that shows, by its listing line number.
    not_found
        Written lines that do not show, in order.
    stopped_after
        The last written line that shows, when later ones do not; ``None`` when all was sent or
        nothing shows.
    is_assumed
        Without an echo the n-th reply was taken to answer the n-th line.
    """

    written: tuple[WrittenLine, ...]
    echo: bool
    found: Mapping[int, int]
    not_found: tuple[WrittenLine, ...]
    stopped_after: WrittenLine | None
    replies: tuple[Reply, ...]
    is_assumed: bool = False

    @property
    def stopped(self) -> bool:
        """Whether the writing stopped before the last setting."""
        return self.stopped_after is not None

    @cached_property
    def complaints(self) -> tuple[Reply, ...]:
        """Replies that are not the usual acknowledgement."""
        return tuple(reply for reply in self.replies if reply.kind is ReplyKind.COMPLAINT)

    @property
    def acknowledged(self) -> int:
        """How many replies are the usual acknowledgement."""
        return sum(reply.kind is ReplyKind.ACKNOWLEDGEMENT for reply in self.replies)

    @property
    def is_attributed(self) -> bool:
        """Whether the transcript could be laid beside the listing at all."""
        return bool(self.found) or not any(line.key for line in self.written)

    @property
    def still_to_write(self) -> tuple[WrittenLine, ...]:
        """Setting lines that a way on must send: those that do not show, and the last one when cut off.

        The last line that shows may have been cut before its end, so it is sent again.
        """
        lines = [line for line in self.not_found if line.key is not None]
        if self.stopped_after is not None and self.stopped_after.key is not None:
            lines.insert(0, self.stopped_after)
        return tuple(sorted(lines, key=lambda line: line.number))


def read_replies(written: Sequence[WrittenLine], transcript: str) -> Replies:
    """Lay a transcript beside the written lines.

    Parameters
    ----------
    written
        Every line of the written listing, in order.
    transcript
        What the terminal showed: with or without echo and prompts, with terminal control codes, cut
        anywhere.

    Returns
    -------
    Replies
        Every non-blank transcript line is a written line's echo, a bare prompt, or a reply.

    Notes
    -----
    Lines that stand once in the listing are anchors; the longest run of anchors in listing order is
    kept (longest increasing subsequence), and the lines that stand several times are filled in
    between. Time grows as n log n.
    """
    lines = tuple(line for line in written if line.text.strip())
    shown = [(number, text) for number, text in enumerate(_clean(transcript), 1) if text]
    prompt = _prompt(lines, shown)
    if prompt is None:
        return _without_echo(lines, shown)
    return _with_echo(lines, shown, prompt)


def plain(text: str) -> str:
    """A line as it reads: blanks run together, none at the ends."""
    return " ".join(text.split())


def _clean(transcript: str) -> list[str]:
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


def _prompt(lines: Sequence[WrittenLine], shown: Sequence[tuple[int, str]]) -> str | None:
    """What stands before an echoed line, digits as ``#``; ``None`` when no written line shows.

    An echo comes before the reply that may quote it, so of the usual beginnings the first one wins.
    """
    texts = {plain(line.text) for line in lines if line.key is not None} or {
        plain(line.text) for line in lines
    }
    longest = max(map(len, texts), default=0)
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


def _after_prompt(text: str, prompt: str) -> str | None:
    """The line without its prompt; ``None`` when it does not begin with one."""
    if not prompt:
        return text
    pattern = r"\d+".join(re.escape(part) for part in prompt.rstrip().split("#"))
    match = re.match(pattern + r"(?:\s|$)" if prompt.endswith(" ") else pattern, text)
    return text[match.end() :].strip() if match else None


def _with_echo(lines: Sequence[WrittenLine], shown: Sequence[tuple[int, str]], prompt: str) -> Replies:
    bare = [_after_prompt(text, prompt) for _, text in shown]
    places = _align([plain(line.text) for line in lines], bare, [text for _, text in shown])
    owner: WrittenLine | None = None
    found: dict[int, int] = {}
    loose: list[tuple[int, str, WrittenLine | None]] = []
    for at, (number, text) in enumerate(shown):
        rest = bare[at] or "" if bare[at] is not None else text
        if at in places:
            owner = lines[places[at]]
            found[owner.number] = number
            rest = _rest(bare[at], text, plain(owner.text))
        if rest:
            loose.append((number, rest, owner))
    not_found = tuple(line for line in lines if line.number not in found)
    stopped = _stopped_after(lines, found)
    if stopped and loose and loose[-1][0] == shown[-1][0] and _is_cut_echo(loose[-1][1], stopped, not_found):
        loose.pop()
    return Replies(tuple(lines), True, found, not_found, stopped, _classified(loose, lines, found))


def _rest(bare: str | None, text: str, echoed: str) -> str:
    """What stands on an echoed line besides the echo; a reply that quotes the line is kept whole."""
    for candidate in (bare, text):
        if candidate is not None and candidate.startswith(echoed):
            return candidate[len(echoed) :].strip()
    return text


def _is_cut_echo(tail: str, stopped: WrittenLine, not_found: Sequence[WrittenLine]) -> bool:
    """Whether the transcript's last line is the beginning of the line that was being sent."""
    following = next((line for line in not_found if line.number > stopped.number), None)
    return following is not None and plain(following.text).startswith(tail)


def _stopped_after(lines: Sequence[WrittenLine], found: Mapping[int, int]) -> WrittenLine | None:
    """The last line that shows, when a setting line after it does not."""
    seen = [at for at, line in enumerate(lines) if line.number in found]
    if not seen or not any(line.key for line in lines[seen[-1] + 1 :]):
        return None
    return lines[seen[-1]]


def _align(texts: Sequence[str], bare: Sequence[str | None], shown: Sequence[str]) -> dict[int, int]:
    """Which transcript line shows which written line: ``{transcript place: written place}``."""
    where: dict[str, list[int]] = {}
    for at, text in enumerate(texts):
        where.setdefault(text, []).append(at)
    longest = max(map(len, texts), default=0)
    candidates: list[tuple[int, str]] = []
    for at, line in enumerate(bare):
        text = _known(line, where, longest) or (shown[at] if shown[at] in where else None)
        if text is not None:
            candidates.append((at, text))
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


def _without_echo(lines: Sequence[WrittenLine], shown: Sequence[tuple[int, str]]) -> Replies:
    """No written line shows: one reply a line if the replies look alike, or replies that name a setting."""
    settings = [line for line in lines if line.key is not None]
    common = Counter(_DIGITS.sub("#", text) for _, text in shown).most_common(1)
    counted = bool(common) and len(shown) <= len(lines) and common[0][1] * 2 > len(shown) and len(shown) > 1
    if counted:
        pool = list(lines) if len(shown) > len(settings) else settings
        loose: list[tuple[int, str, WrittenLine | None]] = [
            (number, text, line) for (number, text), line in zip(shown, pool, strict=False)
        ]
        found = {line.number: number for (number, _), line in zip(shown, pool, strict=False)}
        not_found = tuple(line for line in pool if line.number not in found)
        stopped = _stopped_after(pool, found)
        return Replies(
            tuple(lines), False, found, not_found, stopped, _classified(loose, lines, found), is_assumed=True
        )
    named = _Named(settings)
    loose = [(number, text, named.find(text)) for number, text in shown]
    return Replies(tuple(lines), False, {}, tuple(settings), None, _classified(loose, lines, {}))


class _Named:
    """Finds the setting a reply names."""

    def __init__(self, settings: Sequence[WrittenLine]) -> None:
        self._lines: dict[str, list[WrittenLine]] = {}
        for line in settings:
            if line.key is not None:
                self._lines.setdefault(line.key.name, []).append(line)

    def find(self, text: str) -> WrittenLine | None:
        for word in re.findall(r"[^\s,;:='\"()\[\]]+", text):
            lines = self._lines.get(word, [])
            if len(lines) == 1:
                return lines[0]
        return None


def _classified(
    loose: Sequence[tuple[int, str, WrittenLine | None]],
    lines: Sequence[WrittenLine],
    found: Mapping[int, int],
) -> tuple[Reply, ...]:
    """A reply pattern that most of the shown lines got is an acknowledgement.

    Setting lines and the other lines (section words …) are judged apart.
    """
    patterns = [_pattern(text, line) for _, text, line in loose]
    got: dict[tuple[bool, str], set[int]] = {}
    for (_, _, line), pattern in zip(loose, patterns, strict=True):
        if line is not None:
            got.setdefault((line.key is not None, pattern), set()).add(line.number)
    asked = {
        is_setting: sum((line.key is not None) is is_setting and line.number in found for line in lines)
        for is_setting in (True, False)
    }
    usual = {
        (is_setting, pattern)
        for (is_setting, pattern), numbers in got.items()
        if len(numbers) * 2 > asked[is_setting] and len(numbers) > 1
    }
    last = max((line.number for line in lines if line.key is not None), default=0)
    return tuple(
        Reply(
            number,
            text,
            _kind(line, (line is not None and line.key is not None, pattern) in usual, last),
            line,
        )
        for (number, text, line), pattern in zip(loose, patterns, strict=True)
    )


def _kind(line: WrittenLine | None, is_usual: bool, last: int) -> ReplyKind:
    if line is None or line.number > last:
        return ReplyKind.AROUND
    if is_usual:
        return ReplyKind.ACKNOWLEDGEMENT
    return ReplyKind.COMPLAINT


def _pattern(text: str, line: WrittenLine | None) -> str:
    """A reply with its setting's own name and value, and other numbers, replaced by marks."""
    if line is None or line.key is None:
        return _DIGITS.sub("#", text)
    value = line.value or ""
    words = []
    for word in text.split(" "):
        core = word.strip(".,;:=()[]'\"")
        if core and core == line.key.name:
            word = word.replace(core, "{name}")
        elif core and (core == value or _same_number(core, value)):
            word = word.replace(core, "{value}")
        else:
            word = _DIGITS.sub("#", word)
        words.append(word)
    return " ".join(words)


def _same_number(a: str, b: str) -> bool:
    if not (_NUMBER.fullmatch(a) and _NUMBER.fullmatch(b)):
        return False
    return float(a) == float(b)
