"""Make the expected tuples of the real listings by means that share no code with the reader.

usage: python make_expected.py        (rewrites every NAME.expected.json beside NAME)

Each entry says how the file is taken apart: a standard-library parser where one exists, otherwise an expression
written for that one file by hand, whose result was read over beside the file.
"""

from __future__ import annotations

import configparser
import json
import re
import shlex
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
Rows = list[list[str | None]]


def partition(text: str, mark: str, quotes: str = "") -> Rows:
    rows: Rows = []
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith(("#", ";")) and mark in line:
            name, _, value = line.partition(mark)
            value = value.strip()
            if quotes and len(value) > 1 and value[0] == value[-1] and value[0] in quotes:
                value = value[1:-1]
            rows.append([None, name.strip(), None, value])
    return last_wins(rows)


def last_wins(rows: Rows) -> Rows:
    last = {(row[0], row[1], row[2]): number for number, row in enumerate(rows)}
    return [row for number, row in enumerate(rows) if last[(row[0], row[1], row[2])] == number]


def words(text: str) -> Rows:
    rows: Rows = []
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            name, *rest = line.split(None, 1)
            value = rest[0].strip() if rest else ""
            if len(value) > 1 and value[0] == value[-1] and value[0] in "\"'":
                value = value[1:-1]
            rows.append([None, name, None, value])
    return last_wins(rows)


def shell(text: str) -> Rows:
    rows: Rows = []
    for token in shlex.split(text, comments=True):
        name, _, value = token.partition("=")
        rows.append([None, name, None, value])
    return rows


def ini(text: str) -> Rows:
    parser = configparser.RawConfigParser(
        strict=False, delimiters=("=",), comment_prefixes=("#", ";"), interpolation=None
    )
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(text)
    return [
        [section, name, None, value or ""]
        for section in parser.sections()
        for name, value in parser.items(section)
    ]


def walk_json(node: Any, path: tuple[str, ...]) -> Rows:
    if isinstance(node, dict) and node:
        return [row for key, value in node.items() for row in walk_json(value, (*path, key))]
    if isinstance(node, list) and node:
        rows: Rows = []
        for number, value in enumerate(node):
            literal = value if isinstance(value, str) else json.dumps(value)
            rows.append([".".join(path[:-1]) or None, path[-1], str(number), literal])
        return rows
    literal = node if isinstance(node, str) else json.dumps(node)
    return [[".".join(path[:-1]) or None, path[-1], None, literal]]


def flags(text: str) -> Rows:
    found = re.finditer(r"^ *\S+ (\S+) +:?= ?(.*?) +\{", text, re.MULTILINE)
    return [["Global flags", match.group(1), None, match.group(2).strip()] for match in found]


def limits(text: str) -> Rows:
    found = re.finditer(r"^(.*?) +\([^)]*-\w\) (\S+)$", text, re.MULTILINE)
    return [[None, match.group(1), None, match.group(2)] for match in found]


def blocks(text: str) -> Rows:
    """Sections in brackets with ``name = {`` blocks in them."""
    rows: Rows = []
    section: str | None = None
    block: str | None = None
    for line in text.splitlines():
        bare = line.strip()
        if bare.startswith("["):
            section, block = bare.strip("[]"), None
        elif bare.endswith("{"):
            block = bare[:-1].rstrip(" =").strip()
        elif bare == "}":
            block = None
        elif "=" in bare and not bare.startswith("#"):
            name, _, value = bare.partition("=")
            rows.append(
                [".".join(part for part in (section, block) if part), name.strip(), None, value.strip()]
            )
    return rows


def numbered(rows: Rows) -> Rows:
    """``name[3]`` is the name and an index."""
    return [[b, n.partition("[")[0], n.partition("[")[2].rstrip("]") or None, v] for b, n, _, v in rows]


def last(rows: Rows) -> Rows:
    """[bank, name, value] rows with an empty index; of rows with one key only the last stays."""
    held: dict[tuple[str | None, str | None], str | None] = {}
    for bank, name, value in rows:
        held.pop((bank, name), None)
        held[(bank, name)] = value.strip() if value else value
    return [[bank, name, None, value] for (bank, name), value in held.items()]


