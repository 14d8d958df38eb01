"""An image checked by a page: the same facts as the command's."""

from __future__ import annotations

import json
import struct

import pytest
from commanded import run
from visitor import Visitor

from asflown.demo.firmware.boards import DESCRIPTION


def image(reset: int = 0x08008189) -> bytes:
    """Vectors of the demo's board, and something behind them."""
    return struct.pack("<II", 0x20020000, reset) + bytes(0x400) + b"firmware" * 64


@pytest.fixture
def folder(small_folder, copied):
    folder = copied(small_folder)
    (folder / "b.toml").write_text(DESCRIPTION)
    run(folder, "board", "add", str(folder / "b.toml"))
    return folder


def test_a_page_says_what_the_command_says(folder):
    visitor = Visitor(folder / "store")
    page = visitor.get("/image")
    sent = {"image": ("new.bin", image(), "application/octet-stream")}
    done = visitor.send(page, "check", sent, board="wrackline-2")
    (folder / "new.bin").write_bytes(image())
    said = json.loads(
        run(folder, "image", "check", str(folder / "new.bin"), "--board", "wrackline-2", "--json")
    )
    rows = [
        (row.select("th, td")[0].get_text(strip=True), row.select("th, td")[2].get_text(" ", strip=True))
        for row in done.soup.select("table")[0].select("tbody tr")
    ]
    assert rows
    assert [name for name, _ in rows] == [fact["subject"] for fact in said["facts"]]


def test_an_image_that_would_brick_the_board_has_no_way_past(folder):
    visitor = Visitor(folder / "store")
    sent = {"image": ("new.bin", image(reset=0x08008188), "application/octet-stream")}
    done = visitor.send(visitor.get("/image"), "check", sent, board="wrackline-2")
    assert "must not go on this board" in done.sentence


def test_what_is_no_image_is_said(folder):
    visitor = Visitor(folder / "store")
    sent = {"image": ("new.hex", b":00000001FE\n", "text/plain")}
    refused = visitor.send(visitor.get("/image"), "check", sent, status=400, board="wrackline-2")
    assert "has the checksum FE" in refused.error
    wrong = visitor.send(
        visitor.get("/image"),
        "check",
        {"image": ("n.bin", image(), "x/y")},
        status=400,
        board="STM32F407xG",
        at="x",
    )
    assert "no 32-bit address" in wrong.error


def test_a_kept_board_is_known_to_the_command(folder):
    (folder / "new.bin").write_bytes(image())
    said = json.loads(
        run(folder, "image", "check", str(folder / "new.bin"), "--board", "wrackline-2", "--json")
    )
    assert said["board"] == "wrackline-2"
