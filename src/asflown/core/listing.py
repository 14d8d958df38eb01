"""What a reader learned from a settings listing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from asflown.core.record import Extent, Repeated, Setting, Unread


class PieceKind(StrEnum):
    """What one stretch of the original's bytes is."""

    SETTING = "setting"
    BANK = "bank"  # a section header or a bank selector
    HEADER = "header"  # a table's column titles
    COMMENT = "comment"
    BLANK = "blank"
    NOISE = "noise"  # prompts, echo, page breaks, terminal control
    FIXED = "fixed"  # a constant line around the settings, e.g. a first or last word
    STRUCTURE = "structure"  # brackets and the like of JSON, CSV …
    NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the original: ``data[start:end]``. Pieces tile the original without gap or overlap."""

    kind: PieceKind
    start: int
    end: int
    #: 1-based line the piece begins on.
    line: int


@dataclass(frozen=True, slots=True)
class Shape:
    """One line template the reader learned.

    Attributes
    ----------
    pattern
        The template as a person may pin it with ``--shape``: ``{name}``, ``{value}``, ``{index}``,
        ``{bank}``, ``{unit}``, ``{skip}`` stand for the parts; the rest is literal; runs of
        blanks match runs of blanks.
    lines
        How many lines it explains.
    example
        One of them.
    says
        What was learned, in one sentence for a person.
    """

    pattern: str
    lines: int
    example: str
    says: str


@dataclass(frozen=True)
class Listing:
    """A settings listing, read without loss.

    Attributes
    ----------
    family
        How it is built: ``lines``, ``table``, ``json``, ``ini``, ``toml``, ``csv`` …
    encoding
        Python codec name, e.g. ``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``latin-1``.
    newline
        ``lf``, ``crlf``, ``cr``, ``mixed`` or ``none``.
    lossless
        Whether the pieces joined give the original bytes back (measured, not assumed).
    extent
        What the listing itself tells about being full or changes-only; UNKNOWN when it tells nothing.
    complaints
        What a person should know: cut last line, mixed encoding, NUL bytes …
    writer
        What :func:`asflown.formats.listing.write` needs to write a listing in the same shape.
    """

    settings: tuple[Setting, ...]
    pieces: tuple[Piece, ...]
    not_understood: tuple[Unread, ...]
    shapes: tuple[Shape, ...]
    family: str
    encoding: str
    newline: str
    lossless: bool
    size: int
    extent: Extent = Extent.UNKNOWN
    repeated: tuple[Repeated, ...] = ()
    active_banks: Mapping[str, str] = field(default_factory=dict)
    complaints: tuple[str, ...] = ()
    writer: Mapping[str, Any] = field(default_factory=dict)
