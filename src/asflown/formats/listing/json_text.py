"""Listings written as JSON: every scalar with its path and its place in the text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass

from asflown.errors import InputError

_BLANK = re.compile(r"[ \t\r\n]*")
_SCALAR = re.compile(r"-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][-+]?\d+)?|true|false|null")
_PLAIN_STRING = re.compile(r'"[^"\\\x00-\x1f]*"')
DEPTH = 64

Step = str | int


class NotJson(ValueError):
    """The text is no JSON."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """One scalar: its path from the top, its text without quotes, and where its literal stands."""

    path: tuple[Step, ...]
    text: str
    is_string: bool
    start: int
    end: int


def scan(text: str) -> list[Scalar]:
    """Every scalar of a JSON text in order; empty containers count as scalars ``{}`` and ``[]``.

    Raises
    ------
    NotJson
        Where the text is not well-formed, has duplicate keys or is nested deeper than `DEPTH`.
    InputError
        Where a text in it holds half a surrogate pair.
    """
    scanner = _Scanner(text)
    return list(scanner.run())


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.place = 0

    def _skip(self) -> str:
        found = _BLANK.match(self.text, self.place)
        self.place = found.end() if found else self.place
        return self.text[self.place : self.place + 1]

    def _expect(self, char: str) -> None:
        if self._skip() != char:
            raise NotJson(f"expected {char!r} at character {self.place}")
        self.place += 1

    def run(self) -> Iterator[Scalar]:
        yield from self._value(())
        if self._skip():
            raise NotJson("text after the end")

    def _value(self, path: tuple[Step, ...]) -> Iterator[Scalar]:
        char = self._skip()
        if len(path) > DEPTH:
            raise NotJson("nested too deep")
        start = self.place
        if char in "{[" and char:
            yield from self._container(path, char, start)
        elif char == '"':
            yield Scalar(path, self._string(), True, start, self.place)
        else:
            found = _SCALAR.match(self.text, start)
            if found is None:
                raise NotJson(f"no value at character {start}")
            self.place = found.end()
            yield Scalar(path, found.group(), False, start, self.place)

    def _container(self, path: tuple[Step, ...], char: str, start: int) -> Iterator[Scalar]:
        closing = "}" if char == "{" else "]"
        self.place += 1
        if self._skip() == closing:
            self.place += 1
            yield Scalar(path, char + closing, False, start, self.place)
            return
        number = 0
        seen: set[str] = set()
        while True:
            step: Step = number
            if char == "{":
                self._skip()
                step = self._string()
                self._expect(":")
                seen.add(step)
            yield from self._value((*path, step))
            number += 1
            if self._skip() == closing:
                self.place += 1
                return
            self._expect(",")

    def _string(self) -> str:
        plain = _PLAIN_STRING.match(self.text, self.place)
        if plain is not None:
            self.place = plain.end()
            return plain.group()[1:-1]
        if self.text[self.place : self.place + 1] != '"':
            raise NotJson(f"expected a string at character {self.place}")
        end = self._string_end(self.place)
        literal = self.text[self.place : end]
        try:
            decoded = json.loads(literal)
        except ValueError as error:
            raise NotJson(str(error)) from None
        if any("\ud800" <= sign <= "\udfff" for sign in decoded):
            raise InputError(
                "a text holds half a character (a lone surrogate), which no file or terminal can show",
                where=f"line {self.text.count(chr(10), 0, self.place) + 1}",
                next_step="take it out of the text",
            )
        self.place = end
        return str(decoded)

    def _string_end(self, start: int) -> int:
        place = start + 1
        while True:
            quote = self.text.find('"', place)
            if quote < 0:
                raise NotJson("unfinished string")
            back = quote
            while back > start + 1 and self.text[back - 1] == "\\":
                back -= 1
            if (quote - back) % 2 == 0:
                return quote + 1
            place = quote + 1
