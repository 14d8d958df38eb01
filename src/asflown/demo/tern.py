"""The second worked example: a flying school's aircraft whose new release smooths the gyro once more.

Everything is invented: firmware, board, school, figures. Copied number for number the settings would make an
aircraft that oscillates; what keeps the old answer is found by a retune.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asflown.core.behaviour.simulate import Air, Airframe, Battery, Controller, FilterKind, LoopFilter
from asflown.core.signals import AXES
from asflown.demo.flight import flown, log_of

OLD, NEW = "reed-1.8", "reed-2.0"
#: The school's instructor.
KEEPER = "Ines Aldana"

TERN = Airframe(
    gain=(310.0, 280.0, 70.0),
    damping=(1.0, 1.1, 0.6),
    lag_up=0.024,
    lag_down=0.024,
    thrust_exponent=1.5,
    strength=(1.0, 0.99, 1.01, 1.0),
    hover=0.26,
    rotor_speed_full=430.0,
    vibration=(0.010, 0.012, 0.009, 0.011),
    gyro_noise=math.radians(0.008),
    battery=Battery(capacity=3.0 * 3600.0, resistance=0.02, full_current=80.0),
    air=Air(turbulence=(0.8, 0.8, 0.3), bandwidth=1.2, wake=(2.0, 2.0, 0.5)),
)
_GROUND, _HOVER, _FLOWN = 3.0, 8.0, 68.0


@dataclass(frozen=True, slots=True)
class _Item:
    """One setting: name, type, factory value as written, step, range, unit, role, consequence, words."""

    name: str
    kind: str
    factory: str
    step: str
    low: str
    high: str
    unit: str
    role: str
    consequence: str
    says: str
    found: str = ""


def _turning() -> Iterator[_Item]:
    """The loops of the three axes."""
    words = {
        "answer": ("proportional", "2.0", "how firmly {} answers an error of turning"),
        "hold": ("integral", "8.0", "how firmly {} answers what remains of it"),
        "brake": ("derivative", "0.05", "how much {} is braked by its own change"),
        "lead": ("feedforward", "0.05", "how much {} answers the move of the stick"),
    }
    factory = {"answer": "0.08", "hold": "0.2", "brake": "0.0018", "lead": "0"}
    found = {
        "roll": ("0.2905", "0.86", "0.0076", "0.0012"),
        "pitch": ("0.3115", "0.92", "0.0081", "0.0012"),
        "yaw": ("0.325", "0.42", "0", "0"),
    }
    steps = {"answer": "0.0005", "hold": "0.005", "brake": "0.00002", "lead": "0.00002"}
    for axis in AXES:
        for place, (word, (term, most, says)) in enumerate(words.items()):
            value = "0" if axis == "yaw" and word == "brake" else factory[word]
            role = f"rate_loop.{axis}.{term}_gain"
            yield _Item(
                f"turn.{axis}.{word}",
                "float",
                value,
                steps[word],
                "0",
                most,
                "",
                role,
                "handling",
                says.format(axis),
                found[axis][place],
            )


def _common() -> Iterator[_Item]:
    yield _Item("still.gyro", "int", "150", "1", "20", "400", "Hz", "gyro_filter.cutoff", "handling",
                "the gyro is smoothed above this", "160")  # fmt: skip
    yield _Item("still.brake", "int", "90", "1", "20", "400", "Hz", "derivative_filter.cutoff", "handling",
                "what brakes is smoothed above this", "95")  # fmt: skip
    yield _Item("pack.low", "float", "3.5", "0.01", "3.0", "4.0", "V", "pack.cell_warning_voltage", "safety",
                "a cell below this warns", "3.55")  # fmt: skip
    yield _Item("radio.lost.wait", "float", "1.0", "0.1", "0.1", "10", "s", "radio_loss.delay", "safety",
                "how long without the radio before it lands", "0.8")  # fmt: skip
    yield _Item("lamp.bright", "int", "60", "1", "0", "100", "%", "", "comfort",
                "brightness of the lamps", "80")  # fmt: skip


def _items(release: str) -> tuple[_Item, ...]:
    made = [*_turning(), *_common()]
    if release == NEW:
        made.append(
            _Item(
                "still.again",
                "int",
                "14",
                "1",
                "10",
                "320",
                "Hz",
                "second_filter.cutoff",
                "handling",
                "the gyro is smoothed once more and steeper above this",
            )
        )
    return tuple(made)


def files() -> Mapping[str, bytes]:
    """Everything the example starts from, by path."""
    made: dict[str, bytes] = {"tern.toml": _AIRCRAFT.encode(), "found.txt": _listing(OLD, found=True)}
    for release in (OLD, NEW):
        firmware, _, version = release.rpartition("-")
        folder = f"releases/{release}"
        follows = f'follows = ["{OLD}"]\n' if release == NEW else "follows = []\n"
        head = f'firmware = "{firmware}"\nversion = "{version}"\nid = "{release}"\nboards = ["sandbar-1"]\n'
        made[f"{folder}/release.toml"] = (head + follows).encode()
        made[f"{folder}/catalog.csv"] = _catalog(release)
        made[f"{folder}/control.toml"] = _control(release)
    made[f"releases/{NEW}/notes/from-{OLD}.toml"] = _notes()
    made["before.csv"] = flight_log(made["found.txt"], OLD, seed=11)
    return made


_AIRCRAFT = """\
id = "tern"
title = "Tern, the school's trainer"
board = "sandbar-1"
release = "reed-1.8"
mass_kg = 0.82
owner = "Estuary flying school"

