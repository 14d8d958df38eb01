"""``asflown load`` and ``asflown back --load``: the order that is kept, what is told, and a program that is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading

import pytest

from asflown.demo import images
from asflown.demo.board_file import PtyBoard, flash_in
from asflown.demo.rom_loader import SimulatedLoader
from asflown.demo.scenario import NEW_RELEASE, OLD_RELEASE

BOARD = """board = "brant-h7"
processor = "STM32F722RE"
image_at = 0x08008000
[[area]]
what = "kept"
name = "loader"
start = 0x08000000
size = 0x4000
[[area]]
what = "settings"
start = 0x08004000
size = 0x4000
"""
SAFE = ("--propellers-off", "--pack-unplugged")
OLD, IMAGE = images.flash(OLD_RELEASE), images.image(NEW_RELEASE)
AT = images.IMAGE_AT - images.FLASH


def after() -> bytes:
    """The flash with the new image: what its sectors do not hold of it is erased."""
    made = bytearray(OLD)
    made[AT:0x20000] = b"\xff" * (0x20000 - AT)
    made[AT : AT + len(IMAGE)] = IMAGE
    return bytes(made)


NEW = after()


@pytest.fixture
def planned(desk):
    """An aircraft with its record and an open refit, its board plugged in, the image at hand."""
    desk.ready()
    desk("plan", "plover", "--to", "marl-2.0", code=None)
    desk.write("plover.flash", OLD)
    desk.image = desk.write("new.bin", IMAGE)
    desk.board = desk.write("brant.toml", BOARD)
    desk.usb = f"simulated:usb:{desk.folder / 'plover.flash'}"
    return desk


def flash(desk) -> bytes:
    return (desk.folder / "plover.flash").read_bytes()


def entries(desk):
    return [entry for entry in desk("logbook", "plover", "--json").json["entries"] if entry["kind"] == "load"]


def test_the_order_is_kept_step_by_step(planned):
    """Each step is asked for before the next; the board is touched by the last alone."""
    desk = planned
    words = ("load", desk.image, "plover")
    assert "'brant-h7' of plover is not described" in desk(*words, code=2).err
    desk("board", "add", desk.board)
    assert "say first that it is so: propellers off, pack unplugged" in desk(*words, code=2).err
    assert "say first that it is so: pack unplugged." in desk(*words, "--propellers-off", code=2).err
    assert "no board in its boot loader is plugged in" in desk(*words, *SAFE, code=2).err
    assert flash(desk) == OLD
    assert entries(desk) == []
    done = desk(*words, *SAFE, "--port", desk.usb, "--json").json
    assert flash(desk) == NEW
    assert (done["stage"], done["sectors"], done["was_there"]) == ("read back and proven", [2, 3, 4], False)
    assert [entry["body"]["what"] for entry in entries(desk)] == [
        "flash kept, nothing erased", "erasing", "read back and proven",
    ]  # fmt: skip
    gates = {gate["gate"]: gate["answer"] for gate in desk("gate", "--json").json["gates"]}
    assert (gates["image"], gates["before loading"]) == ("passed", "passed")


def test_without_a_refit_nothing_is_loaded(desk):
    desk.releases()
    desk.plover()
    ran = desk("load", desk.write("new.bin", IMAGE), "plover", *SAFE, code=2)
    assert "no refit is open for plover" in ran.err


def test_an_image_for_another_place_never_gets_to_the_board(planned):
    desk = planned
    hexed = desk.write("wrong.bin", IMAGE)
    ran = desk(
        "load",
        hexed,
        "plover",
        *SAFE,
        "--board",
        desk.board,
        "--at",
        "0x08010000",
        "--port",
        desk.usb,
        code=5,
    )
    assert "must not go on this board; there is no way past it" in ran.err
    assert flash(desk) == OLD


def test_a_difference_is_answered_with_a_reason_or_refused(planned):
    desk = planned
    board = desk.write("other.toml", BOARD.replace("start = 0x08004000", "start = 0x0801C000"))
    words = ("load", desk.image, "plover", *SAFE, "--board", board, "--port", desk.usb)
    assert 'answer each with the reason: --accept "settings area=WHY"' in desk(*words, code=2).err
    assert "does not differ in size" in desk(*words, "--accept", "size=so", code=1).err
    assert "gives no reason" in desk(*words, "--accept", "settings area", code=1).err
    done = desk(*words, "--accept", "settings area=they are written anew", "--json").json
    assert done["answered"][0]["why"] == "they are written anew"
    assert "they are written anew" in desk("logbook", "plover", "--json").out


def test_another_processor_is_told_before_anything_is_read(planned):
    desk = planned
    desk.write("big.flash", b"\xff" * (1 << 20))
    port = f"simulated:usb:{desk.folder / 'big.flash'}"
    ran = desk("load", desk.image, "plover", *SAFE, "--board", desk.board, "--port", port, code=5)
    assert "describes its flash as 12 sectors, 1024 KiB" in ran.err
    port = f"simulated:serial:{desk.folder / 'big.flash'}"
    ran = desk("load", desk.image, "plover", *SAFE, "--board", desk.board, "--port", port, code=5)
    assert "chip 0x413; STM32F722xE is 0x452: this is another processor" in ran.err


@pytest.mark.parametrize("way", ["usb", "serial"])
def test_there_and_back_byte_for_byte(planned, way):
    desk = planned
    port = f"simulated:{way}:{desk.folder / 'plover.flash'}"
    more = (*SAFE, "--board", desk.board, "--port", port)
    assert "no flash was read back in refit" in desk("back", "plover", "--load", *more, code=2).err
    desk("load", desk.image, "plover", *more)
    again = desk("load", desk.image, "plover", *more)
    assert "The board held new.bin already: every byte was read, and nothing was written." in again.out
    desk.write("plover.flash", NEW[:0x4000] + b"\x11" * 64 + NEW[0x4040:])  # the new firmware stored settings
    steps = desk("back", "plover").out
    assert "put the old flash back, settings too: asflown back plover --load" in steps
    assert "the whole flash was read back before anything was loaded" in steps.replace("\n", " ").lower()
    done = desk("back", "plover", "--load", *more, "--json").json
    assert flash(desk) == OLD
    assert (done["what"], done["state"]) == ("old flash", "partly written: do not fly")
    assert done["next"] == [
        "save a listing from the board, and prove it: asflown back plover --readback LISTING"
    ]
    proven = desk("back", "plover", "--readback", str(desk.folder / "before.txt"))
    assert "went back" in proven.out
    assert desk("verify").code == 0


def test_the_old_image_alone_goes_back_too_and_erases_the_settings(planned):
    desk = planned
    desk.write("plover.flash", NEW)  # loaded by other means
    old = desk.write("old.bin", images.image(OLD_RELEASE))
    more = (*SAFE, "--board", desk.board, "--port", desk.usb)
    done = desk("back", "plover", "--load", "--image", old, *more, "--json").json
    body = flash(desk)
    assert body[0x4000:0x8000] == b"\xff" * 0x4000
    assert body[AT : AT + 91_204] == OLD[AT : AT + 91_204]
    assert done["next"][0] == "write the go-back listing: asflown back plover --out FOLDER"


class Stopping(SimulatedLoader):
    """A boot loader that falls silent after some writes, and says so."""

    def __init__(self, flash, chip, after):
        super().__init__(flash, chip)
        self.after, self.silent = after, threading.Event()

    def feed(self, data):
        if self.flash.written >= self.after:
            self.silent.set()
            return b""
        return super().feed(data)


def killed(desk, writes: int) -> None:
    """Run a load in a program of its own over a pseudo-terminal, and kill that in the middle."""
    loader = Stopping(*flash_in(str(desk.folder / "plover.flash")), writes)
    board = PtyBoard(loader)
    words = ["load", desk.image, "plover", *SAFE, "--board", desk.board, "--port", board.device]
    command = [sys.executable, "-c", "from asflown.faces.cli.main import main; main()", *words]
    program = subprocess.Popen(
        [*command, "--store", str(desk.store)],
        env={**os.environ},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    try:
        assert loader.silent.wait(60), program.communicate(timeout=5)
    finally:
        program.send_signal(signal.SIGKILL)
        program.communicate()
        board.close()


@pytest.mark.slow
@pytest.mark.parametrize("writes", [1, 150])
def test_a_program_killed_in_the_middle_goes_on_where_it_was(planned, writes):
    desk = planned
    killed(desk, writes)
    assert flash(desk)[AT : AT + 8] == b"\xff" * 8, (
        "no vectors: it starts neither the old firmware nor the new"
    )
    shown = desk("aircraft", "show", "plover").out
    assert "do not fly" in shown
    signed = desk("sign", "plover", "--name", "R", "--role", "keeper", code=2)
    assert "go on writing the image: asflown load plover" in signed.err
    refused = desk("load", "plover", code=2)
    assert "say first" in refused.err
    desk("load", "plover", *SAFE, "--port", desk.usb)  # image and board's description were kept
    assert flash(desk) == NEW
    assert "do not fly" not in desk("aircraft", "show", "plover").out
    assert desk("verify").code == 0


@pytest.mark.slow
def test_a_program_killed_in_the_middle_can_go_back_instead(planned):
    desk = planned
    killed(desk, 40)
    ran = desk("readback", str(desk.folder / "before.txt"), code=None)
    assert ran.code != 0
    desk("back", "plover", "--load", *SAFE, "--board", desk.board, "--port", desk.usb)
    assert flash(desk) == OLD
    desk("back", "plover", "--readback", str(desk.folder / "before.txt"))


def test_what_is_no_port_is_told(planned):
    desk = planned
    more = ("load", desk.image, "plover", *SAFE, "--board", desk.board, "--port")
    assert "no such file" in desk(*more, "/dev/nothing-there", code=7).err.lower()
    assert "no board in USB DFU mode is at usb:9-9" in desk(*more, "usb:9-9", code=1).err
    assert "is no simulated board" in desk(*more, "simulated:radio:x", code=1).err
    assert "is no file" in desk(*more, "simulated:usb:nowhere.flash", code=1).err
    odd = desk.write("odd.flash", b"123")
    assert (
        "has 3 bytes; no simulated board has so much flash" in desk(*more, f"simulated:usb:{odd}", code=1).err
    )


def test_loads_go_with_a_hand_over_and_what_is_private_does_not(planned):
    """A flash holds every setting, private ones too: it goes only where those are wanted."""
    desk = planned
    desk("load", desk.image, "plover", *SAFE, "--board", desk.board, "--port", desk.usb)
    reduced = desk.folder / "reduced"
    desk("handover", "plover", "--out", str(reduced))
    files = {path.read_bytes() for path in reduced.rglob("*") if path.is_file()}
    assert OLD not in files
    whole, other = desk.folder / "whole", desk.folder / "other"
    desk("handover", "plover", "--out", str(whole), "--with-private")
    desk("receive", str(whole), store=other)
    assert desk("verify", store=other).code == 0
    back = ("back", "plover", "--load", *SAFE, "--port", desk.usb)
    desk(*back, store=other)
    assert flash(desk) == OLD
