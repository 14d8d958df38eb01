"""``asflown demo``: build and run the worked example in a fresh folder, and narrate it."""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from asflown.errors import AsflownError, UsageError
from asflown.faces.cli.console import say, width
from asflown.faces.cli.options import NO_OPTIONS, Common


def demo(
    folder: Annotated[str, Parameter(show_default=False)] = "",
    /,
    *,
    flight: Annotated[bool, Parameter(negative=())] = False,
    retune: Annotated[bool, Parameter(negative=())] = False,
    fly: str | None = None,
    rock: str | None = None,
    seed: int = 12,
    board: Annotated[bool, Parameter(negative=())] = False,
    over_link: Annotated[bool, Parameter(negative=())] = False,
    aircraft: str | None = None,
    scene: str = "still",
    faults: str = "",
    encoding: Literal["bytewise", "C-cast"] = "bytewise",
    seconds: float | None = None,
    common: Common = NO_OPTIONS,
) -> int:
    """Build and run the worked example in a fresh folder, and narrate it.

    An invented bird-count group refits an invented quadrotor with an invented firmware on a simulated
    board. Every command shown is run for real; its own store lies in the folder, yours is not touched.

    Example: asflown demo marsh

    Parameters
    ----------
    folder
        New folder for it (default: asflown-demo, or the next free number).
    flight
        Only write the log of a simulated flight of its quadrotor there, to try the flight commands on.
    retune
        Only write the files of the second example there: a release with which a copy would oscillate.
    fly
        Only write the log of a flight of the second example's aircraft there, with the settings of this
        listing of its new release.
    rock
        Only write the log of the second example's aircraft rocked by hand there, propellers off, with the
        settings of this listing of its new release.
    seed
        With --fly or --rock: another number, another log.
    board
        Only write the flash of a simulated board there, with the images of both releases, to try loading.
    over_link
        The third example instead: another aircraft is read, calibrated, loaded, written and proven over
        MAVLink, and nobody touches a file.
    aircraft
        Be that aircraft, in real time, until Ctrl-C: on udp (port 14550 of this machine), udp:PORT, or pty (a
        serial port); for trying every --link.
    scene
        With --aircraft, what happens to it: still, sides, all-sides, half-turn, leans, level,
        right-side-down, nose-up, nose-right, turned, sticks, flies.
    faults
        With --aircraft, what its link does: loss=0.3,corruption=0.05,doubling=0.1,reorder=0.2,latency=0.02.
    encoding
        With --aircraft, how whole numbers stand in MAVLink's float field.
    seconds
        With --aircraft, for how long (default: until Ctrl-C).
    """
    if common.as_json:
        raise UsageError(
            "the worked example is told in words", next_step="leave out --json; its commands have it"
        )
    root = _fresh(folder)
    if flight:
        return _fly(root, common)
    if retune:
        return _write_retune(root, common)
    if fly is not None:
        return _fly_listing(root, fly, seed, common)
    if rock is not None:
        return _rock_listing(root, rock, seed, common)
    if board:
        return _write_board(root, common)
    if aircraft is not None:
        return _be_aircraft(root, (aircraft, scene, faults, encoding), seconds, common)
    what = "The worked example over a link" if over_link else "The worked example"
    say(f"{what}, in {root.name}/", plain=common.plain)
    before = Path.cwd()
    os.chdir(root)
    try:
        return _tell(common, over_link=over_link)
    finally:
        os.chdir(before)


def _be_aircraft(root: Path, said: tuple[str, str, str, str], seconds: float | None, common: Common) -> int:
    """Be a simulated aircraft on a real line."""
    from asflown.faces.wiring import demo_aircraft

    try:
        address, run = demo_aircraft(root, *said, seconds)
    except AsflownError:
        root.rmdir()  # made a moment ago, and nothing is in it
        raise
    say(f"{root.name}/sanderling.params: what it holds; what is stored goes there", plain=common.plain)
    say(f"next: asflown found --link {address} … (Ctrl-C ends the aircraft)", plain=common.plain)
    sys.stdout.flush()
    with contextlib.suppress(KeyboardInterrupt):
        for _ in run:
            pass
    return 0


def _fly(root: Path, common: Common) -> int:
    """Write the log of a simulated flight."""
    from asflown.faces.wiring import demo_flight

    (root / "flight.csv").write_bytes(demo_flight())
    say(f"{root.name}/flight.csv: a simulated flight of an invented quadrotor", plain=common.plain)
    say(f"next: asflown flight look {root.name}/flight.csv", plain=common.plain)
    return 0


def _write_board(root: Path, common: Common) -> int:
    """Write the flash of a simulated board, and the images for it."""
    from asflown.faces.wiring import demo_board

    for path, data in demo_board().items():
        (root / path).write_bytes(data)
    flash = f"{root.name}/plover.flash"
    say(f"{flash}: the flash of a simulated board, and two images beside it", plain=common.plain)
    say(f"next: asflown load IMAGE --port simulated:usb:{flash}", plain=common.plain)
    return 0


