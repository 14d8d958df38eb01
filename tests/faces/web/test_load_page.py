"""The page *load*: what it asks, what it refuses, and a load there and back on a simulated board."""

from __future__ import annotations

import json
import time

import pytest

from asflown.demo import images
from asflown.demo.firmware.boards import DESCRIPTION
from asflown.demo.scenario import NEW_RELEASE, OLD_RELEASE

OLD, IMAGE = images.flash(OLD_RELEASE), images.image(NEW_RELEASE)
FILES = {"image": ("marram-5.0.bin", IMAGE, "application/octet-stream")}
TICKED = {"off": "on", "unplugged": "on"}


@pytest.fixture
def bench(planned):
    """A planned refit, its board described, and a simulated board beside the store."""
    flash = planned.store.parent / "plover.flash"
    flash.write_bytes(OLD)
    board = {"board": ("b.toml", DESCRIPTION.encode(), "application/toml")}
    return planned, flash, board


def aircraft_of(visitor) -> str:
    return visitor.json("/aircraft.json")["aircraft"][0]["id"]


def waited(visitor, page):
    for _ in range(300):
        if "/work/" not in page.path:
            return page
        time.sleep(0.1)
        page = visitor.get(page.path)
    raise AssertionError("it never ended")


def test_it_asks_for_what_must_be_so(bench):
    visitor, flash, board = bench
    page = visitor.get(f"/aircraft/{aircraft_of(visitor)}/load")
    assert "PROPELLERS OFF. PACK UNPLUGGED." in page.words
    assert "hold the board's boot button, plug USB in" in page.words
    needed = [field["name"] for field in page.form("load").select("[required]")]
    assert needed == ["image", "off", "unplugged"]
    answer = visitor.send(page, "load", {**FILES, **board}, status=409, **TICKED)
    assert "No board in its boot loader is plugged in" in answer.error
    assert flash.read_bytes() == OLD


def test_there_and_back(bench):
    visitor, flash, board = bench
    name = aircraft_of(visitor)
    port = {"other": f"simulated:usb:{flash}"}
    page = visitor.get(f"/aircraft/{name}/load")
    done = waited(visitor, visitor.send(page, "load", {**FILES, **board}, **TICKED, **port))
    assert done.title == "Image written"
    assert "3 sectors erased and written" in done.sentence
    assert flash.read_bytes()[0x8000 : 0x8000 + len(IMAGE)] == IMAGE
    body = json.loads(visitor.raw(f"/aircraft/{name}/load.json").text)
    assert (body["stage"], body["sectors"], body["started"]) == ("read back and proven", [2, 3, 4], True)
    saved = visitor.sent(done, "flash")
    assert saved.content == OLD
    back = waited(visitor, visitor.send(done, "back", board, **TICKED, **port))
    assert back.title == "Old flash put back"
    assert flash.read_bytes() == OLD
    assert "do not fly" in visitor.get("/").text


def test_a_wrong_image_is_told_at_once(bench):
    visitor, flash, board = bench
    page = visitor.get(f"/aircraft/{aircraft_of(visitor)}/load")
    wrong = {"image": ("wrong.bin", b"\0" * 64, "application/octet-stream"), **board}
    answer = visitor.sent(page, "load", wrong, **TICKED, other=f"simulated:usb:{flash}")
    assert "must not go on this board; there is no way past it" in answer.text
    assert flash.read_bytes() == OLD
