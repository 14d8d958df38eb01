"""Parameters over MAVLink, with pymavlink as the counterpart: lossy links, both encodings, the guard, whole refits.

``ASFLOWN_LINKS`` says how many seeded lossy runs are tried (default 3; 50 were counted). ``-s`` prints what they took.
"""

from __future__ import annotations

import os
import random
import struct
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from mavlink_world import World
from pymavlink.dialects.v20 import common
from small_world import FOUND, NEW, OLD
from terminal_world import ASK, ready

from asflown.adapters.link.mavlink import MavLink
from asflown.app import state
from asflown.app.link.over_mavlink import found_over, parameters, write_back_over, write_over
from asflown.app.link.talk import Talk
from asflown.app.load.prepare import Ask
from asflown.app.load.wake import into_boot_loader
from asflown.app.needs import Plugged
from asflown.app.take_record import Request
from asflown.app.views.mavlink_shown import written_mav_json, written_mav_sheet
from asflown.core.link import asks
from asflown.core.link.values import Encoding, ParamType, encoded
from asflown.core.refit import State
from asflown.demo.mavlink_aircraft import Server
from asflown.errors import DeviceError, NeedsPerson

RUNS = int(os.environ.get("ASFLOWN_LINKS", "3"))
HARD = {"loss": 0.30, "corruption": 0.05, "doubling": 0.1, "reorder": 0.2, "latency": 0.01}


def many(count: int, seed: int = 1) -> dict[str, tuple[int, float]]:
    """Parameters of every type, in any order."""
    numbers = random.Random(seed)
    made = {}
    for n in range(count):
        kind = numbers.choice((1, 2, 3, 4, 5, 6, 9))
        if kind == 9:
            value = struct.unpack("<f", struct.pack("<f", numbers.uniform(-1e3, 1e3)))[0]
        else:
            low, high = ParamType(kind).bounds
            value = numbers.randint(max(low, -(1 << 24)), min(high, 1 << 24))
        made[f"GULL_{n:04d}"] = (kind, value)
    return made


def same(read, values) -> bool:
    """Whether every value is the very 32-bit float, or whole number, that the aircraft holds."""
    found = {name: np.float32(float(value)) for name, value in read.values.items()}
    return found == {name: np.float32(value) for name, (_, value) in values.items()}


def test_the_frame_of_the_check_values():
    """Section 14: PARAM_SET QUAY_TRIM = 0.15 REAL32, to 1/1 from 255/190, sequence 7, packed with pymavlink 2.4.50."""

    class Line:
        sent = b""

        def send(self, data):
            self.sent = data

    line = Line()
    link = MavLink(line)
    link.target, link._mav.seq = (1, 1), 7
    link.send(asks.Set("QUAY_TRIM", struct.pack("<f", 0.15), 9))
    assert line.sent.hex() == "fd17000007ffbe1700009a99193e0101515541595f5452494d000000000000000974d8"


@pytest.mark.parametrize("encoding", ["bytewise", "C cast"])
def test_all_are_read_complete_and_exact(encoding):
    values = many(200)
    at = World(Server(dict(values), encoding=encoding))
    with Talk(at, "udp:x") as talk:
        aircraft = talk.greet()
        read = parameters(talk.read_all(), aircraft.encoding)
    assert aircraft.encoding.value == encoding
    assert same(read, values)
    assert read.lost == {}


def test_reading_takes_the_wires_own_time():
    """At 115,200 bits a second (10 bits a byte), without loss: no more than 1.3 times the wire time."""
    values = many(1000)
    at = World(Server(dict(values)))
    with Talk(at, "serial:x") as talk:
        aircraft = talk.greet()
        begun, before = at.seconds(), at.line.bytes
        read = parameters(talk.read_all(), aircraft.encoding)
        took, wire = at.seconds() - begun, (at.line.bytes - before) * 10 / 115_200
    print(f"1,000 parameters in {took:.2f} s, wire {wire:.2f} s")
    assert same(read, values)
    assert took <= 1.3 * wire


