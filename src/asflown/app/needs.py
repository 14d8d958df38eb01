"""What the jobs need from outside, as protocols. Adapters satisfy them structurally."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from asflown.core.image.flash import Sector
from asflown.core.link.asks import Ask
from asflown.core.link.heard import Message
from asflown.core.link.words import Guard, TerminalWords
from asflown.core.load.told import Told
from asflown.core.logbook import Entry
from asflown.core.record import Original
from asflown.errors import Fault

if TYPE_CHECKING:
    from asflown.core.load.host import HostSeen


@dataclass(frozen=True, slots=True)
class Document:
    """One revision of something kept: JSON text with its kind, identifier and hash.

    Attributes
    ----------
    kind
        ``aircraft``, ``record``, ``release``, ``refit``, ``plan``, ``decision`` …
    id
        Unique within its kind.
    revision
        1, 2, …; earlier revisions are never removed.
    body
        UTF-8 JSON as :mod:`asflown.formats.documents` wrote it.
    sha256
        Of ``body``.
    """

    kind: str
    id: str
    revision: int
    body: bytes
    sha256: str
    at: str


class Transaction(Protocol):
    """Writes that happen together or not at all."""

    def keep(self, data: bytes, *, name: str, kind: str) -> Original:
        """Keep the bytes of an original; the same bytes twice are kept once."""

    def put(self, kind: str, id: str, body: bytes, *, expect: int | None = None) -> Document:
        """Append a revision. ``expect`` is the revision last seen (0: must be new); raises `Stale`."""

    def log(self, book: str, kind: str, body: Mapping[str, Any]) -> Entry:
        """Append an entry to a logbook (one book an aircraft, and the book ``releases``)."""

    def append(self, entry: Entry) -> Entry:
        """Append an entry that was handed over as it is, with its own time, writer and hash."""

    def next_sheet(self, book: str) -> int:
        """Take the next sheet number of a book (1, 2, …)."""


class Store(Protocol):
    """Where everything is kept."""

    def transaction(self) -> AbstractContextManager[Transaction]:
        """One use case; rolled back whole when the block raises."""

    def original(self, sha256: str) -> bytes:
        """The bytes of an original; raises `Damaged` when they are gone or changed."""

    def document(self, kind: str, id: str) -> Document | None:
        """The latest revision, ``None`` where there is none."""

    def documents(self, kind: str) -> tuple[Document, ...]:
        """The latest revision of each, by id."""

    def revisions(self, kind: str, id: str) -> tuple[Document, ...]:
        """Every revision, oldest first."""

    def book(self, book: str) -> tuple[Entry, ...]:
        """A logbook, oldest entry first."""

    def books(self) -> tuple[str, ...]:
        """Names of all logbooks."""

    def originals(self) -> tuple[Original, ...]:
        """Every original kept."""

    def heads(self) -> Mapping[str, tuple[int, str]]:
        """Number and hash of the last entry of each book, as they are kept a second time."""

    def loose_files(self) -> tuple[str, ...]:
        """Files among the originals that nothing names: left by a process that was killed; no fault."""

    def faults(self) -> tuple[Fault, ...]:
        """What does not hold in the way things are kept (rows changed, put in or taken out by hand)."""

    def memory(self, name: str) -> str | None:
        """A convenience value (``current_aircraft``), not part of any logbook."""

    def remember(self, name: str, value: str | None) -> None:
        """Set or forget a convenience value."""


class Clock(Protocol):
    """The time."""

    def now(self) -> str:
        """ISO 8601 with zone, to the second, e.g. ``2026-03-07T09:12:44+01:00``."""


class Host(Protocol):
    """The machine asflown runs on: what hangs on it, and its time."""

    def see(self) -> HostSeen:
        """What is there now. Never fails: what cannot be read is unknown."""

    def wait(self, seconds: float) -> None:
        """Let time pass."""

    def elapsed(self) -> float:
        """Seconds since some moment."""


@dataclass(frozen=True, slots=True)
class Brought:
    """What somebody pointed at: a folder with its files, or one file with some that stand beside it.

    Attributes
    ----------
    name
        What it is called; ``standard input`` where it came through a pipe.
    files
        Bytes by path relative to the folder, ``/`` between parts.
    folder
        The name of the folder the files stand in, ``None`` where there is none.
    """

    name: str
    files: Mapping[str, bytes]
    is_folder: bool = False
    folder: str | None = None


class Bring(Protocol):
    """Reads what a word names."""

    def __call__(self, word: str, beside: Sequence[str] = ()) -> Brought | None:
        """The folder or file of that name (``-``: standard input), ``None`` where nothing is there.

        Parameters
        ----------
        beside
            Names of files to read too where they stand beside the file.
        """


class BootLoader(Protocol):
    """A board in its boot loader. Every method raises `DeviceError` when it does not do what was asked."""

    def connect(self) -> Told:
        """Wake it and ask what it is."""

    def read(self, at: int, count: int) -> bytes:
        """Bytes of the flash."""

    def erase(self, sector: Sector) -> None:
        """Erase a sector."""

    def write(self, at: int, data: bytes) -> None:
        """Write one block of erased flash, at most as large as it told."""

    def recover(self) -> None:
        """Bring the talk back into step after something went wrong on the way."""

    def leave(self, at: int) -> None:
        """Start the firmware whose vector table lies there."""

    def close(self) -> None:
        """Let go of the port."""


@dataclass(frozen=True, slots=True)
class Plugged:
    """A board, or what may be one, that is plugged in.

    Attributes
    ----------
    name
        What a person gives to choose it: ``usb:1-4``, ``/dev/ttyUSB0``.
    says
        What it is, in words.
    """

    name: str
    says: str


class Ports(Protocol):
    """Where boards are plugged in."""

    def plugged(self) -> tuple[Plugged, ...]:
        """Every board in its USB boot loader, and every serial port that may lead to one."""

    def open(self, name: str) -> BootLoader:
        """The boot loader behind a port.

        Raises
        ------
        DeviceError
            When it cannot be opened.
        UsageError
            When there is no such port.
        """

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward."""


class Terminal(Protocol):
    """A firmware's text terminal behind a guard. Every method raises `DeviceError` when the line is gone."""

    prompt: str | None

    def wake(self) -> bytes:
        """Bring it to where it waits for a line."""

    def type(self, line: str) -> bytes:
        """Type one line; everything it printed until it was quiet."""

    def reopen(self) -> None:
        """Open the line again, as after a restart of the board."""

    def close(self) -> None:
        """Let go of the line."""


class Terminals(Protocol):
    """Where text terminals are plugged in."""

    def open(self, name: str, words: TerminalWords, guard: Guard) -> Terminal:
        """The terminal behind a port.

        Raises
        ------
        DeviceError
            When it cannot be opened.
        """


class Link(Protocol):
    """A MAVLink link behind a guard. Every method raises `DeviceError` when the line is gone."""

    target: tuple[int, int]

    def send(self, ask: Ask) -> None:
        """Send what is asked, if it may leave."""

    def receive(self, seconds: float) -> tuple[tuple[int, Message], ...]:
        """What came until now, each with its system; waits up to so many seconds for the first."""

    def close(self) -> None:
        """Let go of the line."""


class Links(Protocol):
    """Where aircraft are reached over MAVLink."""

    def open(self, address: str) -> Link:
        """The link of an address: ``serial:/dev/ttyACM0@115200``, ``udp:127.0.0.1:14550``, ``tcp:HOST:PORT``.

        Raises
        ------
        DeviceError, UsageError
            When it cannot be opened, or is no address.
        """

    def seconds(self) -> float:
        """Seconds of a clock that only goes forward."""
