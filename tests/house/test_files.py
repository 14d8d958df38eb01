"""Size, docstrings, and words that must not stand in the tree."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest
from source_tree import SRC, modules

LONGEST = 500
#: Files longer than that, each with the reason.
LONGER_FOR_A_REASON: dict[str, str] = {}

#: A path that names a machine's own folders. Written in pieces, as this file is looked through too.
MACHINE_PATH = re.compile(
    r"(?<![\w.$}~])/(?:" + "|".join(("home", "root", "Users", "work", "mnt")) + r")/[\w.-]"
)
HOSTS = tuple(
    ".".join(parts)
    for parts in (
        ("py" + "pi", "org"),
        ("python" + "hosted", "org"),
        ("npm" + "js", "org"),
        ("npm" + "js", "com"),
        ("deb" + "ian", "org"),
        ("proxy", "golang", "org"),
        ("crates", "io"),
    )
)
UNFINISHED = re.compile(r"\b(TO" + r"DO|FIX" + r"ME|XXX|NotImplemented" + r"Error)\b")
TEXT = (
    ".py",
    ".md",
    ".toml",
    ".txt",
    ".in",
    ".json",
    ".cfg",
    ".ini",
    ".csv",
    ".html",
    ".css",
    ".js",
    ".npmrc",
    "",
)


def tracked(root: Path) -> list[Path]:
    """The files that are or could be committed."""
    try:
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=root,
            capture_output=True,
            check=True,
        ).stdout.decode()
        paths = [root / name for name in listed.split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        folders = ("src", "tests", "docs", "tools", "benchmarks", "requirements")
        paths = [
            path for folder in folders for path in (root / folder).rglob("*") if "_build" not in path.parts
        ]
        paths += [path for path in root.iterdir() if path.is_file()]
    return [path for path in paths if path.suffix in TEXT and path.is_file()]


def lines_with(root: Path, found_in) -> list[str]:
    faults = []
    for path in tracked(root):
        try:
            text = path.read_text("utf-8")
        except UnicodeDecodeError:
            continue
        faults += [
            f"{path.relative_to(root)}:{number}: {line.strip()[:100]}"
            for number, line in enumerate(text.splitlines(), 1)
            if found_in(line)
        ]
    return faults


def test_files_are_short():
    too_long = {}
    for path in modules().values():
        count = len(path.read_text("utf-8").splitlines())
        name = str(path.relative_to(SRC))
        if count > LONGEST and name not in LONGER_FOR_A_REASON:
            too_long[name] = count
    assert too_long == {}


def test_reasons_for_length_are_still_needed():
    short = [
        name for name in LONGER_FOR_A_REASON if len((SRC / name).read_text("utf-8").splitlines()) <= LONGEST
    ]
    assert short == []


def test_public_things_explain_themselves():
    silent = []
    for name, path in modules().items():
        tree = ast.parse(path.read_text("utf-8"))
        if not ast.get_docstring(tree):
            silent.append(name)
        silent += [
            f"{name}:{node.lineno}: {node.name}"
            for node in public(tree)
            if not ast.get_docstring(node) and not is_overload(node)
        ]
    assert silent == []


def is_overload(node) -> bool:
    """Whether it only tells types of the function after it (which explains itself)."""
    return any(isinstance(mark, ast.Name) and mark.id == "overload" for mark in node.decorator_list)


def public(tree: ast.Module):
    """Functions and classes of a module, and the methods of its public classes, without a leading underscore."""
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    for node in tree.body:
        if isinstance(node, kinds) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from (n for n in node.body if isinstance(n, kinds) and not n.name.startswith("_"))


def test_nothing_is_left_unfinished():
    faults = [
        f"{name}:{number}: {line.strip()}"
        for name, path in modules().items()
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if UNFINISHED.search(line)
    ]
    assert faults == []


def test_no_path_of_one_machine(root):
    assert lines_with(root, MACHINE_PATH.search) == []


def test_no_registry_host(root):
    assert lines_with(root, lambda line: any(host in line.lower() for host in HOSTS)) == []


@pytest.mark.parametrize(
    "line", ["read /" + "home/someone/x.txt", '"/' + 'root/.cache"', "cd /" + "work/main"]
)
def test_the_path_rule_catches(line):
    assert MACHINE_PATH.search(line)


@pytest.mark.parametrize(
    "line", ["src/work/main.py", "~/.local/share", "https://example.org/home/page", "a/b"]
)
def test_the_path_rule_lets_pass(line):
    assert not MACHINE_PATH.search(line)


def test_locked_requirements_name_no_address_and_hold_hashes(root):
    text = (root / "requirements" / "dev.txt").read_text("utf-8")
    pinned = re.findall(r"^([a-z0-9._-]+)==\S+ \\\n +--hash=sha256:[0-9a-f]{64}", text, re.M)
    named = re.findall(r"^([a-z0-9._-]+)(?===|>=| @|$)", text, re.M)
    assert pinned == named
    assert "://" not in text
    assert len(pinned) > 30


def test_what_asflown_needs_is_locked(root):
    import tomllib

    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = {re.split(r"[^A-Za-z0-9_.-]", need)[0].lower() for need in project["dependencies"]}
    locked = set(
        re.findall(r"^([a-z0-9._-]+)==", (root / "requirements" / "dev.txt").read_text("utf-8"), re.M)
    )
    assert wanted - locked == set()
