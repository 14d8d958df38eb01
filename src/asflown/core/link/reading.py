"""Read all parameters of an aircraft over a link that loses, doubles and reorders: a machine without a clock.

MAVLink parameter protocol: PARAM_REQUEST_LIST is answered by one PARAM_VALUE for each, with their count and
each one's index; what is missing is asked for by its index. The machine is told what comes and what time it
is, and says what to send.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from asflown.core.link.asks import Ask, RequestList, RequestRead

#: s without a value after which missing ones are asked for, and after which one is asked for again; how many
#: at once; how often.
IDLE, AGAIN, WINDOW, TRIES = 0.6, 0.5, 12, 60
#: Index of a value that answers no index: it was set, or asked for by its name.
NO_INDEX = 65_535


@dataclass(frozen=True, slots=True)
class Came:
    """A PARAM_VALUE.

    Attributes
    ----------
    raw
        The four bytes of the value's field.
    kind
        Number of its type.
    """

    name: str
    raw: bytes
    kind: int
    count: int
    index: int


@dataclass
class ParamReader:
    """All parameters by index; give up where nothing comes.

    Attributes
    ----------
    count
        How many there are, ``None`` before the first value.
    trouble
        Why it gave up, empty while it goes on.
    """

    values: dict[int, Came] = field(default_factory=dict)
    count: int | None = None
    trouble: str = ""
    _asked: dict[int, float] = field(default_factory=dict)
    _tries: dict[int, int] = field(default_factory=dict)
    _last: float | None = None
    _listed: int = 0

    @property
    def is_done(self) -> bool:
        """Whether every one came, or it gave up."""
        return bool(self.trouble) or (self.count is not None and len(self.values) == self.count)

    def take(self, came: Came, now: float) -> None:
        """A value came."""
        if came.index == NO_INDEX or came.index >= came.count:
            return
        if self.count is not None and came.count != self.count:
            # the aircraft has other parameters now than when it began: all of them are read anew
            self.values.clear()
            self._asked.clear()
        self.count = came.count
        self._last = now
        self.values[came.index] = came
        self._asked.pop(came.index, None)

    def asks(self, now: float) -> Iterator[Ask]:
        """What to send now."""
        if self.is_done:
            return
        if self._last is None or (self.count is None and now - self._last >= IDLE):
            if self._listed >= TRIES:
                self.trouble = f"no parameter comes, asked for {TRIES} times"
                return
            self._listed += 1
            self._last = now
            yield RequestList()
        elif self.count is not None and (self._asked or now - self._last >= IDLE):
            yield from self._missing(now)

    def _missing(self, now: float) -> Iterator[Ask]:
        assert self.count is not None
        late = [index for index, at in self._asked.items() if now - at >= AGAIN]
        for index in late:
            del self._asked[index]
        missing = (
            index for index in range(self.count) if index not in self.values and index not in self._asked
        )
        for index in missing:
            if len(self._asked) >= WINDOW:
                return
            self._tries[index] = self._tries.get(index, 0) + 1
            if self._tries[index] > TRIES:
                self.trouble = f"parameter {index} of {self.count} does not come, asked for {TRIES} times"
                return
            self._asked[index] = now
            yield RequestRead(index=index)
