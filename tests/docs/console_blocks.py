"""Runs what the documentation shows: every fenced ``console`` block of a page, command by command.

How a page is written
---------------------
``$ command``        is run by bash in a fresh folder, with the store inside it (``ASFLOWN_STORE``).
``> more``           continues the command above it.
other lines          are what it prints (standard output and error together). ``…`` within a line stands for
                     anything there; a line of ``…`` stands for any lines, also none.
``$ command  # exit 2``  says that the command ends in that exit code; without it, 0 is expected.
``# continues``      as the first line of a block, or ``<!-- continues -->`` above it: the block goes on in the
                     folder of the one before, with its variables and working folder.
``<!-- not run: reason -->``  above a block: it is only shown.
A ``{code-block}`` with ``:caption: NAME`` is written to the file NAME in the folder of the next block that is run.
"""

from __future__ import annotations

import atexit
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

ANY = "…"
CONTINUES = "# continues"
FENCE = re.compile(r"^(`{3,})\s*(.*?)\s*$")
EXIT = re.compile(r"\s+# exit (\d+)$")
NOT_RUN = re.compile(r"^<!-- not run: \S.*-->$")
LONGEST_SECONDS = 300
#: How most pages begin, and where what it makes is kept once it was run.
TOLD = "asflown demo marsh > told.txt"
_TOLD: list[Path] = []


@dataclass(frozen=True)
class Step:
    """One command of a block and what the page says it prints.

    Attributes
    ----------
    command
        As it stands in the page, joined by line feeds, without prompts and the exit mark.
    exit_code
        What the page says it ends in.
    """

    line: int
    command: str
    printed: tuple[str, ...]
    exit_code: int = 0


@dataclass(frozen=True)
class Block:
    """One console block.

    Attributes
    ----------
    first, last
        Index of the first line inside the fence, and of the closing fence.
    continues
        Whether it goes on in the folder of the block before.
    head
        Lines before the first command (``# continues``).
    files
        Files to write before it runs: name and text.
    """

    first: int
    last: int
    continues: bool
    head: tuple[str, ...]
    steps: tuple[Step, ...]
    files: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Ran:
    """What a step really did."""

    step: Step
    printed: tuple[str, ...]
    exit_code: int

    @property
    def as_shown(self) -> bool:
        """Whether the page tells the truth."""
        return self.exit_code == self.step.exit_code and matches(self.step.printed, self.printed)


def fences(lines: list[str]) -> Iterator[tuple[str, int, int]]:
    """Every fenced block: its words after the fence, its first line inside, its closing line."""
    i = 0
    while i < len(lines):
        opening = FENCE.match(lines[i])
        i += 1
        if opening is None:
            continue
        first = i
        while i < len(lines) and not (lines[i].startswith(opening[1]) and not lines[i].strip("` ")):
            i += 1
        yield opening[2], first, i
        i += 1


def blocks(text: str) -> tuple[Block, ...]:
    """The console blocks of a page that are to be run, in order."""
    lines = text.split("\n")
    found: list[Block] = []
    files: list[tuple[str, str]] = []
    for words, first, last in fences(lines):
        body = lines[first:last]
        above = next((line.strip() for line in reversed(lines[: first - 1]) if line.strip()), "")
        if words.startswith("{code-block}") and (name := _caption(body)):
            files.append((name, _without_options(body)))
        elif words == "console" and not NOT_RUN.match(above):
            head = tuple(line for line in body[:1] if line.strip() == CONTINUES)
            continues = bool(head) or above == "<!-- continues -->"
            steps = _steps(body[len(head) :], first + len(head) + 1)
            found.append(Block(first, last, continues, head, steps, tuple(files)))
            files = []
    return tuple(found)


def _caption(body: list[str]) -> str | None:
    for line in body:
        if not line.startswith(":"):
            return None
        if line.startswith(":caption:"):
            name = line.removeprefix(":caption:").strip()
            return name if re.fullmatch(r"[\w.-]+(/[\w.-]+)*", name) and ".." not in name else None
    return None


def _without_options(body: list[str]) -> str:
    kept = list(body)
    while kept and kept[0].startswith(":"):
        del kept[0]
    if kept and not kept[0].strip():
        del kept[0]
    return "\n".join(kept) + "\n"


def _steps(body: list[str], number: int) -> tuple[Step, ...]:
    steps: list[Step] = []
    continued = False
    for offset, line in enumerate(body):
        if line.startswith("$ "):
            mark = EXIT.search(line)
            command = line[2:] if mark is None else line[2 : mark.start()]
            steps.append(Step(number + offset, command, (), int(mark[1]) if mark else 0))
            continued = True
        elif not steps:
            raise ValueError(f"line {number + offset}: a console block starts with `$ command`, not {line!r}")
        elif continued and (line == ">" or line.startswith("> ")):
            steps[-1] = replace(steps[-1], command=f"{steps[-1].command}\n{line[2:]}")
        else:
            continued = False
            steps[-1] = replace(steps[-1], printed=(*steps[-1].printed, line.rstrip()))
    return tuple(steps)


def matches(shown: tuple[str, ...], printed: tuple[str, ...]) -> bool:
    """Whether the lines printed are the lines shown, ``…`` standing for anything."""
    reached = {0}
    for line in _trimmed(shown):
        if line.strip() == ANY:
            reached = set(range(min(reached), len(_trimmed(printed)) + 1))
        else:
            reached = {i + 1 for i in reached if i < len(printed) and line_matches(line, printed[i])}
        if not reached:
            return False
    return len(_trimmed(printed)) in reached


