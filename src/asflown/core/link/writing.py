"""Write parameters one after another, each acknowledged by the value now held: a machine without a clock.

MAVLink parameter protocol: a PARAM_SET is answered by a PARAM_VALUE with what is held now, set or not. An
answer may be lost, doubled or late; so another value counts as a refusal only when it came to several fresh
requests.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from asflown.core.link.asks import Ask, Set
from asflown.core.link.reading import Came

#: s after which a set is sent again; how often; how many fresh answers with another value are a refusal.
AGAIN, TRIES, REFUSALS = 0.5, 60, 3


@dataclass(frozen=True, slots=True)
class Refusal:
    """A parameter that does not take its value.

    Attributes
    ----------
    held
        The four bytes it holds instead, ``None`` where nothing was answered.
    """

    name: str
    held: bytes | None
    kind: int | None


@dataclass
class ParamWriter:
    """Writes items in their order."""

    items: Sequence[Set]
    proven: list[str] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    _at: int = 0
    _sent: float | None = None
    _tries: int = 0
    _others: int = 0
    _counted: int = 0
    _held: Came | None = None

    @property
    def is_done(self) -> bool:
        """Whether every item was taken or refused."""
        return self._at >= len(self.items)

    def take(self, came: Came, now: float) -> None:
        """A value came."""
        if self.is_done or self._sent is None:
            return
        item = self.items[self._at]
        if came.name != item.name:
            return
        if came.raw == item.raw and came.kind == item.kind:
            self.proven.append(item.name)
            self._next()
            return
        # it may be a late answer from before the set arrived: it counts once for each set that was sent
        if self._counted < self._tries:
            self._counted = self._tries
            self._others += 1
            self._held = came
        if self._others >= REFUSALS:
            self.refused.append(Refusal(item.name, came.raw, came.kind))
            self._next()

    def _next(self) -> None:
        self._at += 1
        self._sent, self._tries, self._others, self._counted, self._held = None, 0, 0, 0, None

    def asks(self, now: float) -> Iterator[Ask]:
        """What to send now."""
        if self.is_done:
            return
        if self._sent is not None and now - self._sent < AGAIN:
            return
        item = self.items[self._at]
        if self._tries >= TRIES:
            held = self._held
            self.refused.append(Refusal(item.name, held.raw if held else None, held.kind if held else None))
            self._next()
            yield from self.asks(now)
            return
        self._tries += 1
        self._sent = now
        yield item
