"""The worked example as steps: what is said, typed and done at the simulated board, in order.

The story only says what happens; the face that tells it runs the commands for real.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any

from asflown.demo import releases, scenario
from asflown.demo.device import SimulatedBoard
from asflown.demo.firmware import boards
from asflown.demo.scenario import KEEPER, NEW_RELEASE, OLD_RELEASE, PILOT


@dataclass(frozen=True, slots=True)
class Chapter:
    """A heading."""

    title: str


@dataclass(frozen=True, slots=True)
class Say:
    """A paragraph of the narration."""

    text: str


@dataclass(frozen=True, slots=True)
class Put:
    """A file that comes into the folder."""

    path: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Take:
    """A file of the folder that the simulated board is given; its bytes are sent back."""

    path: str


@dataclass(frozen=True, slots=True)
class Run:
    """A command, typed as it stands.

    Attributes
    ----------
    expect
        The exit code it must end with.
    lines
        How many lines of its output are shown; ``None`` for all.
    """

    words: tuple[str, ...]
    expect: int = 0
    lines: int | None = None


Step = Chapter | Say | Put | Take | Run
Story = Generator[Step, Any, None]

#: What Ines decides, group by group, with her reason: option, reason, typed values.
DECISIONS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("new-unit.cm-s-to-m-s", "convert", "the same speeds, in the new unit", ()),
    ("renumbered.ready.checks", "convert", "the same checks before the motors may start", ()),
    ("renumbered.shake.cut", "convert", "two steps, as it flew", ()),
    ("out-of-range.land.sink", "nearest", "1.0 m/s is gentle enough on mud", ()),
    ("conversion.switch.c.does", "value", "no upside-down start any more: nothing", ("switch.c.does=0",)),
    ("renumbered.radio.smooth.hz", "convert", "automatic stays automatic", ()),
    ("meaning-note.lift.hover", "value", "full pack, from the last baseline flight", ("lift.hover=412",)),
    ("successor.hold-to-station", "rename", "the whole group was renamed", ()),
    ("successor.to-slow", "rename", "slow flight is what it was set for", ()),
    ("moved-factory.safety", "keep", "the controllers fitted know the old rate; the idle stays", ()),
)


def _run(text: str, *more: str, expect: int = 0, lines: int | None = None) -> Run:
    return Run((*text.split(), *more), expect, lines)


def tell() -> Story:
    """The whole refit of plover, and the rehearsal of the way back."""
    yield from _before()
    yield from _plan()
    yield from _decide()
    yield from _write_out()
    board = SimulatedBoard(OLD_RELEASE)
    yield from _load(board)
    yield from _prove(board)
    yield from _rehearse()
    yield from _keep()


def _before() -> Story:
    yield Chapter("Know what is there")
    yield Say(
        f"{scenario.GROUP[0].upper()}{scenario.GROUP[1:]} has three small quadrotors. {KEEPER} looks after"
        f" them, {PILOT} flies plover. Their firmware, marram, has a new release. Everything here is"
        " invented: people, aircraft, firmware and board."
    )
    for release, files in releases.folders().items():
        for path, data in files.items():
            yield Put(f"releases/{release}/{path}", data)
        yield _run("release add", f"releases/{release}", lines=9)
    yield Put("plover.toml", scenario.PLOVER.text.encode())
    yield _run("aircraft new --from plover.toml", lines=0)
    yield Put("wrackline-2.toml", boards.DESCRIPTION.encode())
    yield _run("board add wrackline-2.toml", lines=0)
    yield Say(
        "Tobias saved the listing twice from the firmware's own terminal, as it printed it, noise and all."
        " The reader was told nothing about its shape."
    )
    yield Put("found.txt", scenario.found_listing("plover"))
    yield Put("found-again.txt", scenario.found_listing("plover"))
    yield _run("found found.txt --against found-again.txt")


def _plan() -> Story:
    yield Chapter("See what the new release changes, before touching anything")
    yield _run(f"plan plover --to {NEW_RELEASE} --show needs-you", expect=2)
    yield Say("A number-for-number copy, by hand or by script, would have done this:")
    for copied in _worst_copies():
        yield Say(f"  - {copied}")
    yield Say(
        "The new release wants DMA where the old one did without. What the board can carry is computed from"
        " its processor's data; the least way out leaves every wire where it is."
    )
    yield _run("ports plover", expect=2, lines=40)
    yield Say("A baseline flight on the old release comes first: it cannot be repeated afterwards.")
    yield _run(
        "gate baseline-flight passed --why", "log 212, 4 min hover and turns, opens on the laptop", lines=0
    )


def _worst_copies() -> Sequence[str]:
    """The traps that hurt people, said by the firmware's own definitions, not by the tool under test."""
    wanted = ("silent.wait", "silent.act", "silent.shut", "pack.warn", "shake.cut", "roll.firm")
    made = scenario.naive_copy(scenario.PLOVER.values())
    return [item.says for name in wanted for item in made if item.setting.name == name][:8]


