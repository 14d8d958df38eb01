"""A person is told what to do next while samples are recorded; it ends when they are enough."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from asflown.app.calibrate.accelerometer import Placed, placed
from asflown.app.calibrate.level import HALF, still_for, turned_between
from asflown.app.calibrate.logs import Motion
from asflown.core.calibrate.accelerometer import Case, case_of
from asflown.errors import InputError

if TYPE_CHECKING:
    from asflown.core.link.recording import Recorder, Recording

_ACCEL = ("accel.x", "accel.y", "accel.z")
_RATES = ("rate.roll", "rate.pitch", "rate.yaw")
_MAG = ("mag.x", "mag.y", "mag.z")
#: s of each rest of a level trim.
REST = 10.0
#: What a person does while it is recorded without a look at what came so far.
DO = {
    "gyro": "keep it still, motors stopped",
    "receiver": "move every stick to all its ends, then let go of them for 5 s",
}

Say = Callable[[str], None]


class _Told:
    """Says a line once, until another one is due."""

    def __init__(self, say: Say) -> None:
        self._say, self._last = say, ""

    def __call__(self, line: str) -> None:
        if line != self._last:
            self._last = line
            self._say(line)


class SidesGuide:
    """The accelerometer: which side comes next.

    Parameters
    ----------
    say
        Told one line at a time.
    with_skew
        Whether the skew of the axes is wanted too.
    """

    def __init__(self, say: Say, square: float | None, *, with_skew: bool) -> None:
        self._say, self._square, self._with_skew = _Told(say), square, with_skew
        self._done: set[str] = set()

    def __call__(self, recorder: Recorder) -> bool:
        """Look at what came so far; whether it is enough."""
        put = placed([_motion(recorder.made())], self._square)
        for (name, _), position in zip(put.sides, put.positions, strict=True):
            is_new = name not in self._done and name != "between sides"
            if is_new and position.seconds >= put.seconds_wanted - 0.5:
                self._done.add(name)
                self._say(f"{name}: {position.seconds:.0f} s still, enough")
        is_enough, says = self._next(put)
        self._say(says)
        return is_enough

    def _next(self, put: Placed) -> tuple[bool, str]:
        short = [
            name
            for (name, _), one in zip(put.sides, put.positions, strict=True)
            if one.seconds < put.seconds_wanted - 0.5 and name not in self._done and name != "between sides"
        ]
        seconds = f"{put.seconds_wanted:.0f} s"
        if short:
            return False, f"{short[-1]}: keep it still, {seconds} are wanted"
        if put.lacking:
            side = put.lacking[0]
            return False, f"lay it {side.name} ({side.says}) and keep it still for {seconds}"
        rests = put.rests
        if self._with_skew and rests is not None and case_of(rests, None)[0] is not Case.GENERAL:
            if not put.between:
                return False, f"prop it half-way between any two sides for {seconds}"
            one, two = put.between[0]
            return False, f"prop it half-way between {one.name} and {two.name} for {seconds}"
        return True, "enough"


class LevelGuide:
    """The level trim: a rest, half a turn, a rest."""

    def __init__(self, say: Say) -> None:
        self._say = _Told(say)

    def __call__(self, recorder: Recorder) -> bool:
        """Look at what came so far; whether it is enough."""
        motion = _motion(recorder.made())
        rests = still_for(motion)
        long = [seconds for seconds in rests if seconds >= REST - 0.5]
        if not long:
            self._say(f"leave it level on the table, still, for {REST:.0f} s")
        elif len(long) < 2:
            self._say(f"turn it by half a turn on its spot, and leave it still for {REST:.0f} s")
        else:
            return self._turned(motion)
        return False

    def _turned(self, motion: Motion) -> bool:
        try:
            turned = turned_between(motion)
        except InputError:
            return False
        if turned is None or abs(turned - 180.0) <= HALF:
            self._say("enough")
            return True
        self._say(f"it was turned by {turned:.0f} degrees: turn it to half a turn from where it first lay")
        return False


class FieldGuide:
    """The magnetometer: which directions are still missing."""

    def __init__(self, say: Say) -> None:
        self._say = _Told(say)

    def __call__(self, recorder: Recorder) -> bool:
        """Look at what came so far; whether it is enough."""
        import numpy as np

        from asflown.app.calibrate.magnetometer import far_so_good
        from asflown.core.calibrate.magnetometer import thinned

        made = recorder.made()
        if not all(name in made.values for name in _MAG):
            return False
        is_enough, says = far_so_good(thinned(np.column_stack([made.values[name] for name in _MAG])))
        self._say(says)
        return is_enough


def guide_of(what: str, say: Say) -> Callable[[Recorder], bool] | None:
    """The guide of a sensor; ``None`` where it is only recorded for its time."""
    if what == "accelerometer":
        return SidesGuide(say, None, with_skew=False)
    if what == "level":
        return LevelGuide(say)
    return FieldGuide(say) if what == "magnetometer" else None


def _motion(recording: Recording) -> Motion:
    """What came so far; what was lost is filled in."""
    import numpy as np

    made = recording.filled()
    rows = np.array([made.values[name] for name in _ACCEL])
    has_rates = all(name in made.values for name in _RATES)
    rates = np.array([made.values[name] for name in _RATES]) if has_rates else None
    seconds = float(made.time[-1] - made.time[0])
    return Motion("the link", "", seconds, ((rows, rates, max(made.rate, 1.0), 0.0),))