@pytest.mark.slow
@pytest.mark.parametrize("part", range(2))
def test_a_bad_link_loses_nothing(part):
    """30 % loss, 5 % corruption, doubling and reordering both ways: 1,000 read, 300 written and proven."""
    for seed in range(part, RUNS, 2):
        values = many(1000, seed)
        server = Server(dict(values))
        at = World(server, seed=100 + seed, **HARD)
        numbers = random.Random(seed)
        wanted = {}
        for name in numbers.sample(sorted(values), 300):
            kind = values[name][0]
            wanted[name] = (kind, 1.5 if kind == 9 else 7)
        items = [
            asks.Set(n, encoded(Decimal(str(v)), ParamType(k), Encoding.BYTEWISE), k)
            for n, (k, v) in wanted.items()
        ]
        with Talk(at, "udp:x") as talk:
            aircraft = talk.greet()
            assert same(parameters(talk.read_all(), aircraft.encoding), values), f"seed {seed}"
            writer = talk.write(items)
            assert writer.refused == []
            assert sorted(writer.proven) == sorted(wanted)
            after = parameters(talk.read_all(), aircraft.encoding)
        assert same(after, {**values, **wanted}), f"seed {seed}"
        assert server.values == {**values, **wanted}
        assert server.forbidden == []
        print(f"seed {seed}: done after {at.seconds():.0f} s of the link's time")


def test_what_the_field_cannot_carry_is_said():
    values = {"GULL_BIG": (6, float(1 << 25)), "GULL_ODD": (9, float("nan")), "GULL_OK": (6, 5.0)}
    at = World(Server(values, encoding="C cast"))
    with Talk(at, "udp:x") as talk:
        read = parameters(
            _greeted(talk),
            Encoding.C_CAST,
        )
    assert dict(read.values) == {"GULL_OK": 5}
    assert "not every whole number" in read.lost["GULL_BIG"]
    assert "is not a number" in read.lost["GULL_ODD"]
    assert b"# GULL_ODD: not carried, is not a number" in read.listing


def _greeted(talk):
    talk.greet()
    return talk.read_all()


def test_an_aircraft_that_states_no_encoding_is_not_read():
    server = Server(many(5))
    server.encoding = "bytewise"
    at = World(server)
    import asflown.demo.mavlink_aircraft as demo

    at.server = server
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(demo._BITS, "bytewise", 0)
        with Talk(at, "udp:x") as talk, pytest.raises(NeedsPerson, match="may not be guessed"):
            talk.greet()


def test_silence_and_company_are_told():
    class Silent(Server):
        def due(self, now):
            return []

    with (
        Talk(World(Silent(many(2))), "udp:x") as talk,
        pytest.raises(DeviceError, match="no aircraft is heard"),
    ):
        talk.greet()

    class Two(Server):
        def due(self, now):
            made = super().due(now)
            other = common.MAVLink(None, 9, 1)
            return [*made, common.MAVLink_heartbeat_message(2, 0, 0, 0, 4, 3).pack(other)] if made else made

    with Talk(World(Two(many(2))), "udp:x") as talk, pytest.raises(NeedsPerson, match="several aircraft"):
        talk.greet()
    with Talk(World(Two(many(2))), "udp:x", system=1) as talk:
        assert talk.greet().system == 1


@pytest.mark.parametrize("command", [400, 209, 310, 22, 300, 176, 183, 42, 241])
def test_the_guard_in_the_link_never_arms_nor_spins(command):
    """400 arm, 209 motor test, 310 actuator test, take-off, mission start, mode, servo … (common.xml, by number)."""
    at = World(Server(many(2)))
    link = at.open("udp:x")
    with pytest.raises(DeviceError, match="could arm, spin a motor, or move the aircraft"):
        link.send(asks.Command(command, 1.0))
    for first in (2.0, 0.0):
        with pytest.raises(DeviceError, match="is not one asflown sends"):
            link.send(asks.Command(asks.REBOOT, first))
    with pytest.raises(DeviceError, match="is not one asflown sends"):
        link.send(asks.Command(asks.STORAGE, 2.0))  # everything to factory
    assert asks.refused(69) is not None  # sticks
    assert asks.refused(70) is not None  # sticks of another


