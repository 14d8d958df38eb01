"""`asflown ports` and `asflown board`: what a person types, what it says, what it refuses."""

from __future__ import annotations

import contextlib
import io
import json
from dataclasses import dataclass

import pytest

from asflown.demo import releases, scenario
from asflown.demo.firmware.boards import DESCRIPTION
from asflown.faces.cli.main import main


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


@pytest.fixture
def typed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ASFLOWN_STORE", str(tmp_path / "store"))
    monkeypatch.setenv("ASFLOWN_WHO", "ines")

    def type_(*words: str) -> Ran:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(list(words))
        return Ran(code, out.getvalue(), err.getvalue())

    return type_


def brought(typed, tmp_path, *, device: str = "", board: str = DESCRIPTION):
    """The new release, the board, and plover with more devices."""
    folder = tmp_path / "marram-5.0"
    for path, data in releases.folders()["marram-5.0"].items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    (tmp_path / "b.toml").write_text(board)
    (tmp_path / "p.toml").write_text(scenario.PLOVER.text.replace("marram-4.1", "marram-5.0") + device)
    assert typed("release", "add", str(folder)).code == 0
    assert typed("board", "add", "b.toml").code == 0
    assert typed("aircraft", "new", "--from", "p.toml").code == 0


def test_without_settings_the_plan_rests_on_devices(typed, tmp_path):
    brought(typed, tmp_path)
    said = typed("ports", "plover", "--json")
    body = said.json
    assert body["release"] == "marram-5.0"
    assert body["settings_from"] is None
    assert body["board"] == "wrackline-2"
    places = {item["thing"]: item["place"] for item in body["placed"]}
    assert places["receiver"] == "serial port b"
    assert places["motor 4"] == "output 4"
    assert body["functions"] == {"lamps": 6144}
    assert body["flash_left"] == 524288 - 32768 - 401408 - 6144


def test_ways_out_are_ranked_and_work(typed, tmp_path):
    """Each way out, written into the description, makes the plan work."""
    brought(
        typed,
        tmp_path,
        device='\n[[device]]\nname = "radio"\nkind = "telemetry radio"\nport = "serial port c"\n',
    )
    said = typed("ports", "plover")
    body = typed("ports", "plover", "--json").json
    assert said.code == 2
    assert body["works"] is False
    # two devices are wired to one port
    assert set(body["reason"]["things"]) == {"sky", "radio"}
    costs = [way["cost"] for way in body["ways_out"]]
    assert costs == sorted(costs)
    assert "sky and radio are both wired to serial port c" in [one["statement"] for one in body["findings"]]
    assert "licence" in said.out


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('processor = "STM32F722RE"', 'processor = "STM32F999XX"', 2, "there is no table for the processor"),
        ('T1 = "PA9"', 'T1 = "PH9"', None, "pin PH9 is not led out of package R"),
        ('T1 = "PA9"', 'T1 = "PB10"', None, "cannot be USART1_TX"),
        ('unit = "USART2"', 'unit = "USART9"', None, "has no USART9"),
        ('timer = "TIM3_CH4"', 'timer = "TIM3_CH1"', None, "cannot be TIM3_CH1"),
        ("most_volts = 5", "most_volts = 0", None, "most_volts"),
        ('dma = ["ADC1"]', 'dma = ["ADC9"]', None, "no DMA request ADC9"),
        ('pins = ["PA5", "PA6", "PA7"]', 'pins = ["PA9"]', None, "used on the board by gyro"),
        (
            "start = 0x08004000",
            "start = 0x09004000",
            None,
            "area settings: 0x09004000-0x09007FFF lies outside the flash",
        ),
        (
            "image_at = 0x08008000",
            "image_at = 0x07008000",
            None,
            "image_at 0x07008000 lies outside the flash",
        ),
        ('units = ["ADC1"]', 'units = ["TIM8"]', None, "TIM8 is used on the board by voltage and current"),
        ("[pads]", "[pads]\nZ = 'PA9'", None, "is pad Z already"),
        ('id = "b"', 'id = "a"', None, "stands twice"),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(typed, tmp_path, old, new, line, says):
    text = DESCRIPTION.replace(old, new, 1)
    assert text != DESCRIPTION
    (tmp_path / "b.toml").write_text(text)
    for words in (("board", "check", "b.toml"), ("board", "add", "b.toml")):
        said = typed(*words)
        assert said.code == 1, said.err
        assert says in " ".join(said.err.split()), said.err
        assert "b.toml:" in said.err
        if line:
            assert f"b.toml:{line}" in said.err
    assert typed("board", "list", "--json").json == {"boards": []}


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("baud = 12", "300"),
        ("baud = [1, 2, 3]", "baud"),
        ("volts = 400", "60"),
        ("outputs = -1", "0"),
    ],
)
def test_impossible_needs_are_refused(typed, tmp_path, more, says):
    inner = f"serial = {{ {more} }}" if more.startswith("baud") else more
    text = f'id = "gull"\ntitle = "Gull"\n[[device]]\nname = "x"\nkind = "logger"\n{inner}\n'
    (tmp_path / "a.toml").write_text(text)
    said = typed("aircraft", "new", "--from", "a.toml")
    assert said.code == 1
    assert "a.toml:6" in said.err
    assert says in said.err


