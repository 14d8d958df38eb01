"""The whole refit of one aircraft over MAVLink as steps: nobody touches a settings file.

The aircraft is simulated: its stored parameters, its flash, its sensors. asflown talks to it by the same code
that talks to one on a cable.
"""

from __future__ import annotations

from asflown.demo.dune import firmware, images
from asflown.demo.dune.firmware import BOARD, NEW, OLD
from asflown.demo.firmware import boards
from asflown.demo.story import Chapter, Put, Run, Say, Story, Take

KEEPER = "Femke Adebayo"
#: The link, in the scene the aircraft is in while it is talked to.
_LINK = "simulated:mavlink:sanderling.params"
_POSES = (
    ("roll, right", "right-side-down"),
    ("pitch, nose up", "nose-up"),
    ("yaw change", "nose-right"),
    ("roll when level", "level"),
    ("pitch when level", "level"),
)
_SEEN = (
    ("calibrations", "measured, written and read again over the link"),
    ("orientation", "all three signs, and level is level"),
    ("meter", "0.03 V apart; warns at 3.6 V a cell"),
)
_READY = ("--propellers-off", "--pack-unplugged")


def _run(text: str, *more: str, expect: int = 0, lines: int | None = None) -> Run:
    return Run((*text.split(), *more), expect, lines)


def tell() -> Story:
    """Read, calibrate, plan, load, write, prove and check sanderling, all over its cable."""
    yield from _know()
    yield from _calibrate()
    yield from _plan()
    yield from _load()
    yield from _write()
    yield from _again()
    yield from _bench()
    yield from _keep()


def _know() -> Story:
    yield Chapter("Know what is there: the aircraft tells it")
    yield Say(
        f"{KEEPER} keeps sanderling for a school's beach survey. Its firmware, dune, speaks MAVLink."
        " Everything here is invented and simulated; asflown does not know that."
    )
    yield Put("sanderling.params", firmware.parameters(OLD, firmware.SANDERLING))
    yield Put("sanderling.json", firmware.description(OLD))
    yield Put("sanderling.flash", images.flash(OLD))
    yield Put(f"{OLD}/release.toml", firmware.release_toml(OLD))
    yield Put(f"{OLD}/overlay.toml", firmware.overlay(OLD))
    yield Say("The catalog comes from the aircraft itself, over MAVLink FTP; only the overlay is a file.")
    yield _run(f"release add {OLD} --link {_LINK}", lines=12)
    yield Put("wrackline-2.toml", boards.DESCRIPTION.encode())
    yield _run("board add wrackline-2.toml", lines=0)
    said = ("title=Sanderling", f"board={BOARD}", f"release={OLD}")
    yield _run("aircraft new sanderling --set", *said, lines=0)
    yield _run(f"found --link {_LINK}", lines=16)


def _calibrate() -> Story:
    yield Chapter("What the sensors read before anything is changed")
    yield Say(
        "A firmware change throws calibrations away. What they are worth now is measured first: laid on its"
        " six sides by hand, and turned by half a turn on a table. Propellers off, on USB alone."
    )
    yield _run(f"calibrate accelerometer --link {_LINK},sides --latitude 53 --as-found", lines=24)
    yield _run(f"calibrate level --link {_LINK},half-turn --as-found", lines=20)


def _plan() -> Story:
    yield Chapter("See what the new release changes")
    yield Say("A spare board runs dune 2.0 already, and tells what it is made of.")
    yield Put("spare.params", firmware.parameters(NEW))
    yield Put("spare.json", firmware.description(NEW))
    yield Put(f"{NEW}/release.toml", firmware.release_toml(NEW))
    yield Put(f"{NEW}/overlay.toml", firmware.overlay(NEW))
    yield Put(f"{NEW}/notes/{OLD}.toml", firmware.NOTES.encode())
    yield Put(f"{NEW}/image_words.toml", images.words(NEW))
    yield _run(f"release add {NEW} --link simulated:mavlink:spare.params", lines=8)
    yield _run(f"plan sanderling --to {NEW}", expect=2, lines=34)
    yield _run(
        "decide sanderling new.safety --choose factory --why",
        "no climb before it lands: there is nothing to climb over on a beach",
        lines=0,
    )
    yield _run("plan sanderling --show changed", lines=60)


def _load() -> Story:
    yield Chapter("Load the image")
    yield Put(f"{NEW}.bin", images.image(NEW))
    yield _run(f"load {NEW}.bin sanderling --port simulated:usb:sanderling.flash", *_READY, lines=14)
    flash = yield Take("sanderling.flash")
    runs = images.runs(flash)
    yield Say(f"The board starts {runs}, with that release's own factory values and nothing else.")
    yield Put("sanderling.params", firmware.parameters(runs))
    yield Put("sanderling.json", firmware.description(runs))


def _write() -> Story:
    yield Chapter("Write what differs, and prove it")
    yield Say("Its own factory values first: the final plan is made from them.")
    yield _run(f"found --link {_LINK} --factory --release {NEW}", lines=0)
    yield _run(f"plan sanderling --to {NEW}", lines=0)
    yield _run("gate baseline-flight passed --why", "log 31, 3 min hover and turns", lines=0)
    yield _run("gate before-loading passed --why", "old flash kept; propellers are off", lines=0)
    yield _run("write-out sanderling", lines=0)
    yield _run(f"write sanderling --link {_LINK}", *_READY, lines=34)


def _again() -> Story:
    yield Chapter("Calibrate what the new release forgot")
    yield Say(
        "Measured raw, written into the settings that hold it, and measured again: as found beside as left."
    )
    yield _run(f"calibrate accelerometer --link {_LINK},all-sides --skew --latitude 53 --as-found", lines=0)
    yield _run(f"calibrate write sanderling-cal3 --link {_LINK}", *_READY)
    yield _run(f"calibrate accelerometer --link {_LINK},sides --latitude 53 --as-left", lines=24)
    yield _run(f"calibrate level --link {_LINK},half-turn --as-found", lines=0)
    yield _run(f"calibrate write sanderling-cal5 --link {_LINK}", *_READY, lines=0)
    yield _run(f"calibrate magnetometer --link {_LINK},turned --as-found", lines=0)
    yield _run(f"calibrate write sanderling-cal6 --link {_LINK}", *_READY, lines=0)
    yield Say("A meter at the balance plug, with a nearly empty and with a full pack.")
    yield _run("calibrate meter voltage 14.70=14.54 16.95=16.75 --error 0.01 --as-found", lines=0)
    yield _run(f"calibrate write sanderling-cal7 --link {_LINK}", *_READY, lines=0)


def _bench() -> Story:
    yield Chapter("On the bench: the aircraft says what it measures")
    yield _run("cards mark propellers-off pass --note", "four in the box", lines=0)
    yield _run(f"bench read calibrations --link {_LINK}", lines=0)
    for box, scene in _POSES:
        yield _run("bench read orientation", box, "--link", f"{_LINK},{scene}", lines=0)
    yield _run(f"bench read meter meter=15.91 shown current --link {_LINK}", lines=0)
    for card, note in _SEEN:
        yield _run(f"cards mark {card} pass --note", note, lines=0)
    yield _run("bench sanderling", lines=78)
    yield _run("calibrate list sanderling")
    yield Say(
        "Motors, sticks, arming and the transmitter are a person's to test; nobody did here, and the sign-off"
        " says so."
    )
    yield Run(("sign", "sanderling", "--name", KEEPER, "--role", "keeper of the aircraft"))


def _keep() -> Story:
    yield Chapter("Keep it")
    yield _run("logbook sanderling", lines=40)
    yield _run("verify")