def _trimmed(lines: tuple[str, ...]) -> tuple[str, ...]:
    end = len(lines)
    while end and not lines[end - 1].strip():
        end -= 1
    return lines[:end]


def line_matches(shown: str, printed: str) -> bool:
    """Whether one line is the line shown."""
    pattern = ".*".join(re.escape(part) for part in shown.rstrip().split(ANY))
    return re.fullmatch(pattern, printed.rstrip()) is not None


def environment(folder: Path) -> dict[str, str]:
    """What the commands of a page see: the same on every machine, nothing of the person running the tests."""
    programs = Path(sys.executable).parent
    return {
        "PATH": f"{programs}{os.pathsep}{os.environ.get('PATH', os.defpath)}",
        "HOME": str(folder),
        "TMPDIR": os.environ.get("TMPDIR", "/tmp"),
        "ASFLOWN_STORE": str(folder / "store"),
        "ASFLOWN_WHO": "Robin",
        "LC_ALL": "C.UTF-8",
        "TZ": "UTC",
        "COLUMNS": "100",
        "NO_COLOR": "1",
    }


#: Runs one command where the one before it ended, and keeps the working folder and variables for the next.
STEP = r"""
state=$1
[ -f "$state" ] && . "$state"
eval "$2"
code=$?
{ export -p | grep -v 'declare -x [A-Z_]*PWD='; printf 'cd %q\n' "$PWD"; } >"$state"
exit $code
"""


def run_step(step: Step, folder: Path, state: Path) -> Ran:
    """Run one command."""
    is_told = step.command == TOLD and not (folder / "marsh").exists()
    if is_told and _TOLD:
        # run for real once in this process, then copied: two dozen pages begin with it
        shutil.copytree(_TOLD[0], folder, dirs_exist_ok=True)
    command = ":" if is_told and _TOLD else step.command
    done = subprocess.run(
        ["bash", "-c", STEP, "page", str(state), command],
        cwd=folder,
        env=environment(folder),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        timeout=LONGEST_SECONDS,
        check=False,
    )
    if is_told and not _TOLD and done.returncode == 0:
        _TOLD.append(Path(tempfile.mkdtemp(prefix="asflown-told-")))
        for name in ("marsh", "told.txt"):
            place = folder / name
            (shutil.copytree if place.is_dir() else shutil.copy)(place, _TOLD[0] / name)
        atexit.register(shutil.rmtree, _TOLD[0], ignore_errors=True)
    lines = done.stdout.decode("utf-8", "replace").replace(str(folder), "~").split("\n")
    return Ran(step, _trimmed(tuple(line.rstrip() for line in lines)), done.returncode)


def run_page(text: str, new_folder: Callable[[], Path]) -> tuple[tuple[Block, tuple[Ran, ...]], ...]:
    """Run every block of a page.

    Parameters
    ----------
    new_folder
        Makes an empty folder, one for each block that does not continue another.
    """
    done: list[tuple[Block, tuple[Ran, ...]]] = []
    folder: Path | None = None
    state = Path()
    for block in blocks(text):
        if folder is None or not block.continues:
            folder, state = new_folder(), new_folder() / "state"
        for name, content in block.files:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(content, "utf-8")
        done.append((block, tuple(run_step(step, folder, state) for step in block.steps)))
    return tuple(done)


def differences(page: str, ran: tuple[Ran, ...]) -> list[str]:
    """What a page says wrongly, ready to print."""
    told = []
    for one in ran:
        if one.as_shown:
            continue
        told.append(f"{page}:{one.step.line}: $ {one.step.command}")
        if one.exit_code != one.step.exit_code:
            told.append(f"  exit code {one.exit_code}, the page says {one.step.exit_code}")
        told += [f"  page:    {line}" for line in one.step.printed]
        told += [f"  printed: {line}" for line in one.printed]
    return told


#: What is different in every run: times, this day and hashes.
PASSING = re.compile(
    r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d)?(?:[+-]\d\d:\d\d|Z)?|\b(?=[0-9a-f]*\d)[0-9a-f]{12,64}\b"
    rf"|\b{date.today()}\b"
)


def rewritten(text: str, done: tuple[tuple[Block, tuple[Ran, ...]], ...]) -> str:
    """The page with what was really printed; what already matched stays as its writer wrote it."""
    lines = text.split("\n")
    for block, ran in reversed(done):
        if not all(one.as_shown for one in ran):
            lines[block.first : block.last] = [*block.head, *(row for one in ran for row in _step_lines(one))]
    return "\n".join(lines)


def _step_lines(one: Ran) -> list[str]:
    first, *more = one.step.command.split("\n")
    mark = f"  # exit {one.exit_code}" if one.exit_code else ""
    head = [f"$ {first}{mark}", *(f"> {line}".rstrip() for line in more)]
    if one.as_shown:
        return [*head, *one.step.printed]
    kept = [line for line in one.step.printed if ANY in line and line.strip() != ANY]
    return head + [
        next((old for old in kept if line_matches(old, line)), PASSING.sub(ANY, line)) for line in one.printed
    ]
