"""Read one file of an aircraft over a link that loses, doubles and reorders: a machine without a clock.

MAVLink FTP: the file is opened, then sent in a burst; what a burst lost is read piece by piece. An answer is
known by the number of its request, a piece by its place, so that late and doubled ones do no harm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum

from asflown.core.link.asks import Ask, Files
from asflown.core.link.ftp import (
    END_OF_FILE,
    ERRORS,
    INVALID_SESSION,
    NO_SESSIONS,
    ROOM,
    UNKNOWN_COMMAND,
    Op,
    Packet,
)

#: s without an answer after which a request is sent again; how often one request; s a burst may pause.
AGAIN, TRIES, PAUSE = 0.5, 60, 0.6
#: How often an aircraft may forget a session.
RESTARTS = 5
#: Bytes of the largest file that is read.
LARGEST = 8_000_000


class _Stage(Enum):
    RESET = "forgetting old sessions"
    OPEN = "opening"
    BURST = "reading"
    PIECES = "reading what was lost"
    CLOSE = "closing"
    DONE = "done"


@dataclass
class FileReader:
    """One file by its path; gives up where nothing comes.

    Attributes
    ----------
    trouble
        Why it gave up, empty while it goes on or when it is done.
    size
        Bytes of the file, ``None`` before it was opened.
    """

    path: str
    trouble: str = ""
    size: int | None = None
    _pieces: dict[int, bytes] = field(default_factory=dict)
    _stage: _Stage = _Stage.RESET
    _number: int = 0
    _session: int = 0
    _sent: float | None = None
    _tries: int = 0
    _heard: float = 0.0
    _restarts: int = 0

    @property
    def is_done(self) -> bool:
        """Whether the file is here, or it gave up."""
        return bool(self.trouble) or self._stage is _Stage.DONE

    @property
    def share(self) -> float:
        """How much of it is here, 0 to 1."""
        return min(1.0, sum(map(len, self._pieces.values())) / self.size) if self.size else 0.0

    @property
    def data(self) -> bytes:
        """The file; complete when the machine is done without trouble."""
        made = bytearray(self.size or 0)
        for at, piece in self._pieces.items():
            made[at : at + len(piece)] = piece
        return bytes(made)

    def take(self, came: object, now: float) -> None:
        """A packet came; anything else is nothing to this machine."""
        if not isinstance(came, Packet) or self.is_done:
            return
        if came.op not in (Op.ACK, Op.NAK):
            return
        if self._stage in (_Stage.BURST, _Stage.PIECES):
            self._read(came, now)
        elif came.answers == self._asked and came.number == (self._number + 1) & 0xFFFF:
            self._answered(came)

    @property
    def _asked(self) -> int:
        return {_Stage.RESET: Op.RESET, _Stage.OPEN: Op.OPEN, _Stage.CLOSE: Op.TERMINATE}.get(self._stage, 0)

    def _answered(self, came: Packet) -> None:
        if self._stage is _Stage.RESET:
            self._go(_Stage.OPEN)  # a server that forgets nothing answers so too: opening will tell
        elif self._stage is _Stage.CLOSE:
            self._go(_Stage.DONE)
        elif came.op == Op.NAK:
            if came.error == NO_SESSIONS and self._tries < TRIES:
                self._go(_Stage.RESET)
                return
            self.trouble = f"{self.path} is not opened: {ERRORS.get(came.error, f'error {came.error}')}"
        else:
            size = int.from_bytes(came.data[:4], "little") if len(came.data) >= 4 else 0
            if size != self.size:
                self._pieces.clear()  # another file now than before it was opened again
            self.size, self._session = size, came.session
            if self.size > LARGEST:
                self.trouble = f"{self.path} has {self.size} bytes; at most {LARGEST} are read"
            else:
                self._go(_Stage.BURST if self.size else _Stage.CLOSE)

    def _read(self, came: Packet, now: float) -> None:
        assert self.size is not None
        if came.session != self._session or came.answers not in (Op.BURST, Op.READ):
            return
        if came.op == Op.NAK:
            self._refused(came)
            return
        piece = came.data[: max(0, self.size - came.offset)]
        if piece:
            self._pieces[came.offset] = max(piece, self._pieces.get(came.offset, b""), key=len)
        self._heard = now
        if self._gap() is None:
            self._go(_Stage.CLOSE)
        elif self._stage is _Stage.BURST and came.is_last:
            self._go(_Stage.PIECES)
        elif self._stage is _Stage.PIECES and came.answers == Op.READ:
            self._sent, self._tries = None, 0

    def _refused(self, came: Packet) -> None:
        if came.error in (END_OF_FILE, UNKNOWN_COMMAND) and self._stage is _Stage.BURST:
            self._go(_Stage.PIECES)
        elif came.error == INVALID_SESSION:
            # the aircraft forgot the session: what is here already stays
            self._restarts += 1
            if self._restarts > RESTARTS:
                self.trouble = f"{self.path}: the aircraft forgets the session, {RESTARTS} times"
            self._go(_Stage.RESET)

    def _gap(self) -> tuple[int, int] | None:
        """Begin and length of the first bytes that are missing."""
        assert self.size is not None
        at = 0
        for begin in sorted(self._pieces):
            if begin > at:
                return at, min(ROOM, begin - at)
            at = max(at, begin + len(self._pieces[begin]))
        return (at, min(ROOM, self.size - at)) if at < self.size else None

    def _go(self, stage: _Stage) -> None:
        self._stage, self._sent, self._tries = stage, None, 0

    def asks(self, now: float) -> Iterator[Ask]:
        """What to send now."""
        if self.is_done:
            return
        if self._sent is not None:
            is_burst = self._stage is _Stage.BURST
            since = max(self._sent, self._heard) if is_burst else self._sent
            if now - since < (PAUSE if is_burst else AGAIN):
                return
            if is_burst and self._heard > self._sent:
                self._go(_Stage.PIECES)  # the burst broke off
        if self._tries >= TRIES:
            if self._stage is _Stage.CLOSE:
                self._go(_Stage.DONE)  # the file is here; that the aircraft forgets the session is its affair
                return
            if self._stage is _Stage.RESET:
                self._go(_Stage.OPEN)
            else:
                self.trouble = f"{self.path}: no answer while {self._stage.value}, asked {TRIES} times"
                return
        self._tries += 1
        self._sent = now
        yield Files(self._request())

    def _request(self) -> Packet:
        if self._tries == 1:
            self._number = (self._number + 2) & 0xFFFF
        number = self._number
        if self._stage is _Stage.RESET:
            return Packet(number, 0, Op.RESET, 0, 0, False, 0)
        if self._stage is _Stage.OPEN:
            name = self.path.encode("utf-8")
            return Packet(number, 0, Op.OPEN, len(name), 0, False, 0, name)
        if self._stage is _Stage.CLOSE:
            return Packet(number, self._session, Op.TERMINATE, 0, 0, False, 0)
        gap = self._gap()
        assert gap is not None
        at, length = gap
        if self._stage is _Stage.BURST:
            return Packet(number, self._session, Op.BURST, ROOM, 0, False, at)
        return Packet(number, self._session, Op.READ, length, 0, False, at)