def _decide() -> Story:
    yield Chapter("Decide what is open, with a reason")
    for group, option, why, values in DECISIONS:
        more = [word for value in values for word in ("--value", value)]
        yield _run(f"decide plover {group} --choose {option}", *more, "--why", why, expect=2, lines=0)
    yield Say("What is new stays at its factory value; that is one act.")
    yield _run("decide plover --adopt-factory --why", "read through, nothing against it", lines=12)


def _write_out() -> Story:
    yield Chapter("Write out the new listing and the way back, at one moment")
    yield _run("write-out plover --out plover-work")


def _load(board: SimulatedBoard) -> Story:
    yield Chapter("Load and write (propellers off, pack unplugged, USB alone)")
    yield Say(
        "The board is simulated here: it loads the new image, which erases its settings, and takes the"
        " listing line by line. The cable slips out after 60 lines."
    )
    yield _run(
        "gate before-loading passed --why", "log 212 opens; old image kept; propellers are off", lines=0
    )
    listing = yield Take(f"plover-work/to-write-{NEW_RELEASE}.txt")
    board.load_image(NEW_RELEASE)
    board.stop_after(60)
    yield Put("typed.txt", board.paste(listing.decode()).encode())
    yield _run("replies typed.txt", expect=4)
    yield Say(
        "Partly written is not ready. Nothing was stored, so the board restarts with its factory values, and"
        " the whole listing goes in again; then it is stored, and the board restarts."
    )
    board.restart()
    transcript = board.paste(listing.decode())
    board.save()
    board.restart()
    yield Put("typed-again.txt", transcript.encode())
    yield _run("replies typed-again.txt", lines=14)


def _prove(board: SimulatedBoard) -> Story:
    yield Chapter("Read back: as left = as planned, or the list")
    yield Put("after.txt", board.listing("full"))
    yield _run("readback after.txt")
    yield _run("cards plover", lines=30)
    yield Say("Nobody turned a motor in this example, so the sign-off says what was proven and what was not.")
    yield Run(("sign", "plover", "--name", KEEPER, "--role", "keeper of the group's aircraft"))


def _rehearse() -> Story:
    yield Chapter("Rehearse the way back on a board of its own")
    yield Say(
        "A second simulated board runs the old release with everything at factory. It is given the"
        " go-back listing, not the original bytes, and read back."
    )
    listing = yield Take(f"plover-work/go-back-{OLD_RELEASE}.txt")
    board = SimulatedBoard(OLD_RELEASE)
    board.erase()
    board.paste(listing.decode())
    board.save()
    board.restart()
    yield Put("rehearsal.txt", board.listing("full"))
    yield _run(
        "aircraft new bench --set",
        "title=The bench board",
        "board=wrackline-2",
        f"release={OLD_RELEASE}",
        lines=0,
    )
    yield _run("found rehearsal.txt --aircraft bench", lines=0)
    yield _run("compare plover-001 bench-001", expect=4)


def _keep() -> Story:
    yield Chapter("Keep it so that nobody can quietly rewrite it")
    yield _run("logbook plover")
    yield _run("handover plover --out plover.zip", lines=14)
    yield _run("verify")
