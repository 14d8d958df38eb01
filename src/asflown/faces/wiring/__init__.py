"""The one place that picks adapters: where things are kept, what the time is, who works, files."""

from __future__ import annotations

import os
import sys
from collections.abc import Generator, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from asflown.adapters.log_file import LogBytes, LogFile
    from asflown.app.boards import Processors
    from asflown.app.needs import Brought, Host, Links, Ports, Store, Terminals
    from asflown.app.workplace import Workplace

_FIGURES_STEP = "give another folder, or --force to write over them"


def data_folder() -> Path:
    """The folder everything is kept in when none is given: the platform's place for a user's data."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
        return Path(base) / "asflown"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "asflown"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "asflown"


def who_works(said: str | None = None) -> str:
    """The name a person gave, else the one the machine knows, else ``not stated``."""
    if said and said.strip():
        return said.strip()
    for name in ("LOGNAME", "USER", "LNAME", "USERNAME"):
        if os.environ.get(name):
            return os.environ[name]
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a user without a name on this machine
        return "not stated"


def workplace(folder: Path | None = None, who: str | None = None) -> Workplace:
    """Open the store in a folder, made when it is not there yet.

    Parameters
    ----------
    folder
        ``None``: :func:`data_folder`.
    """
    from asflown.adapters.clock import SystemClock
    from asflown.adapters.store import open_store
    from asflown.app.workplace import Workplace

    clock = SystemClock()
    person = who_works(who)
    store = open_store(folder or data_folder(), clock=clock, who=person)
    return Workplace(store, clock, person, processors())


def processors() -> Processors:
    """The processor tables that come with asflown; none is read before it is asked for."""
    from asflown.adapters.processors import load_processor, processor_names
    from asflown.app.boards import Processors

    return Processors(load_processor, processor_names)


def host() -> Host:
    """The machine asflown runs on."""
    from asflown.adapters.host import ThisHost

    return ThisHost()


def kept_store(folder: Path | None = None) -> Store | None:
    """The store of a folder where there is one, ``None`` where not: nothing is made."""
    from asflown.adapters.store.connect import FILE

    place = folder or data_folder()
    return workplace(place).store if (place / FILE).is_file() else None


def bring(word: str, beside: Sequence[str] = ()) -> Brought | None:
    """The folder, file or standard input a word names, ``None`` where nothing is there."""
    from asflown.adapters.brought import bring

    return bring(word, beside)


def read_file(path: str) -> tuple[bytes, str]:
    """The bytes of a file (``-``: standard input) and its name."""
    from asflown.adapters.files import read_file

    return read_file(path)


def log_source(word: str) -> LogFile | LogBytes:
    """A flight log by its name (``-``: standard input); nothing of it is read yet."""
    from asflown.adapters.log_file import log_source

    return log_source(word)


def log_of_bytes(name: str, data: bytes) -> LogBytes:
    """A flight log that lies in memory."""
    from asflown.adapters.log_file import LogBytes

    return LogBytes(name, data)


def read_folder(path: str) -> Mapping[str, bytes]:
    """The bytes of every file below a folder, by relative path."""
    from asflown.adapters.files import read_folder

    return read_folder(path)


def write_new(path: str, data: bytes) -> Path:
    """Write a file that must not be there yet, whole or not at all."""
    from asflown.adapters.files import write_new

    return write_new(path, data)


def write_or_replace(path: str, data: bytes, *, replace: bool) -> Path:
    """Write a file whole or not at all; one that is there is replaced only where that was asked for."""
    from asflown.adapters.files import write_new

    return write_new(path, data, overwrite=replace, step="give another name, or --replace to write over it")


def refuse_figures(folder: str, *, force: bool) -> None:
    """Refuse a folder that holds figures already, unless they may be written over."""
    from asflown.adapters.files import refuse_full

    refuse_full(folder, ".svg", overwrite=force, step=_FIGURES_STEP)


def write_figures(folder: str, files: Mapping[str, bytes], *, force: bool) -> tuple[str, ...]:
    """Write figures into a folder, each whole or not at all; the paths written."""
    from asflown.adapters.files import write_new

    places = [str(Path(folder) / name) for name in files]
    for place, data in zip(places, files.values(), strict=True):
        write_new(place, data, overwrite=force, step=_FIGURES_STEP)
    return tuple(places)


def refuse_existing(path: str) -> None:
    """Refuse a place where something is already, before anything is made."""
    from asflown.adapters.bags import refuse_existing

    refuse_existing(path)


def write_bag(path: str, files: Mapping[str, bytes]) -> Path:
    """Write a hand-over: a zip when the name ends in ``.zip``, else a folder."""
    from asflown.adapters.bags import write_bag

    return write_bag(path, files)


def read_bag(path: str) -> Mapping[str, bytes]:
    """The files of a hand-over, folder or zip."""
    from asflown.adapters.bags import read_bag

    return read_bag(path)


def unpacked(data: bytes, name: str) -> Mapping[str, bytes]:
    """The files of a zip that somebody brought, within bounds."""
    from asflown.formats import zipped

    return zipped.unpack(data, name)


def packed(files: Mapping[str, bytes], folder: str) -> bytes:
    """Files as a zip, all below one folder."""
    from asflown.formats import zipped

    return zipped.pack(files, folder)


def write_folder(path: str, files: Mapping[str, bytes]) -> Path:
    """Write a folder that must not be there yet, whole or not at all."""
    from asflown.adapters.folders import write_folder

    return write_folder(path, files)


def ports(speed: int | None = None) -> Ports:
    """Where boards are plugged in: this machine's ports, and simulated boards whose flash is a file.

    Parameters
    ----------
    speed
        Of serial lines, bits a second; ``None``: the usual one.
    """
    from asflown.faces.wiring.all_ports import AllPorts

    return AllPorts(speed)


def terminals(speed: int | None = None) -> Terminals:
    """Text terminals at this machine's ports, and simulated boards whose settings are a file.

    Parameters
    ----------
    speed
        Bits a second; ``None``: as the words say.
    """
    from asflown.faces.wiring.all_terminals import AllTerminals

    return AllTerminals(speed)


def links() -> Links:
    """Where aircraft are reached over MAVLink; simulated ones too."""
    from asflown.faces.wiring.all_links import AllLinks

    return AllLinks()


def demo_board() -> Mapping[str, bytes]:
    """The flash of a simulated board that has the old release, and the images of both releases."""
    from asflown.demo import board_state, images, scenario, terminal
    from asflown.demo.device import SimulatedBoard
    from asflown.demo.scenario import NEW_RELEASE, OLD_RELEASE

    return {
        "plover.flash": images.flash(OLD_RELEASE),
        "plover.board": board_state.dumped(scenario.simulated("plover")),
        "loaded.board": board_state.dumped(SimulatedBoard(NEW_RELEASE)),
        "terminal.toml": terminal.WORDS.encode(),
        **{f"{release}.bin": images.image(release) for release in (OLD_RELEASE, NEW_RELEASE)},
    }


def demo_story(*, over_link: bool = False) -> tuple[Generator[Any, Any, None], str]:
    """The steps of a worked example (see :mod:`asflown.demo.story`), and who works in it."""
    if over_link:
        from asflown.demo.dune import story

        return story.tell(), story.KEEPER
    from asflown.demo.scenario import KEEPER
    from asflown.demo.story import tell

    return tell(), KEEPER


def demo_aircraft(
    folder: Path, way: str, scene: str, faults: str, encoding: str, seconds: float | None
) -> tuple[str, Iterator[float]]:
    """The address of a simulated aircraft, and what is run for it to be there."""
    from asflown.demo.aircraft.scenes import moved
    from asflown.demo.dune import firmware
    from asflown.demo.served import Part, end_of, faults_of, serve

    spoilt = faults_of(faults)
    moved(scene)  # refuses a word that is none, before anything is written
    end = end_of(way)
    params = folder / "sanderling.params"
    params.write_bytes(firmware.parameters(firmware.OLD, firmware.SANDERLING))
    (folder / "sanderling.json").write_bytes(firmware.description(firmware.OLD))
    release = folder / firmware.OLD
    release.mkdir()
    (release / "release.toml").write_bytes(firmware.release_toml(firmware.OLD))
    (release / "overlay.toml").write_bytes(firmware.overlay(firmware.OLD))
    part = Part(params, scene, encoding.replace("-", " "), spoilt)
    run = serve(part, end, is_over=lambda now: seconds is not None and now >= seconds)
    return end.address, run


def demo_flight() -> bytes:
    """The log of a simulated flight of the worked example's aircraft, CSV."""
    from asflown.demo.flight import plover_log

    return plover_log()


def demo_tern() -> Mapping[str, bytes]:
    """The files of the example of a retune, by path."""
    from asflown.demo.tern import files

    return files()


def demo_tern_flight(listing: bytes, seed: int) -> bytes:
    """The log of a flight of the second example's aircraft with a listing's settings."""
    from asflown.demo.tern import flight_log

    return flight_log(listing, seed=seed)


def demo_tern_rock(listing: bytes, seed: int) -> bytes:
    """The log of the second example's aircraft rocked by hand, propellers off, with a listing's settings."""
    from asflown.demo.rock import rock_log

    return rock_log(listing, seed=seed)
