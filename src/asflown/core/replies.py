"""What a terminal printed while a listing was written: each reply attributed to its setting."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from asflown.core.record import Key
from asflown.core.reply_words import pattern, says_yes
from asflown.core.transcript import after_prompt, align, clean, learn_prompt, plain

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
    """What a reply is, told from the transcript alone: no word of any firmware is known here.

    Only where too few lines were written to compare is a plain yes of everyday English believed.
    """

    #: The same for most lines; where no reply is, a plain yes.
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
    by_words
        Taken as an acknowledgement for its words alone, because there was nothing to compare it with.
    """

    line: int
    text: str
    kind: ReplyKind
    after: WrittenLine | None = None
    by_words: bool = False


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

    @cached_property
    def usual(self) -> tuple[tuple[str, int], ...]:
        """The replies taken as acknowledgement: an example of each and how often, commonest first.

        Shown to a person, because a firmware that refuses every line answers every line alike.
        """
        return _ranked(reply for reply in self.replies if reply.kind is ReplyKind.ACKNOWLEDGEMENT)

    @cached_property
    def believed(self) -> tuple[tuple[str, int], ...]:
        """Those of them that were taken for their words alone."""
        return _ranked(reply for reply in self.replies if reply.by_words)

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


def _ranked(replies: Iterable[Reply]) -> tuple[tuple[str, int], ...]:
    examples: dict[str, list[str]] = {}
    for reply in replies:
        examples.setdefault(_pattern(reply.text, reply.after), []).append(reply.text)
    ranked = sorted(examples.values(), key=len, reverse=True)
    return tuple((texts[0], len(texts)) for texts in ranked)


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
    shown = [(number, text) for number, text in enumerate(clean(transcript), 1) if text]
    settings = [plain(line.text) for line in lines if line.key is not None]
    texts = frozenset(settings or [plain(line.text) for line in lines])
    prompt = learn_prompt(texts, max(map(len, texts), default=0), shown)
    if prompt is None:  # cut before the first setting: a section word or a table's head may show
        every = frozenset(plain(line.text) for line in lines)
        prompt = learn_prompt(every, max(map(len, every), default=0), shown)
    if prompt is None:
        return _without_echo(lines, shown)
    return _with_echo(lines, shown, prompt)


def _with_echo(lines: Sequence[WrittenLine], shown: Sequence[tuple[int, str]], prompt: str) -> Replies:
    bare = [after_prompt(text, prompt) for _, text in shown]
    places = align([plain(line.text) for line in lines], bare, [text for _, text in shown])
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

    Setting lines and the other lines (section words …) are judged apart. Where no pattern is that common
    among them, as when a single line was written, a plain yes is one.
    """
    patterns = [_pattern(text, line) for _, text, line in loose]
    got: dict[tuple[bool, str], set[int]] = {}
    for (_, _, line), shape in zip(loose, patterns, strict=True):
        if line is not None:
            got.setdefault((line.key is not None, shape), set()).add(line.number)
    asked = {
        is_setting: sum((line.key is not None) is is_setting and line.number in found for line in lines)
        for is_setting in (True, False)
    }
    usual = {
        (is_setting, shape)
        for (is_setting, shape), numbers in got.items()
        if len(numbers) * 2 > asked[is_setting] and len(numbers) > 1
    }
    compared = {is_setting for is_setting, _ in usual}
    last = max((line.number for line in lines if line.key is not None), default=0)
    replies = []
    for (number, text, line), shape in zip(loose, patterns, strict=True):
        is_setting = line is not None and line.key is not None
        by_words = line is not None and is_setting not in compared and _says_yes(text, line)
        kind = _kind(line, by_words or (is_setting, shape) in usual, last)
        replies.append(Reply(number, text, kind, line, by_words and kind is ReplyKind.ACKNOWLEDGEMENT))
    return tuple(replies)


def _kind(line: WrittenLine | None, is_usual: bool, last: int) -> ReplyKind:
    if line is None or line.number > last:
        return ReplyKind.AROUND
    if is_usual:
        return ReplyKind.ACKNOWLEDGEMENT
    return ReplyKind.COMPLAINT


def _pattern(text: str, line: WrittenLine | None) -> str:
    return pattern(text, line.key if line else None, line.value if line else None)


def _says_yes(text: str, line: WrittenLine) -> bool:
    return says_yes(text, line.key, line.value)
