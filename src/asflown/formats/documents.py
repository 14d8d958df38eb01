"""What is kept, as canonical JSON: equal objects give equal bytes."""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache
from typing import Any, TypeVar, cast

import msgspec

from asflown.errors import Damaged, InputError

T = TypeVar("T")

_NEXT = "see what else is damaged: asflown verify"

#: Version of the layout of each kind of document; raised when a field changes its meaning.
VERSIONS = {"aircraft": 1, "record": 1, "release": 1, "plan": 1, "refit": 1}


def dump(thing: object) -> bytes:
    """Write a core object as UTF-8 JSON with sorted keys, with its kind and layout version.

    Raises
    ------
    InputError
        When a text in it holds bytes that are no UTF-8 (as a terminal may pass them on).

    Examples
    --------
    >>> from asflown.core.record import Key
    >>> dump(Key("tilt.limit", bank="set 1"))
    b'{"asflown":"key","body":{"bank":"set 1","index":null,"name":"tilt.limit"},"version":1}'
    """
    kind = _kind(type(thing))
    wrapped = {"asflown": kind, "version": VERSIONS.get(kind, 1), "body": thing}
    try:
        return msgspec.json.encode(wrapped, order="sorted")
    except UnicodeEncodeError:
        raise InputError(
            "a text holds bytes that are no UTF-8", where=kind, next_step="type it again in UTF-8"
        ) from None


def load(data: bytes, type_: type[T], *, kind: str | None = None) -> T:
    """Read a document back.

    Parameters
    ----------
    kind
        What the document is, where ``type_`` has only some of its fields; the others are not read.

    Raises
    ------
    Damaged
        When it is no document of that kind, is of a newer layout, or does not hold what it must.

    Notes
    -----
    The same bytes give the same object: what is loaded is frozen, and is never changed in place.
    """
    return cast("T", _loaded(bytes(data), cast("Hashable", type_), kind or _kind(type_)))


#: Documents that are remembered: pages ask for the same ones again and again.
_REMEMBERED = 64


@lru_cache(maxsize=_REMEMBERED)
def _loaded(data: bytes, type_: Any, kind: str) -> Any:
    try:
        wrapped = msgspec.json.decode(data, type=_Wrapped)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise Damaged(f"is no kept document: {error}", where=kind, next_step=_NEXT) from None
    known = VERSIONS.get(kind, 1)
    if wrapped.asflown != kind:
        what = f"is a {wrapped.asflown!r}, expected a {kind!r}"
        raise Damaged(what, where=kind, next_step=_NEXT)
    if wrapped.version > known:
        raise Damaged(
            f"has layout version {wrapped.version}; this asflown reads up to {known}",
            where=kind,
            next_step="use a newer asflown",
        )
    try:
        return _decoder(type_).decode(wrapped.body)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        what = f"does not hold what a {kind} must: {error}"
        raise Damaged(what, where=kind, next_step=_NEXT) from None


class _Wrapped(msgspec.Struct):
    asflown: str
    version: int
    body: msgspec.Raw


_DECODERS: dict[type[Any], msgspec.json.Decoder[Any]] = {}


def _decoder(type_: type[T]) -> msgspec.json.Decoder[T]:
    """Decoders are kept: making one reads every annotation."""
    if type_ not in _DECODERS:
        _DECODERS[type_] = msgspec.json.Decoder(type_)
    return _DECODERS[type_]


def _kind(type_: type[Any]) -> str:
    return type_.__name__.casefold()