[motors]
count = 4

[propellers]
diameter_m = 0.152
blades = 2

[battery]
cells = 4
capacity_ah = 3.0
"""


def _listing(release: str, *, found: bool = False) -> bytes:
    lines = [f"# {release} on sandbar-1"]
    lines += [f"{item.name} := {(found and item.found) or item.factory}" for item in _items(release)]
    return ("\n".join(lines) + "\n").encode()


def _catalog(release: str) -> bytes:
    rows = ["name,group,type,units,min,max,default,decimals,role,factor,consequence,belonging,description"]
    for item in _items(release):
        decimals = len(item.step.partition(".")[2])
        belonging = "pilot" if item.role.startswith(("pack", "radio_loss")) else "airframe"
        factor = "1" if item.role else ""
        rows.append(
            f"{item.name},{item.name.partition('.')[0]},{item.kind},{item.unit},{item.low},{item.high},"
            f"{item.factory},{decimals},{item.role},{factor},{item.consequence},{belonging},{item.says}"
        )
    return ("\n".join(rows) + "\n").encode()


def _notes() -> bytes:
    text = f'from = "{OLD}"\nto = "{NEW}"\n'
    return text.encode()


def _control(release: str) -> bytes:
    """The structure of one axis, as its release tells it."""
    blocks = [
        ("smooth", "one-pole low-pass", '"rate"', 'roles = { cutoff = "gyro_filter.cutoff" }'),
        ("error", "sum", '"command", "-{gyro}"', ""),
        ("answer", "gain", '"error"', 'roles = { gain = "rate_loop.{axis}.proportional_gain" }'),
        ("remaining", "integrator", '"error"', ""),
        ("hold", "gain", '"remaining"', 'roles = { gain = "rate_loop.{axis}.integral_gain" }'),
        ("smoother", "one-pole low-pass", '"{gyro}"', 'roles = { cutoff = "derivative_filter.cutoff" }'),
        ("change", "derivative", '"smoother"', ""),
        ("brake", "gain", '"change"', 'roles = { gain = "rate_loop.{axis}.derivative_gain" }'),
        ("moved", "derivative", '"command"', ""),
        ("lead", "gain", '"moved"', 'roles = { gain = "rate_loop.{axis}.feedforward_gain" }'),
        ("drive", "sum", '"answer", "hold", "-brake", "lead"', ""),
    ]
    gyro = "smooth"
    if release == NEW:
        gyro = "again"
        second = ("again", "biquad low-pass", '"smooth"', 'roles = { cutoff = "second_filter.cutoff" }')
        blocks.insert(1, second)
    lines = ["rate = 4000", "latency_steps = 1"]
    for name, kind, inputs, more in blocks:
        lines += ["", "[[block]]", f'name = "{name}"', f'kind = "{kind}"']
        lines.append(f"inputs = [{inputs.replace('{gyro}', gyro)}]")
        if kind == "one-pole low-pass":
            lines.append('constants = { rule = "impulse" }')
        if more:
            lines.append(more)
    return ("\n".join(lines) + "\n").encode()


def controller(values: Mapping[str, float], release: str) -> Controller:
    """The loop that a board flies with its settings: the firmware's own reading of them."""

    def gains(word: str) -> tuple[float, float, float]:
        roll, pitch, yaw = (values[f"turn.{axis}.{word}"] for axis in AXES)
        return roll, pitch, yaw

    gyro = [LoopFilter(FilterKind.ONE_POLE, values["still.gyro"])]
    if release == NEW:
        gyro.append(LoopFilter(FilterKind.LOW_PASS, values["still.again"]))
    return Controller(
        loop_rate=4000.0,
        kp=gains("answer"),
        ki=gains("hold"),
        kd=gains("brake"),
        kf=gains("lead"),
        gyro_filters=tuple(gyro),
        d_filters=(LoopFilter(FilterKind.ONE_POLE, values["still.brake"]),),
        computation_steps=1,
    )


def values_of(listing: bytes, release: str) -> dict[str, float]:
    """The settings of a listing, the rest at factory values."""
    values = {item.name: float(item.factory) for item in _items(release)}
    for line in listing.decode().splitlines():
        match = re.match(r"\s*(\S+)\s*:=\s*(\S+)", line)
        if match and match[1] in values:
            values[match[1]] = float(match[2])
    return values


def flight_log(listing: bytes, release: str = NEW, seed: int = 12) -> bytes:
    """The log of a flight with the settings of a listing, CSV."""
    loop = controller(values_of(listing, release), release)
    flight = flown(seed, _FLOWN, loop, TERN, _HOVER)
    preamble = ("# reed log 3", "# craft: tern", f"# pilot: {KEEPER}", "# pack: 4", "# wind: 2 m/s",
                "# temperature: 17 degC", "# pressure: 1012 hPa")  # fmt: skip
    return log_of(flight, TERN, preamble, seed, _GROUND)
