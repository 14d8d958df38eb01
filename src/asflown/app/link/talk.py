"""A talk with one aircraft over MAVLink: find it, ask what it is, run a machine until it is done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from asflown.app.needs import Link, Links
from asflown.core.link import asks
from asflown.core.link.asks import Ask, Beat, Command, RequestRead, Set
from asflown.core.link.file_reading import FileReader
from asflown.core.link.ftp import Packet
from asflown.core.link.heard import Answered, Heard, MetadataAt, Said, Version
from asflown.core.link.reading import Came, ParamReader
from asflown.core.link.values import Encoding, encoding_of
from asflown.core.link.writing import ParamWriter
from asflown.errors import DeviceError, Fault, NeedsPerson

#: s: a heartbeat of ours; how long one of theirs is waited for, and another aircraft is listened for.
BEAT, PATIENCE, LISTEN = 1.0, 15.0, 1.5
#: s between two commands, how often a command is sent; longest wait for bytes.
AGAIN, TRIES, WAIT = 0.5, 40, 0.05
_ACCEPTED, _AUTOPILOT = 0, 1
#: Longest name of a parameter; how often a single one is asked for.
_NAME, _ASKED = 16, 16
#: Texts of the aircraft among which one that comes again is dropped.
_TEXTS = 20


class Machine(Protocol):
    """Reads or writes parameters."""

    @property
    def is_done(self) -> bool:
        """Whether it has ended."""

    def take(self, came: Any, now: float) -> None:
        """A message came that it wants."""

    def asks(self, now: float) -> Iterator[Ask]:
        """What to send now."""


@dataclass(frozen=True)
class Aircraft:
    """The aircraft that is spoken to."""

    system: int
    heard: Heard
    version: Version
    encoding: Encoding


class Talk:
    """One open link."""

    def __init__(self, links: Links, address: str, system: int | None = None) -> None:
        self.links, self.address, self.system = links, address, system
        self.link: Link = links.open(address)
        self._beat = float("-inf")
        self.is_armed = False
        self._texts: list[tuple[int, Said]] = []

    def __enter__(self) -> Talk:
        return self

    def __exit__(self, *_: object) -> None:
        self.link.close()

    @property
    def texts(self) -> tuple[Said, ...]:
        """What the aircraft said in words, those before it was greeted too."""
        return tuple(text for system, text in self._texts if system == self.link.target[0])

    def greet(self) -> Aircraft:
        """Wait for the aircraft, and ask what it is.

        Raises
        ------
        DeviceError
            When none is heard, or it does not say what it is.
        NeedsPerson
            When several are heard, or it states no single encoding of parameters: that is never guessed.
        """
        heard = self._heard()
        self.link.target = (heard.system, heard.component)
        self.is_armed = heard.is_armed
        version = self._version()
        try:
            return Aircraft(heard.system, heard, version, encoding_of(version.capabilities))
        except ValueError as error:
            raise NeedsPerson(
                f"the aircraft at {self.address} {error}: what its numbers mean may not be guessed",
                next_step="read it over its text terminal: asflown found --terminal PORT",
            ) from None

    def _heard(self) -> Heard:
        begun = self.links.seconds()
        found: dict[int, Heard] = {}
        while self.links.seconds() - begun < (LISTEN if found else PATIENCE):
            for system, message in self._receive():
                if not isinstance(message, Heard) or self.system not in (None, system):
                    continue
                # of several parts of one aircraft the autopilot is component 1, by the standard
                if system not in found or message.component == _AUTOPILOT:
                    found[system] = message
        if not found:
            raise DeviceError(
                "waiting for a heartbeat",
                f"no aircraft is heard at {self.address} in {PATIENCE:g} s",
                trouble="silent",
                next_step="is it powered (USB alone), is the address right, does no other program hold it?",
            )
        if len(found) > 1:
            raise NeedsPerson(
                "several aircraft are heard",
                faults=tuple(
                    Fault(f"MAV_TYPE {one.kind}", f"system {n}") for n, one in sorted(found.items())
                ),
                next_step=f"say which: --system {min(found)}",
            )
        return next(iter(found.values()))

    def _version(self) -> Version:
        for number in range(TRIES):
            self.link.send(Command(asks.REQUEST_MESSAGE, float(asks.AUTOPILOT_VERSION), min(number, 255)))
            for message in self.until(AGAIN):
                if isinstance(message, Version):
                    return message
        raise DeviceError(
            "asking what it is",
            f"no answer, asked {TRIES} times",
            trouble="silent",
            next_step="look at the link",
        )

    def run(self, machine: Machine, wants: type = Came) -> None:
        """Run a machine until it is done.

        Parameters
        ----------
        wants
            Which messages it takes.

        Raises
        ------
        DeviceError
            When the link is gone.
        """
        while not machine.is_done:
            for ask in machine.asks(self.links.seconds()):
                self.link.send(ask)
            for system, message in self._receive():
                if isinstance(message, wants) and system == self.link.target[0]:
                    machine.take(message, self.links.seconds())

    def read_all(self) -> dict[str, Came]:
        """Every parameter by its name, complete.

        Raises
        ------
        DeviceError
            When some do not come.
        """
        reader = ParamReader()
        self.run(reader)
        if reader.trouble:
            raise DeviceError("reading the parameters", reader.trouble, trouble="silent")
        return {came.name: came for _, came in sorted(reader.values.items())}

    def read_one(self, name: str) -> Came | None:
        """One parameter by its name; ``None`` where the aircraft has none of that name.

        An aircraft says nothing of a name it does not have, so the list's first parameter is asked for too:
        when that comes and the name does not, it has none.

        Raises
        ------
        DeviceError
            When nothing comes at all.
        """
        is_there = False
        if not (0 < len(name) <= _NAME and name.isascii()):
            return None
        for _ in range(_ASKED):
            self.link.send(RequestRead(name))
            self.link.send(RequestRead(index=0))
            for message in self.until(AGAIN):
                if isinstance(message, Came):
                    is_there = True
                    if message.name == name:
                        return message
        if is_there:
            return None
        raise DeviceError(f"reading {name}", f"no answer, asked {_ASKED} times", trouble="silent")

    def read_file(self, path: str) -> bytes:
        """A file of the aircraft, complete.

        Raises
        ------
        DeviceError
            When there is no such file, or it does not come.
        """
        reader = FileReader(path)
        self.run(reader, Packet)
        if reader.trouble:
            raise DeviceError(f"reading {path}", reader.trouble, trouble="silent")
        return reader.data

    def metadata_at(self) -> MetadataAt | None:
        """Where the aircraft's own description lies, ``None`` where it has none.

        Raises
        ------
        DeviceError
            When it never answers.
        """
        is_refused = False
        for number in range(TRIES):
            self.link.send(Command(asks.REQUEST_MESSAGE, float(asks.COMPONENT_METADATA), min(number, 255)))
            for message in self.until(AGAIN):
                if isinstance(message, MetadataAt):
                    return message
                if isinstance(message, Answered) and message.command == asks.REQUEST_MESSAGE:
                    is_refused = message.result != _ACCEPTED
            if is_refused:
                return None
        raise DeviceError(
            "asking for its own description",
            f"no answer, asked {TRIES} times",
            trouble="silent",
            next_step="look at the link",
        )

    def write(self, items: Sequence[Set]) -> ParamWriter:
        """Write parameters in their order.

        Raises
        ------
        NeedsPerson
            When the motors are armed: nothing is written then.
        """
        if self.is_armed:
            raise NeedsPerson(
                "the motors are armed: nothing is written",
                next_step="disarm it by its own means, pack unplugged, propellers off",
            )
        writer = ParamWriter(items)
        self.run(writer)
        return writer

    def command(self, command: int, first: float, second: float = 0.0) -> bool:
        """Send a command until it is answered; whether it was accepted.

        Raises
        ------
        DeviceError
            When it is never answered.
        """
        for number in range(TRIES):
            self.link.send(Command(command, first, min(number, 255), second))
            for message in self.until(AGAIN):
                if isinstance(message, Answered) and message.command == command:
                    return message.result == _ACCEPTED
        raise DeviceError(f"command {command}", f"no answer, sent {TRIES} times", trouble="silent")

    def until(self, seconds: float) -> Iterator[object]:
        """What the aircraft sends in so many seconds."""
        begun = self.links.seconds()
        while self.links.seconds() - begun < seconds:
            for system, message in self._receive():
                if system == self.link.target[0]:
                    yield message

    def _receive(self) -> tuple[tuple[int, object], ...]:
        now = self.links.seconds()
        if now - self._beat >= BEAT:
            self._beat = now
            self.link.send(Beat())
        came = self.link.receive(WAIT)
        for system, message in came:
            if isinstance(message, Said) and (system, message) not in self._texts[-_TEXTS:]:
                self._texts.append((system, message))
            elif isinstance(message, Heard) and system == self.link.target[0]:
                self.is_armed = message.is_armed
        return came
