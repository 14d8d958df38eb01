"""What happens to the simulated aircraft, by a word."""

from __future__ import annotations

from asflown.demo.aircraft.hands import Hands, Pose, Turned, half_turn, leans, six_sides
from asflown.demo.aircraft.pilot import Flight
from asflown.demo.aircraft.telemetry import Moved, Telemetry
from asflown.errors import UsageError

#: Word and what it means.
SCENES = {
    "still": "it stands on the bench",
    "sides": "hands lay it on each of its six sides, 12 s each",
    "all-sides": "the same, and half-way between some of them",
    "half-turn": "it lies on a sloping table, 14 s, then the same after half a turn",
    "leans": "right side down, nose up, level, nose right, level, 5 s each",
    "level": "it stands level on the bench",
    "right-side-down": "it is held right side down by 30 degrees",
    "nose-up": "it is held nose up by 30 degrees",
    "nose-right": "its nose is turned to the right by 35 degrees, after 1 s",
    "turned": "hands turn it slowly about every axis",
    "sticks": "it stands on the bench, the transmitter's sticks go to their ends",
    "flies": "it flies for a minute: the only scene in which its rotors turn",
}

_FOREVER = 1e9
_HELD = {
    "level": (Pose((0.0, 0.0, 0.0), _FOREVER),),
    "right-side-down": (Pose((30.0, 0.0, 0.0), _FOREVER),),
    "nose-up": (Pose((0.0, 30.0, 0.0), _FOREVER),),
    "nose-right": (Pose((0.0, 0.0, 0.0), 3.0), Pose((0.0, 0.0, 35.0), _FOREVER)),
}


def moved(scene: str) -> Moved:
    """What moves it in a scene.

    Raises
    ------
    UsageError
        For a word that is none.
    """
    if scene in ("still", "sticks"):
        return Hands((Pose((0.4, -0.3, 20.0), 1e9),), tremble=0.0)
    if scene in ("sides", "all-sides"):
        return Hands(six_sides(between=scene == "all-sides"))
    if scene == "half-turn":
        return Hands(half_turn(), tremble=0.0)
    if scene == "leans":
        return Hands(leans(), tremble=1.5)
    if scene in _HELD:
        return Hands(_HELD[scene], tremble=1.0)
    if scene == "turned":
        return Turned()
    if scene == "flies":
        return Flight()
    raise UsageError(f"{scene!r} is no scene", next_step=f"one of: {', '.join(SCENES)}")


def telemetry_of(scene: str) -> Telemetry:
    """An aircraft that is moved so, with what it tells of it.

    Raises
    ------
    UsageError
        For a word that is none.
    """
    return Telemetry(moved(scene))