def test_nothing_is_written_while_the_motors_are_armed():
    server = Server(many(3), is_armed=True)
    with Talk(World(server), "udp:x") as talk:
        talk.greet()
        with pytest.raises(NeedsPerson, match="the motors are armed"):
            talk.write([asks.Set("GULL_0000", bytes(4), 9)])


def test_a_refused_value_is_reported_with_what_is_held():
    server = Server({"GULL_A": (9, 1.0), "GULL_B": (9, 2.0)}, limits={"GULL_A": (0.0, 5.0)})
    with Talk(World(server, seed=3, loss=0.2, latency=0.01), "udp:x") as talk:
        talk.greet()
        writer = talk.write(
            [asks.Set("GULL_A", struct.pack("<f", 9.0), 9), asks.Set("GULL_B", struct.pack("<f", 3.0), 9)]
        )
    assert [(one.name, struct.unpack("<f", one.held)[0]) for one in writer.refused] == [("GULL_A", 1.0)]
    assert writer.proven == ["GULL_B"]


# ------------------------------------------------------------------------------------ whole refits


def thrush(values: dict[str, str]) -> Server:
    """The small world's board as a parameter server: reals and bytes."""
    reals = {p.name for release in (OLD, NEW) for p in release.catalog.parameters if p.decimals}
    return Server({name: (9 if name in reals else 6, float(value)) for name, value in values.items()})


def test_a_record_over_the_link_is_the_aircrafts_own():
    from terminal_world import as_found

    made, board = ready(), as_found()
    made_values = thrush(board.live)
    found = found_over(made.work, Request(b"", "", "wren"), World(made_values, seed=5, **HARD), "udp:x")
    record = found.taken.record
    assert {key.name: float(value) for key, value in record.values.items()} == {
        n: float(v) for n, v in board.live.items()
    }
    assert found.taken.second is not None


@pytest.mark.parametrize("spoils", [{}, HARD])
def test_written_stored_rebooted_and_proven(spoils):
    made = ready()
    server = thrush(made.board.live)
    done = write_over(made.work, "wren", ASK, World(server, seed=7, **spoils), "udp:x")
    assert done.is_as_planned, done.not_taken
    assert done.is_stored
    assert done.is_restarted
    assert server.restarts >= 1
    assert server.values == server.stored
    assert server.forbidden == []
    assert done.job.refit.state is State.READ_BACK
    again = state.open_job(made.work, "wren").refit
    assert again.state is State.READ_BACK


def test_a_broken_link_is_partly_written_and_the_next_run_goes_on():
    made = ready()
    server = thrush(made.board.live)
    slow = {"loss": 0.5, "latency": 0.05}
    with pytest.raises(DeviceError, match="the link is gone"):
        write_over(made.work, "wren", ASK, World(server, seed=2, cut_at=9.0, **slow), "udp:x")
    assert state.open_job(made.work, "wren").refit.state in (State.PARTLY_WRITTEN, State.WRITTEN_OUT)
    done = write_over(made.work, "wren", ASK, World(server), "udp:x")
    assert done.is_as_planned


class Cut(World):
    """A link whose cable is pulled after so many frames were sent."""

    def __init__(self, server: Server, after: int) -> None:
        super().__init__(server)
        self.left, self.sent = after, 0
        whole = self.line.send

        def send(data: bytes) -> None:
            if self.sent >= self.left:
                raise DeviceError("talking", "the cable is out", trouble="lost")
            self.sent += 1
            whole(data)

        self.line.send = send


def test_a_cable_pulled_at_any_frame_is_mended_by_the_same_command():
    """Cut after every frame of the whole exchange in turn; the board keeps what was stored, as one without power."""
    made = ready()
    at = Cut(thrush(made.board.live), 10_000)
    assert write_over(made.work, "wren", ASK, at, "udp:x").is_as_planned
    assert at.sent > 12
    for after in range(at.sent):
        made = ready()
        server = thrush(made.board.live)
        with pytest.raises(DeviceError, match="the cable is out"):
            write_over(made.work, "wren", ASK, Cut(server, after), "udp:x")
        state_then = state.open_job(made.work, "wren").refit.state
        assert state_then in (State.PARTLY_WRITTEN, State.WRITTEN_OUT), after
        if server.values != server.stored:
            assert state_then is State.PARTLY_WRITTEN, after
        if after % 2:
            server.values = dict(server.stored)  # it lost its power too
        done = write_over(made.work, "wren", ASK, World(server), "udp:x")
        assert done.is_as_planned, after
        assert server.forbidden == []


