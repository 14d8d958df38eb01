"""Learning what follows a separator: terminators, trailing remarks, units, brackets around values."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from asflown.formats.listing.values import NUMBER, QUOTES, ValueRules, close_quote, learn_units, split_value

_MARK = re.compile(r"[ \t](#+|//+|;+|--+|!+|%+|/\*|<!--|\(|\{|\[|<|\||·|—|–)")
#: A mark that stands apart from the value and from the words behind it.
_APART = re.compile(r"(?:[ \t]{2}|[;,\"'][ \t])(#+|//+|;+|--+|!+|%+|/\*|<!--)[ \t]+\w")
#: Several pairs of brackets behind a value: its range, its factory value.
_GROUPS = re.compile(r"[ \t]+([\[({<])[^\[\](){}<>]*[\])}>](?:\s*[\[({<][^\[\](){}<>]*[\])}>])+\s*[;,]?$")
_CLOSING = {"(": ")", "{": "}", "[": "]", "<": ">"}
#: The mark that stands for two or more blanks before a description in a column of its own.
WIDE = "  "


def learn_following(
    rights: Sequence[str], columns: Sequence[int], remark_marks: Sequence[str], *, sentence: bool
) -> ValueRules:
    """The rules for what stands after the separator.

    Parameters
    ----------
    rights
        The rest of each line from the value on.
    columns
        Where each value begins in its line.
    remark_marks
        Marks of whole-line remarks: a trailing one is likely the same.
    sentence
        Whether constant words stand between name and value, so that a full stop may end the line.
    """
    if not rights:
        return ValueRules()
    lead = _lead(rights)
    if lead is not None:
        whole = rights
        rights = [
            right[right.find(lead[1]) + 1 :].lstrip() if right.startswith(lead[0]) else right
            for right in rights
        ]
        columns = [c + len(a) - len(b) for c, a, b in zip(columns, whole, rights, strict=True)]
    tails = _tails(rights, remark_marks)
    cut = ValueRules(tails=tuple(tails))
    shown = [_cut(right, cut) for right in rights]
    terminator = _terminator(shown, sentence)
    if terminator:
        shown = [text.removesuffix(terminator).rstrip() for text in shown]
    units, unit_wrap = learn_units([_unquoted_head(text) for text in shown])
    if _wide_column(shown, columns, units):
        tails.append(WIDE)
    if units and unit_wrap is not None:
        tails = [mark for mark in tails if mark != unit_wrap[0]]
    tails, units, unit_wrap = _brackets(rights, tails, units, unit_wrap)
    if not units and tails:
        again = ValueRules(tails=tuple(tails))
        units, unit_wrap = learn_units([_unquoted_head(_cut(right, again)) for right in rights])
    wrap = _wrap(shown) if not units else None
    return ValueRules(terminator, tuple(tails), units, unit_wrap, wrap, lead)


def _cut(right: str, rules: ValueRules) -> str:
    if right[:1] in QUOTES and right:
        closing = close_quote(right, 0)
        if closing > 0:
            rest = right[closing + 1 :]
            place = min((p for mark in rules.tails if (p := rest.find(f" {mark}")) >= 0), default=len(rest))
            return right[: closing + 1] + rest[:place].rstrip()
    value, _ = split_value(right, 0, len(right), rules)
    return right[value[0] : value[1]] if right[:1] not in QUOTES else right


def _unquoted_head(text: str) -> str:
    if text[:1] in QUOTES and text:
        closing = close_quote(text, 0)
        if closing > 0:
            inner = text[1:closing]
            return f"{inner if NUMBER.fullmatch(inner) else 'x'} {text[closing + 1 :].strip()}"
    return text


def _after_quotes(right: str) -> str:
    if right[:1] in QUOTES and right:
        closing = close_quote(right, 0)
        return right[closing:] if closing > 0 else right
    return right


def _tails(rights: Sequence[str], remark_marks: Sequence[str]) -> list[str]:
    firsts: Counter[str] = Counter()
    several = 0
    clear: set[str] = set()
    for right in rights:
        rest = _after_quotes(right)
        if " " not in rest and "\t" not in rest:
            continue
        several += 1
        seen = {
            match.group(1) for match in _MARK.finditer(rest[:2000]) if match.start() > 0 or rest is not right
        }
        firsts.update(seen)
        apart = _APART.search(rest[:2000])
        if apart is not None and (apart.start() > 0 or rest is not right):
            clear.add(apart.group(1))
    found = []
    for mark, count in firsts.items():
        if mark in _CLOSING:
            continue
        if (
            mark in remark_marks
            or mark in clear
            or count >= max(2, 0.5 * several)
            or count >= max(2, 0.1 * len(rights))
        ):
            found.append(mark)
    if _starred(rights):
        found.append("*")
    found.extend(
        mark for mark in remark_marks if mark not in found and mark in ("#", ";", "//", "!", "--", "%")
    )
    return found


def _starred(rights: Sequence[str]) -> bool:
    """Whether a lone star behind some values marks them, e.g. as changed."""
    stars = [right for right in rights if "*" in right]
    return 2 <= len(stars) < len(rights) and all(
        right.rstrip().endswith((" *", "\t*")) and right.count("*") == 1 for right in stars
    )


def _brackets(
    rights: Sequence[str], tails: list[str], units: frozenset[str], unit_wrap: tuple[str, str] | None
) -> tuple[list[str], frozenset[str], tuple[str, str] | None]:
    counts: Counter[str] = Counter()
    for right in rights:
        rest = _after_quotes(right)
        match = next((m for m in _MARK.finditer(rest[:2000]) if m.group(1) in _CLOSING), None)
        closed = match is not None and rest.rstrip(" ;,").endswith(_CLOSING[match.group(1)])
        groups = _GROUPS.search(rest[:2000]) if not closed else None
        if groups is not None and groups.start() > 0:
            counts[groups.group(1)] += 1
        elif match is not None and match.start() > 0 and closed:
            counts[match.group(1)] += 1
    for mark, count in counts.items():
        if count < max(3, 0.3 * len(rights)):
            continue
        if unit_wrap is not None and mark == unit_wrap[0]:
            continue
        tails.append(mark)
    return tails, units, unit_wrap


def _terminator(shown: Sequence[str], sentence: bool) -> str:
    for mark in (";", ",", "."):
        count = sum(text.endswith(mark) for text in shown)
        if mark == "." and not sentence:
            continue
        if count >= 2 and count >= 0.75 * (len(shown) - 1):
            return mark
    return ""


def _wide_column(shown: Sequence[str], columns: Sequence[int], units: frozenset[str]) -> bool:
    """Whether descriptions stand in a column of their own, two or more blanks behind the value."""
    starts: Counter[int] = Counter()
    rests: list[str] = []
    for text, column in zip(shown, columns, strict=True):
        rest = _after_quotes(text)
        gap = re.search(r"(?:[ ]{2,}|\t+)(\S)", rest)
        if gap is not None and gap.start() > 0:
            starts[column + len(text) - len(rest) + gap.start(1)] += 1
            rests.append(rest[gap.start(1) :].strip())
    if len(rests) < max(3, 0.5 * len(shown)):
        return False
    if units and sum(rest in units for rest in rests) > 0.5 * len(rests):
        return False
    words = [word for rest in rests[:50] for word in rest[:200].split()]
    if sum(NUMBER.fullmatch(word) is not None for word in words) >= 0.4 * len(words):
        return False
    return starts.most_common(1)[0][1] >= 0.6 * len(rests)


def _lead(rights: Sequence[str]) -> tuple[str, str] | None:
    """Brackets with words in them that stand before (nearly) every value."""
    if len(rights) < 3:
        return None
    for opening, closing in (("(", ")"), ("[", "]"), ("<", ">")):
        count = 0
        for right in rights:
            end = right.find(closing)
            count += right.startswith(opening) and 0 < end < len(right) - 1 and right[end + 1] in " \t"
        if count >= 0.9 * len(rights):
            return opening, closing
    return None


def _wrap(shown: Sequence[str]) -> tuple[str, str] | None:
    if len(shown) < 3:
        return None
    for opening, closing in (("<", ">"), ("[", "]"), ("(", ")"), ("{", "}")):
        if all(text.startswith(opening) and text.endswith(closing) and len(text) > 1 for text in shown):
            return opening, closing
    return None
