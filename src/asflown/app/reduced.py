"""A record and its listing without what is private."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from asflown.app.needs import Store
from asflown.app.private import Private
from asflown.core.listing import PieceKind
from asflown.core.record import Original, Record, Repeated, Setting
from asflown.formats import listing

#: What of a listing goes with it: settings, and what their places and names are read from. Comments, prompts
#: and lines that were not understood can say anything, and stay behind.
PLAIN = (
    PieceKind.SETTING,
    PieceKind.BANK,
    PieceKind.HEADER,
    PieceKind.FIXED,
    PieceKind.STRUCTURE,
    PieceKind.BLANK,
)


def reduced_record(store: Store, record: Record, private: Private) -> tuple[Record, tuple[bytes, ...]]:
    """A record without private settings, and its listing without the lines they stand in.

    Returns
    -------
    tuple of Record and tuple of bytes
        The listing is left out whole (an empty tuple) where a line that stays still tells something
        private, or where it does not read as the reduced record any more.
    """
    staying = tuple(setting for setting in record.settings if not private.hides(setting))
    number = len(record.settings) - len(staying)
    remarks = [private.without(text) for text in record.remarks]
    if number:
        remarks.append(f"{number} private settings were left out at the hand-over")
    reduced = replace(
        record,
        settings=staying,
        unread=tuple(replace(u, text="", said=u.said or "left out") for u in record.unread),
        originals=(),
        remarks=tuple(remarks),
        left_out=record.left_out + number,
        repeated=tuple(again for again in record.repeated if _may_stay(again, staying, private)),
    )
    if not record.originals:
        return reduced, ()
    first = record.originals[0]
    data = _cut(store.original(first.sha256), record, staying, private)
    if data is None:
        return reduced, ()
    kept = Original(hashlib.sha256(data).hexdigest(), len(data), first.name, first.kind)
    return replace(reduced, originals=(kept,)), (data,)


def _may_stay(again: Repeated, staying: tuple[Setting, ...], private: Private) -> bool:
    """Whether what a repeated setting shows tells nothing private."""
    stays = any(str(setting.key) == again.key for setting in staying)
    return stays and not any(private.is_told_in(value) for value in again.values)


def _cut(data: bytes, record: Record, staying: tuple[Setting, ...], private: Private) -> bytes | None:
    """The listing without the lines of private settings; ``None`` where that cannot be had cleanly."""
    read = listing.read(data, shape=record.shape)
    gone = {setting.line for setting in record.settings if private.hides(setting)}
    left = b"".join(
        data[piece.start : piece.end]
        for piece in read.pieces
        if piece.kind in PLAIN and (piece.line not in gone or piece.kind is PieceKind.STRUCTURE)
    )
    again = listing.read(left, shape=record.shape)
    if _said(again.settings) != _said(staying):
        return None
    try:
        text = left.decode(read.encoding)
    except (UnicodeDecodeError, LookupError):
        return None
    return None if private.is_told_in(text) else left


def _said(settings: tuple[Setting, ...]) -> dict[str, str]:
    return {str(setting.key): setting.value for setting in settings}