@pytest.mark.parametrize("spoils", [{}, HARD])
def test_going_back_over_the_link_brings_everything_as_found(spoils):
    made = ready()
    server = thrush(made.board.live)
    write_over(made.work, "wren", ASK, World(server), "udp:x")
    made.board.load_image(OLD)
    old = thrush(made.board.live)
    done = write_back_over(made.work, "wren", ASK, World(old, seed=11, **spoils), "udp:x")
    assert done.is_as_planned, done.not_taken
    assert done.job.refit.state is State.WENT_BACK
    assert {name: np.float32(value) for name, (_, value) in old.stored.items()} == {
        n: np.float32(v) for n, v in FOUND.items() if n in old.stored
    }
    assert written_mav_sheet(done).title == "Went back over MAVLink"
    assert written_mav_json(done)["back"] is True


def test_a_refusal_is_in_the_list_and_the_state():
    made = ready()
    server = replace(thrush(made.board.live), limits={"horn_pitch": (500.0, 9000.0)})
    done = write_over(made.work, "wren", ASK, World(server), "udp:x")
    assert [(one.name, one.why) for one in done.not_taken] == [("horn_pitch", "refused: it holds 880")]
    assert not done.is_as_planned
    assert done.job.refit.state is State.PARTLY_WRITTEN


def test_nothing_leaves_before_a_person_says_so():
    made = ready()
    with pytest.raises(NeedsPerson, match="propellers off"):
        write_over(made.work, "wren", Ask(), World(thrush(made.board.live)), "udp:x")


class Plugs:
    """Ports at which a board comes back as another device once its firmware was told to."""

    def __init__(self, at: World) -> None:
        self.at, self.waited = at, 0.0

    def plugged(self):
        there = [Plugged("/dev/ttyACM0", "the firmware's own port")]
        if self.at.server.is_in_boot_loader:
            there = [Plugged("usb:1-4", "a board in USB DFU mode")] if self.waited > 2 else []
        return tuple(there)

    def seconds(self):
        return self.waited

    def pause(self, seconds):
        self.waited += seconds


def test_a_board_is_brought_into_its_boot_loader_and_found_again():
    at = World(Server(many(2)), seed=4, **HARD)
    plugs = Plugs(at)
    assert into_boot_loader(at, "serial:x", plugs, plugs.pause) == "usb:1-4"
    assert at.server.forbidden == []
    armed = World(Server(many(2), is_armed=True))
    with pytest.raises(NeedsPerson, match="armed: nothing is restarted"):
        into_boot_loader(armed, "serial:x", Plugs(armed), lambda seconds: None)
    assert not armed.server.is_in_boot_loader


FUZZ = int(os.environ.get("ASFLOWN_FUZZ_FRAMES", "20000"))


@pytest.mark.slow
def test_broken_frames_are_never_taken_for_values():
    """Frames with spoilt bytes, cut, or made up: no traceback, and every value that is taken is a true one."""
    numbers = random.Random(20261127)
    values = many(50)
    server = Server(dict(values))
    true = {name: server._raw(kind, value) for name, (kind, value) in values.items()}
    frames = [server._value(n) for n in range(50)]
    at = World(server)
    link = at.open("udp:x")
    taken = wrong = 0
    for _ in range(FUZZ):
        frame = bytearray(numbers.choice(frames))
        for _ in range(numbers.choice((1, 1, 2, 5))):
            place = numbers.randrange(len(frame))
            what = numbers.random()
            if what < 0.6:
                frame[place] = numbers.randrange(256)
            elif what < 0.8:
                del frame[place:]
                break
            else:
                frame[place:place] = numbers.randbytes(3)
        for _, message in link._read(bytes(frame)):
            if hasattr(message, "raw"):
                taken += 1
                wrong += true.get(message.name) != message.raw
    print(f"{FUZZ} broken frames: {taken} values taken, {wrong} of them wrong, {link.bad} frames refused")
    assert wrong == 0
