"""``asflown terminal``, ``found --terminal`` and ``write`` on the command line, over a pseudo-terminal."""

from __future__ import annotations

import pytest

from asflown.demo import board_state, scenario, terminal
from asflown.demo.scenario import OLD_RELEASE

SAFE = ("--propellers-off", "--pack-unplugged")


@pytest.fixture
def bench(desk):
    """Words that are kept, and a simulated board with the settings of the worked example."""
    desk.write("words.toml", terminal.WORDS)
    desk.port = (
        f"simulated:text:{desk.write('plover.board', board_state.dumped(scenario.simulated('plover')))}"
    )
    desk("aircraft", "new", "plover", "--set", "title=Plover", "board=wrackline-2", f"release={OLD_RELEASE}")
    return desk


def test_a_record_is_read_from_the_aircraft_itself(bench):
    ran = bench("found", "--terminal", bench.port, code=2)
    assert "which words marram's terminal takes is not kept: none are built in" in ran.err
    bench("terminal", "add", str(bench.folder / "words.toml"))
    body = bench("found", "--terminal", bench.port, "--json").json
    assert body
    assert "347" in bench("records", "list", "plover").out
    again = bench("terminal", "add", str(bench.folder / "words.toml"))
    assert "kept already, unchanged" in again.out
    assert bench("terminal", "list", "--json").json["terminals"][0]["restart"] == "restart"
    assert "words of marram's terminal brought in" in bench("logbook", "releases").out


def test_one_listing_is_wanted(bench):
    assert "one listing is wanted" in bench("found", code=1).err
    assert "one listing is wanted" in bench("found", "x.txt", "--terminal", "y", code=1).err


def test_the_beginning_of_a_words_file_can_be_filled_in(bench):
    text = bench("terminal", "new", "gull").out.replace('listing = ""', 'listing = "print it"', 1)
    assert "gull: kept." in bench("terminal", "add", bench.write("gull.toml", text)).out


def test_what_is_no_terminal_is_told(bench):
    bench("terminal", "add", str(bench.folder / "words.toml"))
    assert "no such file" in bench("found", "--terminal", "/dev/nothing-there", code=7).err.lower()
    assert "is no simulated board" in bench("found", "--terminal", "simulated:text:nowhere", code=1).err
    odd = bench.write("odd.board", "{}")
    assert "is no simulated board" in bench("found", "--terminal", f"simulated:text:{odd}", code=1).err
    assert "no refit is open" in bench("write", "plover", "--terminal", bench.port, *SAFE, code=2).err
