"""A small safe arithmetic for change notes: numbers, names, ``+ - * / ( )`` and a few functions."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, DecimalException, localcontext
from functools import cached_property
from typing import Union

from asflown.errors import InputError

#: Longest text and deepest nesting read.
LONGEST = 500
DEEPEST = 40

_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d+(?:\.\d*)?(?:[eE][+-]?\d{1,2})?|\.\d+)"
    r"|(?P<name>[A-Za-z_][A-Za-z0-9_.\-]*)"
    r"|\"(?P<quoted>[^\"]+)\""
    r"|(?P<mark><=|>=|==|!=|[-+*/(),<>]))",
    re.ASCII,
)

Node = Union["_Number", "_Name", "_Call"]


@dataclass(frozen=True, slots=True)
class _Number:
    value: Decimal


@dataclass(frozen=True, slots=True)
class _Name:
    name: str


@dataclass(frozen=True, slots=True)
class _Call:
    function: str
    arguments: tuple[Node, ...]


def _truth(value: bool) -> Decimal:
    return Decimal(1) if value else Decimal(0)


_FUNCTIONS: Mapping[str, tuple[int, Callable[..., Decimal]]] = {
    "+": (2, lambda a, b: a + b),
    "-": (2, lambda a, b: a - b),
    "*": (2, lambda a, b: a * b),
    "/": (2, lambda a, b: a / b),
    "<": (2, lambda a, b: _truth(a < b)),
    ">": (2, lambda a, b: _truth(a > b)),
    "<=": (2, lambda a, b: _truth(a <= b)),
    ">=": (2, lambda a, b: _truth(a >= b)),
    "==": (2, lambda a, b: _truth(a == b)),
    "!=": (2, lambda a, b: _truth(a != b)),
    "negative": (1, lambda a: -a),
    "min": (2, min),
    "max": (2, max),
    "abs": (1, abs),
    "round": (1, lambda a: a.to_integral_value()),
    "if": (3, lambda test, yes, no: yes if test else no),
}


@dataclass(frozen=True)
class Expression:
    """A parsed expression.

    Attributes
    ----------
    text
        As written.
    """

    text: str
    root: Node

    @cached_property
    def names(self) -> frozenset[str]:
        """Names it uses."""
        return frozenset(_names(self.root))

    def evaluate(self, values: Mapping[str, Decimal]) -> Decimal:
        """Its value, in 40-digit decimal arithmetic.

        Raises
        ------
        InputError
            When a name has no value, or a division by zero or an overflow occurs.
        """
        with localcontext() as context:
            context.prec = 40
            try:
                return _evaluate(self.root, values)
            except KeyError as missing:
                raise InputError(f"'{self.text}' needs a value for {missing.args[0]}") from None
            except DecimalException:
                given = ", ".join(f"{name} = {value}" for name, value in sorted(values.items()))
                raise InputError(f"'{self.text}' has no value for {given}") from None


def parse(text: str) -> Expression:
    """Parse an expression.

    A name with characters that would read as arithmetic stands in double quotes.

    Raises
    ------
    InputError
        With the position of what was not expected.

    Examples
    --------
    >>> from decimal import Decimal
    >>> parse("if(old < 10, 10, old * 2)").evaluate({"old": Decimal(12)})
    Decimal('24')
    """
    if len(text) > LONGEST:
        raise InputError(f"expression of {len(text)} characters; at most {LONGEST} are read")
    parser = _Parser(text)
    root = parser.comparison(0)
    parser.end()
    return Expression(text, root)


class _Parser:
    """Recursive descent over the tokens of one expression."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens: list[tuple[str, str, int]] = []
        at = 0
        while at < len(text.rstrip()):
            match = _TOKEN.match(text, at)
            if match is None:
                begin = len(text) - len(text[at:].lstrip())
                raise self._unexpected(text[begin : begin + 1], begin)
            kind = str(match.lastgroup)
            self.tokens.append((kind, match[kind], match.start(kind)))
            at = match.end()
        self.at = 0

    def _unexpected(self, what: str, position: int) -> InputError:
        return InputError(
            f"'{what}' at position {position + 1} of '{self.text}' is not expected",
            next_step="use numbers, setting names, + - * / ( ), min, max, abs, round and if(test, a, b)",
        )

    def _peek(self) -> str:
        return self.tokens[self.at][1] if self.at < len(self.tokens) else ""

    def _is_mark(self, *marks: str) -> bool:
        return self.at < len(self.tokens) and self.tokens[self.at][0] == "mark" and self._peek() in marks

    def _expect(self, mark: str) -> None:
        if not self._is_mark(mark):
            self._refuse()
        self.at += 1

    def _refuse(self) -> None:
        if self.at < len(self.tokens):
            raise self._unexpected(self._peek(), self.tokens[self.at][2])
        raise self._unexpected("the end", len(self.text))

    def end(self) -> None:
        """Nothing may follow."""
        if self.at < len(self.tokens):
            self._refuse()

    def comparison(self, depth: int) -> Node:
        """``sum [< sum]``."""
        if depth > DEEPEST:
            raise InputError(f"'{self.text[:40]}…' is nested more than {DEEPEST} deep")
        left = self._sum(depth)
        if self._is_mark("<", ">", "<=", ">=", "==", "!="):
            mark = self._peek()
            self.at += 1
            return _Call(mark, (left, self._sum(depth)))
        return left

    def _sum(self, depth: int) -> Node:
        left = self._product(depth)
        while self._is_mark("+", "-"):
            mark = self._peek()
            self.at += 1
            left = _Call(mark, (left, self._product(depth)))
        return left

    def _product(self, depth: int) -> Node:
        left = self._single(depth)
        while self._is_mark("*", "/"):
            mark = self._peek()
            self.at += 1
            left = _Call(mark, (left, self._single(depth)))
        return left

    def _single(self, depth: int) -> Node:
        if depth > DEEPEST:
            raise InputError(f"'{self.text[:40]}…' is nested more than {DEEPEST} deep")
        if self._is_mark("-", "+"):
            mark = self._peek()
            self.at += 1
            inner = self._single(depth + 1)
            return _Call("negative", (inner,)) if mark == "-" else inner
        if self._is_mark("("):
            self.at += 1
            inner = self.comparison(depth + 1)
            self._expect(")")
            return inner
        if self.at >= len(self.tokens) or self.tokens[self.at][0] == "mark":
            self._refuse()
        kind, word, position = self.tokens[self.at]
        self.at += 1
        if kind == "number":
            return _Number(Decimal(word))
        if kind == "name" and self._is_mark("("):
            return self._call(word, position, depth)
        return _Name(word)

    def _call(self, word: str, position: int, depth: int) -> Node:
        if word not in _FUNCTIONS:
            raise self._unexpected(word, position)
        self.at += 1
        arguments = [self.comparison(depth + 1)]
        while self._is_mark(","):
            self.at += 1
            arguments.append(self.comparison(depth + 1))
        self._expect(")")
        count = _FUNCTIONS[word][0]
        if len(arguments) != count:
            raise InputError(f"{word}() takes {count} arguments, got {len(arguments)}, in '{self.text}'")
        return _Call(word, tuple(arguments))


def _names(node: Node) -> set[str]:
    if isinstance(node, _Name):
        return {node.name}
    if isinstance(node, _Call):
        return set().union(*map(_names, node.arguments))
    return set()


def _evaluate(node: Node, values: Mapping[str, Decimal]) -> Decimal:
    if isinstance(node, _Number):
        return node.value
    if isinstance(node, _Name):
        return values[node.name]
    if node.function == "if":  # only the branch taken has to have a value
        test, yes, no = node.arguments
        return _evaluate(yes if _evaluate(test, values) else no, values)
    return _FUNCTIONS[node.function][1](*(_evaluate(argument, values) for argument in node.arguments))
