"""One refit: its states, its gates, its decisions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from asflown.core.carry.settle import Decision
from asflown.core.load.journal import What
from asflown.core.plan import Purpose, Sealed
from asflown.core.record import Original


class State(StrEnum):
    """Where a refit stands."""

    PLANNING = "planning"
    DECIDED = "decided"
    WRITTEN_OUT = "written out"
    PARTLY_WRITTEN = "partly written: do not fly"
    READ_BACK = "read back"
    SIGNED = "signed off"
    WENT_BACK = "went back"
    NOT_NOW = "not now"

    @property
    def is_closed(self) -> bool:
        """Whether the refit has ended."""
        return self in (State.SIGNED, State.WENT_BACK, State.NOT_NOW)


class GateName(StrEnum):
    """What must be looked at on the way; a skipped one shows as *not stated* on the sign-off."""

    BASELINE_FLIGHT = "baseline flight"
    SECOND_READING = "second reading"
    WAY_BACK = "way back"
    IMAGE = "image"
    LOADING = "before loading"
    READ_BACK = "read-back"
    BENCH_CARDS = "bench cards"
    TRIAL_FLIGHT = "trial flight"
    VERDICT = "verdict"


@dataclass(frozen=True, slots=True)
class Gate:
    """What a person or the tool said about one gate.

    Attributes
    ----------
    answer
        ``passed``, ``failed``, ``impossible`` or ``skipped``; a gate without an entry is *not stated*.
    statement
        The fact or the reason, in words.
    """

    answer: str
    statement: str
    at: str
    who: str


@dataclass(frozen=True, slots=True)
class CardResult:
    """What a person noted on one card: ``pass``, ``fail`` or ``not tested``, with a note."""

    result: str
    note: str
    at: str
    who: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A value read at the bench.

    Attributes
    ----------
    what
        The box on the card it belongs to.
    value
        As typed, or as the link gave it: a number in ``unit``, or words.
    over_link
        Whether the aircraft itself said it.
    says
        How sure it is, and from how many samples; empty where a person read it.
    """

    what: str
    value: str
    unit: str
    over_link: bool
    at: str
    who: str
    says: str = ""


@dataclass(frozen=True)
class WriteOut:
    """What was prepared for writing, and the way back made at the same moment.

    Attributes
    ----------
    listing, back_listing, back_original
        Kept originals: the listing to write, the clean go-back listing, the untouched bytes.
    everything
        Whether every setting is written or only what differs from factory.
    plan_digest
        The plan it was made from.
    inputs
        What that plan was sealed to.
    lines
        ``[line number in the listing, setting's key]`` of each line that writes a setting.
    """

    listing: Original
    back_listing: Original
    back_original: Original
    everything: bool
    plan_digest: str
    inputs: tuple[Sealed, ...]
    lines: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class OnBoard:
    """What asflown itself did to the board's flash in a refit.

    Attributes
    ----------
    load
        Identifier of the last load.
    before
        The whole flash as it was before the first load of this refit: the way back.
    is_half
        Something was erased, and nothing is proven since.
    was
        Where the refit stood before that.
    """

    load: str
    what: What
    before: Original
    is_half: bool
    was: State


@dataclass(frozen=True)
class Refit:
    """One job: taking one aircraft from the release it has to another.

    Attributes
    ----------
    id
        ``<aircraft>-r<number>``.
    found, factory, source
        Record identifiers: as found; the new release's factory listing captured from this board;
        the record of the proven aircraft in a sister copy.
    notes
        Change-note files a person gave for this refit, beside those that came with releases.
    on_board
        What was loaded to the board by asflown, ``None`` where nothing was.
    readings
        What was read for each card, the last of each box.
    provisional_digest, final_digest
        Digests of the provisional and the final plan, where made.
    """

    id: str
    aircraft: str
    device: str
    purpose: Purpose
    from_release: str | None
    to_release: str
    state: State
    found: str
    factory: str | None = None
    source: str | None = None
    to_board: str | None = None
    decisions: tuple[Decision, ...] = ()
    provisional_digest: str | None = None
    final_digest: str | None = None
    write_out: WriteOut | None = None
    as_left: str | None = None
    gates: Mapping[str, Gate] = field(default_factory=dict)
    cards: Mapping[str, CardResult] = field(default_factory=dict)
    not_now: str | None = None
    remarks: tuple[str, ...] = ()
    notes: tuple[Original, ...] = ()
    on_board: OnBoard | None = None
    readings: Mapping[str, tuple[Reading, ...]] = field(default_factory=dict)

    @property
    def old_flash(self) -> Original | None:
        """The flash as it was before this refit loaded anything, ``None`` where it was not read."""
        return None if self.on_board is None else self.on_board.before

    @property
    def is_half_loaded(self) -> bool:
        """Whether the board's flash is half written."""
        return self.on_board is not None and self.on_board.is_half
