"""The template of a setting line: how one line comes apart into name, index, value and unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from asflown.formats.listing.values import QUOTES, Found, Span, ValueRules, close_quote, split_value, trim

BLANKS = " \t"
_INDEX = re.compile(r"^(.*?[^\s\[\]()])((?:\s?\[[^\[\]\s]{1,24}\]){1,3}|\s?\(\d{1,6}(?:,\s?\d{1,6}){0,2}\))$")
_WORD = re.compile(r"\S+")
_MARKED = re.compile(r"\s*(?:[:=]|:=|==|[-=]>|\.{3,})(?:\s|$)")


class SettingShape(Protocol):
    """Anything that can take a setting line apart."""

    def match(self, text: str) -> Found | None:
        """The line's parts, or ``None`` where this is no line of that shape."""

    def pattern(self) -> str:
        """The template as a person may pin it."""

    def says(self) -> str:
        """What was learned, in one sentence."""


@dataclass(frozen=True)
class Separator:
    r"""What stands between name and value.

    Attributes
    ----------
    mark
        The literal; ``" "`` for one or more blanks, ``"  "`` for two or more or a tab, ``"\\t"`` for tabs;
        three equal characters (``...``) for a leader of any length.
    before, after
        Whether a blank always stands before, after it.
    words
        Constant words between the mark and the value, e.g. ``("is", "set", "to")``.
    """

    mark: str
    before: bool = False
    after: bool = False
    words: tuple[str, ...] = ()

    @property
    def blank(self) -> bool:
        """Whether nothing but blanks stands between."""
        return not self.mark.strip()

    @property
    def leader(self) -> bool:
        """Whether it is a run of dots or the like, of any length."""
        return len(self.mark) == 3 and len(set(self.mark)) == 1 and not self.blank

    def find(self, text: str, start: int) -> Span | None:
        """Where the separator stands at or after ``start``."""
        if self.mark == "  ":
            return self._wide(text, start)
        strict = self._find(text, start, self.before, self.after)
        if strict is None and self.before != self.after:
            return None
        if strict is None and (self.before or self.after):
            loose = self._find(text, start, False, False)
            clock = (
                loose is not None
                and (text[loose[0] - 1] + text[loose[1] : loose[1] + 1]).isdigit()
                and loose[1] < len(text)
            )
            return loose if loose is None or not clock or self.mark != ":" else None
        return strict

    def _find(self, text: str, start: int, before: bool, after: bool) -> Span | None:
        place = text.find(self.mark, start)
        while place >= 0:
            end = place + len(self.mark)
            ahead = not before or (place > start and text[place - 1] in BLANKS)
            behind = not after or end == len(text) or text[end] in BLANKS
            if place > start and ahead and behind:
                return place, self._end(text, end)
            place = text.find(self.mark, place + 1)
        return None

    def _end(self, text: str, end: int) -> int:
        if self.leader:
            while end < len(text) and text[end] == self.mark[0]:
                end += 1
            if end < len(text) and text[end] in ":=":
                end += 1
        return end

    @staticmethod
    def _wide(text: str, start: int) -> Span | None:
        places = [place for place in (text.find("  ", start), text.find("\t", start)) if place > start]
        return (min(places), min(places) + 1) if places else None


