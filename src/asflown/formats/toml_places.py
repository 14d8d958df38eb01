"""Where the keys of a TOML file stand: paths and line numbers, found without reading the values.

The parser of the standard library gives values but no places. This reads a file's outline in one pass whose
work grows with the length of the file alone, whatever is in it; it never refuses anything.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

Path = tuple[str | int, ...]

#: The most names a dotted key may have; the parser's work grows with their square.
DEEPEST = 40

#: Strings and comments as TOML 1.0 writes them; what is not closed reaches to the end of its line or text.
#: No possessive group: Python before 3.11.5 matches some of them wrongly (gh-106052). What follows a group's
#: repetition always fits where it ends, so that nothing is tried twice.
_QUOTED = (
    r'"""[^"\\]*+(?:(?:\\.|"(?!""))[^"\\]*+)*(?:"{3,5}|\Z|\\)'
    r"|'''[^']*+(?:'(?!'')[^']*+)*(?:'{3,5}|\Z)"
    r'|"[^"\\\n]*+(?:\\[^\n][^"\\\n]*+)*"?'
    r"|'[^'\n]*+'?"
)
_COMMENT = r"\#[^\n]*+"
_TOKEN = (
    rf"(?P<comment>{_COMMENT})|(?P<quoted>{_QUOTED})|(?P<bare>[A-Za-z0-9_-]++)"
    r"|(?P<blank>[ \t\r]++)|(?P<mark>.)"
)


def _tokens(text: str) -> Iterator[re.Match[str]]:
    """Compiled when it is first needed: a file without a fault is read without it."""
    return re.finditer(_TOKEN, text, re.DOTALL)


def places(text: str) -> Iterator[tuple[Path, int]]:
    """Path and line of each table header and key, in order; arrays of tables count from 0."""
    counts: dict[Path, int] = {}
    here: Path = ()
    for kind, names, line in _statements(text):
        if len(names) > DEEPEST:
            continue
        if kind:
            here = _header_path(names, kind == "[[", counts)
            yield here, line
        else:
            yield (*here, *names), line


def too_deep(text: str) -> int | None:
    """The line of the first dotted key of more than :data:`DEEPEST` names, ``None`` where there is none."""
    if all(line.count(".") < DEEPEST for line in text.split("\n")):
        return None
    line, run = 1, 0
    for match in _tokens(text):
        word = match[0]
        if word == ".":
            run += 1
            if run >= DEEPEST:
                return line
        elif match.lastgroup not in ("bare", "quoted", "blank"):
            run = 0
        line += word.count("\n")
    return None


def line_of(text: str, literal: str) -> int | None:
    """The line where a word first stands outside strings and comments (of TOML, or of JSON)."""
    pattern = re.compile(rf"{_COMMENT}|{_QUOTED}|(?P<it>(?<![\w.]){re.escape(literal)}(?![\w.]))", re.DOTALL)
    match = next((found for found in pattern.finditer(text) if found["it"] is not None), None)
    return None if match is None else text.count("\n", 0, match.start()) + 1


def _statements(text: str) -> Iterator[tuple[str, tuple[str, ...], int]]:
    """Each header (``[`` or ``[[``) and key (no bracket) with its names and its line."""
    line, depth = 1, 0
    head: list[str] | None = []  # the tokens of this statement so far; None behind its `=` or last bracket
    for match in _tokens(text):
        word, kind = match[0], match.lastgroup
        if word == "\n":
            line += 1
            if depth == 0 or head is not None:
                head, depth = [], 0
        elif kind in ("comment", "blank"):
            continue
        elif head is None:
            depth = max(depth + (word in ("[", "{")) - (word in ("]", "}")), 0)
            line += word.count("\n")
        elif word == "=" or (word == "]" and head[:1] == ["["]):
            if word == "]" or head[:1] != ["["]:
                yield _told(head, line)
            head = None
        else:
            head.append(word)
            line += word.count("\n")


def _told(head: list[str], line: int) -> tuple[str, tuple[str, ...], int]:
    bracket = "[[" if head[:2] == ["[", "["] else "[" if head[:1] == ["["] else ""
    return bracket, tuple(_name(word) for word in head if word not in ("[", ".")), line


def _name(word: str) -> str:
    if word[0] not in "\"'":
        return word
    if word[0] == '"' and "\\" in word:
        try:
            return str(json.loads(word))
        except ValueError:
            pass
    return word.strip(word[0])


def _header_path(names: tuple[str, ...], is_array: bool, counts: dict[Path, int]) -> Path:
    path: Path = ()
    for depth, part in enumerate(names):
        path = (*path, part)
        if is_array and depth == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path