def _write_retune(root: Path, common: Common) -> int:
    """Write the files of the example of a retune."""
    from asflown.faces.wiring import demo_tern

    for path, data in demo_tern().items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_bytes(data)
    say(f"{root.name}/: a school's aircraft, two releases, and a flight before", plain=common.plain)
    say(f"next: asflown release add {root.name}/releases/reed-1.8", plain=common.plain)
    return 0


def _fly_listing(root: Path, listing: str, seed: int, common: Common) -> int:
    """Write the log of a flight with a listing's settings."""
    from asflown.faces.wiring import demo_tern_flight, read_file

    (root / "flight.csv").write_bytes(demo_tern_flight(read_file(listing)[0], seed))
    say(f"{root.name}/flight.csv: flown with the settings of {listing}", plain=common.plain)
    return 0


def _rock_listing(root: Path, listing: str, seed: int, common: Common) -> int:
    """Write the log of an aircraft rocked by hand, with a listing's settings."""
    from asflown.faces.wiring import demo_tern_rock, read_file

    (root / "rock.csv").write_bytes(demo_tern_rock(read_file(listing)[0], seed))
    say(f"{root.name}/rock.csv: rocked by hand with the settings of {listing}", plain=common.plain)
    say(f"next: asflown behaviour read {root.name}/rock.csv", plain=common.plain)
    return 0


def _fresh(folder: str) -> Path:
    wanted = Path(folder) if folder else next(p for p in _names() if not p.exists())
    try:
        wanted.mkdir(parents=True)
    except FileExistsError:
        what = "is there already; the worked example wants a fresh folder"
        raise UsageError(what, where=folder, next_step="name another one") from None
    except OSError as error:
        raise UsageError(
            f"cannot be made: {error.strerror}", where=folder, next_step="name another one"
        ) from None
    return wanted.resolve()


def _names() -> Iterator[Path]:
    yield Path("asflown-demo")
    number = 2
    while True:
        yield Path(f"asflown-demo-{number}")
        number += 1


def _tell(common: Common, *, over_link: bool) -> int:
    """Run the story; the first command that does not end as it must stops it."""
    from asflown.faces.wiring import demo_story

    steps, keeper = demo_story(over_link=over_link)
    sent: bytes | None = None
    while True:
        try:
            step = steps.send(sent)
        except StopIteration:
            return 0
        sent = None
        kind = type(step).__name__
        if kind == "Put":
            Path(step.path).parent.mkdir(parents=True, exist_ok=True)
            Path(step.path).write_bytes(step.data)
        elif kind == "Take":
            sent = Path(step.path).read_bytes()
        elif kind == "Run":
            _run(step.words, step.expect, step.lines, common, keeper)
        else:
            _narrate(kind, step, common)


def _narrate(kind: str, step: object, common: Common) -> None:
    text = str(getattr(step, "title", "") or getattr(step, "text", ""))
    if kind == "Chapter":
        say(f"\n\n{text}\n{'=' * len(text)}", plain=common.plain)
        return
    indent = text[: len(text) - len(text.lstrip())]
    filled = textwrap.fill(
        text.strip(), width(), initial_indent=indent, subsequent_indent=indent + "  " * bool(indent)
    )
    say(filled if indent else f"\n{filled}", plain=common.plain)


def _run(words: tuple[str, ...], expect: int, lines: int | None, common: Common, keeper: str) -> None:
    from asflown.faces.cli.main import main

    shown = "\n$ asflown " + " ".join(map(_quoted, words))
    say(shown, plain=common.plain)
    out, err = _buffer(), _buffer()
    more = ["--store", "store", "--who", keeper, *(["--plain"] if common.plain else [])]
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([*words, *more])
    text = _text(out).rstrip("\n").split("\n")
    if lines is None or code != expect:
        lines = len(text)
    if lines:
        say("\n".join(text[:lines]), plain=common.plain)
    if 0 < lines < len(text):
        say(f"… {len(text) - lines} more lines", plain=common.plain)
    if code != expect:
        raise AsflownError(
            f"the worked example stopped: `{' '.join(words[:2])}` ended with {code}, not {expect}",
            where=_text(err).strip() or None,
            next_step="please report it with what is printed above",
        )


def _buffer() -> io.TextIOWrapper:
    """A stand-in for standard output that knows the same characters."""
    return io.TextIOWrapper(io.BytesIO(), encoding=sys.stdout.encoding or "utf-8", write_through=True)


def _text(buffer: io.TextIOWrapper) -> str:
    buffer.seek(0)
    return buffer.read()


def _quoted(word: str) -> str:
    return word if word.replace("=", "").replace(">", "").isalnum() else shlex.quote(word)
