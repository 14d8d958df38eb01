"""``asflown --help`` is instant: nothing heavy is imported, and nothing heavy needs to be there."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("numpy", "scipy", "pint", "pydantic", "rapidfuzz", "matplotlib", "sqlite3", "msgspec")

BLOCKED = """
import sys
class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {blocked!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)
sys.meta_path.insert(0, Missing())
"""
RUN = """
import sys
from asflown.faces.cli.main import main
code = main({words!r})
sys.stderr.write("loaded: " + " ".join(sorted({{name.partition('.')[0] for name in sys.modules}})) + "\\n")
sys.exit(code)
"""


def run(*words: str, blocked: tuple[str, ...] = ()) -> tuple[int, str, set[str]]:
    """Run a command in its own process.

    Returns
    -------
    tuple
        Exit code, what it printed (standard error last), the top-level modules loaded when it was done.
    """
    code = (BLOCKED.format(blocked=blocked) if blocked else "") + RUN.format(words=list(words))
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    *said, last = done.stderr.splitlines() or [""]
    assert last.startswith("loaded: "), done.stderr
    return done.returncode, done.stdout + "\n".join(said), set(last.removeprefix("loaded: ").split())


def commands() -> list[str]:
    from asflown.faces.cli.commands import COMMANDS

    return [command.name for command in COMMANDS]


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_nothing_heavy_is_loaded(word):
    code, printed, loaded = run(word)
    assert code == 0, printed
    assert "asflown" in printed
    assert loaded & {*HEAVY, "cyclopts", "rich"} == set()


@pytest.mark.parametrize("module", HEAVY)
def test_help_needs_no_heavy_module(module):
    code, printed, _ = run("--help", blocked=(module,))
    assert code == 0, printed
    assert "Usage: asflown" in printed


def test_overview_names_every_command():
    _, printed, _ = run("--help")
    assert [name for name in commands() if f"  {name} " not in printed] == []


@pytest.mark.parametrize("command", commands())
def test_help_of_a_command_loads_nothing_heavy(command):
    code, printed, loaded = run(command, "--help")
    assert code == 0, printed
    assert command in printed
    assert loaded & {"numpy", "scipy", "pint", "rapidfuzz", "matplotlib"} == set()