def sectioned(text: str, marks: str) -> Rows:
    rows: Rows = []
    bank = None
    for line in text.splitlines():
        if not line.strip() or line.strip()[0] in marks:
            continue
        if head := re.fullmatch(r"\s*\[\s*(.*?)\s*\].*", line):
            bank = head.group(1)
            continue
        name, _, value = line.partition("=")
        value = re.sub(r"\s+#.*", "", value).strip()
        rows.append([bank, name.strip(), value[1:-1] if value[:1] == value[-1:] == '"' else value])
    return last(rows)


def nested(text: str) -> Rows:
    rows: Rows = []
    path: list[str] = []
    for line in text.splitlines():
        bare = re.sub(r"\s+#.*$", "", line.strip())
        if not bare or bare[0] == "#":
            continue
        if bare.endswith("{"):
            path.append(bare[:-1].strip())
        elif bare == "}":
            path.pop()
        else:
            name, _, value = bare.rstrip(";").partition(" ")
            rows.append([".".join(path) or None, name, value])
    return last(rows)


def statements(text: str) -> Rows:
    rows: Rows = []
    for part in re.split(r";\s*", text):
        found = re.fullmatch(r"\s*(\S+) = (\S+)\s*|\s*(speed|rows|columns) (\S+)(?: baud)?\s*", part)
        if found:
            rows.append([None, found.group(1) or found.group(3), found.group(2) or found.group(4)])
    return last(rows)


METHODS = {
    "kernel-parameters.txt": lambda text: partition(text, " ="),
    "shell-build-variables.txt": shell,
    "system-release.txt": shell,
    "locale-words.txt": lambda text: partition(text, "=", '"'),
    "locale-settings.txt": lambda text: partition(text, "=", '"'),
    "posix-limits.txt": words,
    "terminal-multiplexer-global.txt": lambda text: numbered(words(text)),
    "terminal-multiplexer-window.txt": words,
    "package-manager-defaults.txt": lambda text: partition(text, "=", '"'),
    "package-manager.json": lambda text: walk_json(json.loads(text), ()),
    "script-runtime-build.json": lambda text: walk_json(json.loads(text), ()),
    "virtual-machine-flags.txt": flags,
    "journal-unit.service": ini,
    "timer-unit.timer": ini,
    "filesystem-defaults.conf": blocks,
    "memory.txt": lambda text: [[None, *re.match(r"(\S+): +(\d+)", line).groups()[:1], None, re.match(r"(\S+): +(\d+)", line).group(2)] for line in text.splitlines()],
    "shell-options.txt": words,
    "shell-optional-behaviour.txt": words,
    "login-definitions.conf": words,
    "name-services.conf": lambda text: partition(text, ":"),
    "filesystem-superblock.txt": lambda text: partition(text.split("\n", 1)[1], ":"),
    "processor.txt": lambda text: partition(text, ":"),
    "shell-resource-limits.txt": limits,
    "database-options.txt": words,
    "interpreter-platform.txt": lambda text: partition(text, " = "),
    "package-tool-configuration.txt": lambda text: last([[None, *re.fullmatch(r'(\S+) "(.*)";', line).groups()] for line in text.splitlines()]),
    "file-shares.conf": lambda text: sectioned(text, "#;"),
    "file-transfer.conf": lambda text: sectioned(text, "#"),
    "certificate-requests.cnf": lambda text: sectioned(text, "#"),
    "network-agent.conf": lambda text: last([[None, *line.split(None, 1)] for line in text.splitlines() if line.strip() and line[0] not in "# "]),
    "page-server.conf": nested,
    "terminal-line.txt": statements,
    "compiler-configuration.txt": lambda text: partition(text, "=", '"'),
}  # fmt: skip


def main() -> None:
    for name, method in METHODS.items():
        path = HERE / name
        if path.exists():
            rows = method(path.read_text())
            path.with_name(name + ".expected.json").write_text(
                "[\n" + ",\n".join(json.dumps(row, ensure_ascii=False) for row in rows) + "\n]\n"
            )


if __name__ == "__main__":
    main()