def test_circular_needs_are_refused(typed, tmp_path):
    folder = tmp_path / "reed-1"
    folder.mkdir()
    (folder / "release.toml").write_text('firmware = "reed"\nversion = "1"\n')
    (folder / "functions.toml").write_text(
        '[[function]]\nname = "a"\nneeds = ["b"]\n[[function]]\nname = "b"\nneeds = ["a"]\n'
    )
    said = typed("release", "add", str(folder))
    assert said.code == 1
    assert "a ring of needs" in said.err
    assert "functions.toml:" in said.err


def test_words_that_go_wrong(typed, tmp_path):
    brought(typed, tmp_path)
    for words, says in (
        (("ports", "plovr"), "plover is meant?"),
        (("ports", "plover", "--release", "marram-9"), "there is no release"),
        (("ports", "plover", "--with", "warp"), "there is no optional function 'warp'"),
        (("ports", "plover", "--every"), "--every is for all aircraft"),
        (("board", "show", "nosuch"), "there is no board 'nosuch'"),
        (("board", "new", "x", "--processor", "Z80"), "there is no table for the processor"),
        (("board", "new", "x", "--processor", "STM32F722QE"), "no package Q"),
    ):
        said = typed(*words)
        assert said.code == 1, words
        assert says in " ".join(said.err.split()), said.err
        assert "next: " in said.err


def test_functions_wanted_and_no_room(typed, tmp_path):
    brought(typed, tmp_path)
    said = typed("ports", "plover", "--with", "picture", "--with", "lens", "--json")
    assert said.json["functions"] == {"lamps": 6144, "picture": 18432, "lens": 9216}
    full = DESCRIPTION.replace("image_at = 0x08008000", "image_at = 0x0801C000")
    (tmp_path / "b.toml").write_text(full)
    assert typed("board", "add", "b.toml").code == 0
    said = typed("ports", "plover", "--with", "picture", "--json")
    assert said.json["works"] is False
    assert said.json["reason"]["short_of"] == ["flash"]


def test_the_fleet_in_lines(typed, tmp_path):
    brought(typed, tmp_path)
    assert typed("aircraft", "new", "gull").code == 0
    said = typed("ports", "--every")
    assert "plover" in said.out
    assert "gull" in said.out
    assert [one["aircraft"] for one in typed("ports", "--every", "--json").json["aircraft"]] == [
        "gull",
        "plover",
    ]


def test_a_drawing_is_written_once(typed, tmp_path):
    import xml.etree.ElementTree as tree

    brought(typed, tmp_path)
    typed("ports", "plover", "--svg", "p.svg")
    texts = [item.text for item in tree.parse(tmp_path / "p.svg").iter("{http://www.w3.org/2000/svg}text")]
    assert {"motor 1", "output 1", "J5", "receiver", "serial port b"} <= set(texts)
    assert "is there already" in typed("ports", "plover", "--svg", "p.svg").err


def test_a_description_begun_can_be_read(typed, tmp_path):
    assert typed("board", "new", "reed-board", "--processor", "STM32G474RE").code == 0
    text = (tmp_path / "reed-board.toml").read_text()
    assert "LPUART1" in text
    assert typed("board", "check", "reed-board.toml").code == 0
    assert "is there already" in typed("board", "new", "reed-board", "--processor", "STM32G474RE").err
