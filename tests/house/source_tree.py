"""The package as the house tests see it: its modules, and which module imports which."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

SRC = Path(__file__).resolve().parents[2] / "src"


@dataclass(frozen=True)
class Import:
    """One import statement's target.

    Attributes
    ----------
    at_top
        Whether it runs when the module is imported (not inside a function, not for type checking only).
    """

    importer: str
    imported: str
    line: int
    at_top: bool


@cache
def modules() -> dict[str, Path]:
    """Every module of the package by its dotted name; a package stands under its own name."""
    found = {}
    for path in sorted((SRC / "asflown").rglob("*.py")):
        parts = path.relative_to(SRC).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


@cache
def imports() -> tuple[Import, ...]:
    """Every import of one asflown module by another."""
    known = frozenset(modules())
    return tuple(
        found
        for name, path in modules().items()
        for found in imports_of(name, path.read_text("utf-8"), known, is_package=path.name == "__init__.py")
    )


def imports_of(
    name: str, source: str, known: frozenset[str], *, is_package: bool = False
) -> Iterator[Import]:
    """The imports of asflown modules in one module's source, wherever they stand in it."""
    for node, at_top in _walk(ast.parse(source), at_top=True):
        if isinstance(node, ast.Import):
            targets = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = _absolute(node, name, is_package=is_package)
            targets = [f"{base}.{a.name}" if f"{base}.{a.name}" in known else base for a in node.names]
        else:
            targets = _asked_by_name(node)
        for target in dict.fromkeys(targets):
            if target == "asflown" or target.startswith("asflown."):
                yield Import(name, target, getattr(node, "lineno", 0), at_top)


def _walk(node: ast.AST, *, at_top: bool) -> Iterator[tuple[ast.AST, bool]]:
    for child in ast.iter_child_nodes(node):
        runs = at_top and not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            runs = False
        yield child, runs
        yield from _walk(child, at_top=runs)


def _absolute(node: ast.ImportFrom, name: str, *, is_package: bool) -> str:
    if not node.level:
        return node.module or ""
    parts = name.split(".")
    kept = parts[: len(parts) - node.level + (1 if is_package else 0)]
    return ".".join([*kept, *([node.module] if node.module else [])])


def _asked_by_name(node: ast.AST) -> list[str]:
    """The module named in ``import_module("asflown.x")`` or ``__import__("asflown.x")``."""
    if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
        called = ast.unparse(node.func).rsplit(".", 1)[-1]
        if called in ("import_module", "__import__") and isinstance(node.args[0].value, str):
            return [node.args[0].value]
    return []
