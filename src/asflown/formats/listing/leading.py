"""What a log or a mail puts in front of every line: quotation marks, times, log words, running numbers."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence

from asflown.formats.listing.text import Line

_CLOCK = r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d{1,9})?)?(?:Z|[+-]\d{2}:?\d{2})?"
_TIME = re.compile(
    rf"\s*[\[(<]?(?:(?:\d{{4}}[-/.]\d{{2}}[-/.]\d{{2}}[T ]|[A-Z][a-z]{{2}} [ \d]\d )?{_CLOCK}"
    r"|\s*\d{1,9}\.\d{3,6}(?=\]))[\])>]?(?:\s*[:|>-])?\s+"
)
_LOG_WORDS = (
    re.compile(r"[\[(<]?(?i:trace|debug|info|notice|warn|warning|error|log)[\])>]?:?\s+"),
    re.compile(r"(?:[\w.\-]{1,64} )?[\w./\-]{1,64}\[\d{1,9}\]: "),
)
_QUOTED = re.compile(r"> ?")
_NUMBER = re.compile(r"\s*[\[(#]?(\d{1,8}|0[xX][0-9A-Fa-f]{1,8})(?:[\])]?[:.|)]?)(?:\s+|\t)")
#: What a line that holds a setting looks like behind such a lead.
_TWO_PARTS = re.compile(r"\s*[^\W\d][^\s=:]*(?:[ \t]+\S|\s*[=:])|\s*[\"'$%&!@/\[#;]")
SAMPLE = 2000


def take_off(lines: Sequence[Line]) -> list[tuple[Line, str]]:
    """Take off what stands in front of (nearly) every line and is no part of it.

    Returns
    -------
    list
        The lines that were changed, with the text they had.
    """
    filled = [line for line in lines if line.text.strip()]
    if len(filled) < 3:
        return []
    before: list[tuple[Line, str]] = []
    for pattern, believed in ((_QUOTED, _always), (_TIME, _has_rest), (_NUMBER, _runs)):
        if not _leads(filled, pattern, believed):
            continue
        _cut(filled, pattern, before)
        if pattern is _TIME:
            for words in _LOG_WORDS:
                if _leads(filled, words, _has_rest):
                    _cut(filled, words, before)
    return before


def _leads(
    filled: Sequence[Line], pattern: re.Pattern[str], believed: Callable[[Sequence[str], Sequence[str]], bool]
) -> bool:
    sample = filled[:SAMPLE]
    if pattern.match(sample[-1].text) is None and pattern.match(sample[0].text) is None:
        return False
    found = [
        (match.group(), line.text[match.end() :]) for line in sample if (match := pattern.match(line.text))
    ]
    if len(found) < 0.97 * len(sample):
        return False
    return believed([lead for lead, _ in found], [rest for _, rest in found])


def _cut(filled: Sequence[Line], pattern: re.Pattern[str], before: list[tuple[Line, str]]) -> None:
    for line in filled:
        match = pattern.match(line.text)
        if match is not None:
            before.append((line, line.text))
            line.text, line.noisy = line.text[match.end() :], True


def put_back(before: Sequence[tuple[Line, str]]) -> None:
    """Give the lines the texts they had."""
    for line, text in reversed(before):
        line.text = text


def _always(leads: Sequence[str], rests: Sequence[str]) -> bool:
    return any(rest.strip() for rest in rests)


def _has_rest(leads: Sequence[str], rests: Sequence[str]) -> bool:
    return sum(_TWO_PARTS.match(rest) is not None for rest in rests) >= 0.8 * len(rests)


def _runs(leads: Sequence[str], rests: Sequence[str]) -> bool:
    """Whether leading numbers go up by one and the same step from line to line."""
    if len(leads) < 4 or not _has_rest(leads, rests):
        return False
    words = [_digits(lead) for lead in leads]
    numbers = [int(word, 16 if word[:2] in ("0x", "0X") else 10) for word in words]
    steps = [b - a for a, b in itertools.pairwise(numbers)]
    step = max(set(steps), key=steps.count)
    return step > 0 and steps.count(step) >= 0.95 * len(steps)


def _digits(lead: str) -> str:
    match = _NUMBER.match(lead)
    return match.group(1) if match else "0"
