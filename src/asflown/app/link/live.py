"""Samples from the aircraft while it is moved by hand: asked for, collected, the old intervals put back."""

from __future__ import annotations

from collections.abc import Callable

from asflown.app.link.talk import Talk
from asflown.core.link import asks
from asflown.core.link.recording import Recorder, Recording, RestartedError
from asflown.core.link.samples import TOLD_BY, Sample
from asflown.errors import DeviceError, UsageError

#: Samples a second that are asked for; s that the first one is waited for.
RATE, PATIENCE = 100.0, 3.0
#: The interval that puts an aircraft's own one back (MAVLink SET_MESSAGE_INTERVAL).
_ITS_OWN = 0.0
#: s between two looks at what came so far.
LOOK = 1.0

#: Told what came so far, about once a second; true: it is enough.
Watch = Callable[[Recorder], bool]


def record(
    talk: Talk, family: str, seconds: float, *, rate: float = RATE, watch: Watch | None = None
) -> Recording:
    """Record what tells a family of signals (``accel``, ``attitude``, ``channel`` …).

    Parameters
    ----------
    seconds
        For how long at most, on the clock of the link.
    watch
        Ends it sooner.

    Raises
    ------
    DeviceError
        When the aircraft does not tell it, falls silent, or restarts in between.
    """
    for message in TOLD_BY[family]:
        interval = round(1e6 / rate)
        is_taken = talk.command(asks.SET_INTERVAL, float(message), float(interval))
        recorder = _first(talk, message, family)
        if recorder is None:
            continue
        try:
            _go_on(talk, recorder, seconds, watch)
        finally:
            if is_taken:
                _put_back(talk, message)
        return recorder.made()
    numbers = ", ".join(str(message) for message in TOLD_BY[family])
    raise DeviceError(
        f"listening for {family}",
        f"the aircraft sends none of the messages that tell it (MAVLink {numbers})",
        trouble="silent",
        next_step="read it from a log instead, or let the firmware send one of them",
    )


def _first(talk: Talk, message: int, family: str) -> Recorder | None:
    """A recorder with the first sample that tells the family; ``None`` where none comes."""
    for came in talk.until(PATIENCE):
        if isinstance(came, Sample) and came.message == message and _tells(came, family):
            recorder = Recorder(message)
            recorder.take(came, talk.links.seconds())
            return recorder
    return None


def _tells(sample: Sample, family: str) -> bool:
    return any(name.partition(".")[0] == family for name in sample.values)


def _go_on(talk: Talk, recorder: Recorder, seconds: float, watch: Watch | None) -> None:
    begun = looked = newest = talk.links.seconds()
    while (now := talk.links.seconds()) - begun < seconds:
        if _take_all(talk, recorder, min(LOOK / 4, seconds)):
            newest = talk.links.seconds()
        elif now - newest > PATIENCE:
            raise DeviceError(
                "recording",
                f"nothing came for {PATIENCE:g} s",
                trouble="silent",
                next_step="look at the cable, and record it again",
            )
        if watch is not None and now - looked >= LOOK:
            looked = now
            if watch(recorder):
                return


def _take_all(talk: Talk, recorder: Recorder, seconds: float) -> bool:
    """Take what comes in so many seconds; whether anything did."""
    before = len(recorder) + recorder.doubled
    try:
        for came in talk.until(seconds):
            if isinstance(came, Sample):
                recorder.take(came, talk.links.seconds())
    except RestartedError:
        raise DeviceError(
            "recording", "the aircraft restarted in between", trouble="lost", next_step="record it again"
        ) from None
    return len(recorder) + recorder.doubled > before


def _put_back(talk: Talk, message: int) -> None:
    try:
        talk.command(asks.SET_INTERVAL, float(message), _ITS_OWN)
    except DeviceError:
        return  # what was recorded is there; a restart puts the interval back too


def check_seconds(seconds: float) -> float:
    """How long it is to be recorded.

    Raises
    ------
    UsageError
        For what is no time.
    """
    if not 1.0 <= seconds <= 7200.0:
        raise UsageError(f"{seconds:g} s is no time to record", next_step="1 s to 7200 s, e.g. --seconds 60")
    return seconds