@dataclass(frozen=True)
class LineShape:
    """A line template learned from a listing.

    Attributes
    ----------
    prefix
        Constant leading words.
    skip
        Words before the name that are no part of it (a type, a running number).
    single
        Whether a name is always one word.
    index_token
        Names (first words) followed by a separate index word.
    extended
        In multi-word statements: word sequences that do not yet identify and take one more word.
    skip_after
        Words between separator and value that are no part of it (a type column).
    trailing
        Words after the value that are no part of it (a type column).
    """

    separator: Separator
    prefix: tuple[str, ...] = ()
    skip: int = 0
    single: bool = True
    index_token: frozenset[str] = frozenset()
    extended: frozenset[tuple[str, ...]] = frozenset()
    skip_after: int = 0
    trailing: int = 0
    values: ValueRules = field(default_factory=ValueRules)
    #: Most words a value has, where values are short; a line with more is prose (0: no limit).
    value_words: int = 0
    brackets: bool = True
    lone_names: bool = False
    #: Whether a line whose value would begin with a separator (``= 3``) is of another shape.
    plain_values: bool = False

    def match(self, text: str) -> Found | None:
        """The line's parts, or ``None``."""
        start = self._after_prefix(text)
        if start is None:
            return None
        return self._blank_separated(text, start) if self.separator.blank else self._marked(text, start)

    def _after_prefix(self, text: str) -> int | None:
        place = 0
        size = len(text)
        while place < size and text[place] in BLANKS:
            place += 1
        for word in self.prefix:
            if not text.startswith(word, place):
                return None
            place += len(word)
            if place < size and text[place] not in BLANKS:
                return None
            while place < size and text[place] in BLANKS:
                place += 1
        for _ in range(self.skip):
            found = _WORD.match(text, place)
            if found is None:
                return None
            place = trim(text, found.end(), size)[0]
        return place if place < size else None

    def _marked(self, text: str, start: int) -> Found | None:
        from_place = start
        if text[start] in QUOTES:
            closing = close_quote(text, start)
            if closing > 0:
                from_place = closing
        at = self.separator.find(text, from_place)
        if at is None:
            return None
        name = trim(text, start, at[0])
        return self._parts(text, name, at[1], None)

    def _parts(self, text: str, name: Span, after: int, index: Span | None) -> Found | None:
        if index is None and self.index_token:
            name, index = self._split_index_word(text, name)
        plain, inner, index_text = _name_and_index(text, name, self.brackets)
        if index is not None:
            inner, index_text = index, text[index[0] : index[1]]
        label = text[plain[0] : plain[1]]
        if not label or (self.single and (" " in label or "\t" in label) and text[name[0]] not in QUOTES):
            return None
        begin = self._after_words(text, after)
        if begin is None or (self.plain_values and _MARKED.match(text, begin)):
            return None
        end = len(text)
        for _ in range(self.trailing):
            end = trim(text, begin, end)[1]
            end = max(text.rfind(" ", begin, end), text.rfind("\t", begin, end))
            if end < 0:
                return None
        value, unit = split_value(text, begin, end, self.values)
        shown = text[value[0] : value[1]]
        if (
            self.value_words
            and shown.count(" ") >= self.value_words
            and len(shown.split()) > self.value_words
        ):
            return None
        return Found(
            label,
            index_text,
            shown,
            text[unit[0] : unit[1]] if unit else None,
            None,
            plain,
            inner,
            value,
            unit,
        )

    def _split_index_word(self, text: str, name: Span) -> tuple[Span, Span | None]:
        blank = max(text.rfind(" ", *name), text.rfind("\t", *name))
        if blank < 0:
            return name, None
        head = trim(text, name[0], blank)
        if text[head[0] : head[1]] in self.index_token and text[blank + 1 : name[1]].isdecimal():
            return head, (blank + 1, name[1])
        return name, None

    def _after_words(self, text: str, place: int) -> int | None:
        for word in self.separator.words:
            place = trim(text, place, len(text))[0]
            if not text.startswith(word, place):
                return None
            place += len(word)
        for _ in range(self.skip_after):
            place = trim(text, place, len(text))[0]
            found = _WORD.match(text, place)
            if found is None:
                return None
            place = found.end()
        return place

    def _blank_separated(self, text: str, start: int) -> Found | None:
        end = self._name_end(text, start)
        if end is None:
            return None
        name = trim(text, start, end)
        if name[1] - name[0] > 1 and text[name[1] - 1] in ":=" and text[name[1] - 2] not in ":=":
            name = (name[0], name[1] - 1)
        index = None
        if self.index_token and text[name[0] : name[1]] in self.index_token:
            place = trim(text, end, len(text))[0]
            found = _WORD.match(text, place)
            if found is not None and found.group().isdecimal():
                index, end = found.span(), found.end()
        if end >= len(text) and not self.lone_names:
            return None
        return self._parts(text, name, end, index)

    def _name_end(self, text: str, start: int) -> int | None:
        if text[start] in QUOTES:
            closing = close_quote(text, start)
            return closing + 1 if closing > 0 else None
        if self.separator.mark in ("  ", "\t"):
            at = self.separator.find(text, start)
            return at[0] if at else (len(text) if self.lone_names else None)
        found = _WORD.match(text, start)
        if found is None:
            return None
        if not self.extended:
            return found.end()
        words = [found.group()]
        while tuple(words) in self.extended:
            more = _WORD.match(text, trim(text, found.end(), len(text))[0])
            if more is None:
                break
            found = more
            words.append(found.group())
        return found.end()

    def pattern(self) -> str:
        """The template as a person may pin it."""
        words = [*self.prefix, *["{skip}"] * self.skip, "{name}"]
        left = " ".join(words) + (" {index}" if self.index_token else "")
        mark = self.separator
        if mark.blank:
            between = "  " if mark.mark == "  " else (mark.mark if mark.mark == "\t" else " ")
        else:
            between = f"{' ' if mark.before else ''}{mark.mark}{' ' if mark.after else ''}"
        words = [*mark.words, *["{skip}"] * self.skip_after, self._value_pattern()]
        return left + between + " ".join(words) + self.values.terminator

    def _value_pattern(self) -> str:
        opening, closing = self.values.wrap or ("", "")
        unit = ""
        if self.values.units:
            wrap = self.values.unit_wrap or ("", "")
            unit = f" {wrap[0]}{{unit}}{wrap[1]}"
        return f"{opening}{{value}}{closing}{unit}" + " {skip}" * self.trailing

    def says(self) -> str:
        """What was learned, in one sentence."""
        facts = [f"the name, then {self._separator_words()}, then the value"]
        if self.prefix:
            facts.insert(0, f"each line begins with {quoted(' '.join(self.prefix))}")
        if self.skip:
            facts.append(f"{self.skip} word(s) before the name are passed over")
        if self.skip_after:
            facts.append(f"{self.skip_after} word(s) before the value are passed over")
        if self.index_token:
            facts.append("a number after some names is their index")
        if self.extended:
            facts.append("some statements are told apart by more than one word")
        if self.values.terminator:
            facts.append(f"{quoted(self.values.terminator)} ends a line")
        if self.values.units:
            facts.append("a unit may follow the value")
        if self.values.tails:
            facts.append(f"{', '.join(quoted(mark) for mark in self.values.tails)} begins a remark")
        return "; ".join(facts)

    def _separator_words(self) -> str:
        mark = self.separator
        base = {" ": "blanks", "  ": "two or more blanks", "\t": "a tab"}.get(mark.mark, quoted(mark.mark))
        if mark.leader:
            base = f"a row of {quoted(mark.mark[0])}"
        return base + "".join(f" {quoted(word)}" for word in mark.words)


def quoted(text: str) -> str:
    """A literal in the sentences for people."""
    return f"'{text}'" if "'" not in text else f'"{text}"'


def _name_and_index(text: str, name: Span, brackets: bool = True) -> tuple[Span, Span | None, str | None]:
    start, end = name
    if end - start >= 2 and text[start] in QUOTES and close_quote(text, start) == end - 1:
        return (start + 1, end - 1), None, None
    if not brackets or end <= start or text[end - 1] not in "])" or end - start > 200:
        return name, None, None
    found = _INDEX.match(text[start:end])
    if found is None:
        return name, None, None
    inner = found.group(2).strip()
    if inner[0] == "(":
        index = inner[1:-1].replace(" ", "")
    else:
        index = ",".join(part.strip(" []") for part in inner.split("]") if part.strip(" []"))
    offset = start + found.end(1) + len(found.group(2)) - len(found.group(2).lstrip())
    return (start, start + found.end(1)), (offset + 1, end - 1), index


@dataclass(frozen=True)
class Kept:
    """A statement kept for the writer: which lines stand in front of and behind each bank."""

    lines: Mapping[str | None, tuple[str, ...]] = field(default_factory=dict)
