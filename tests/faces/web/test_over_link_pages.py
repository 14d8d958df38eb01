"""A whole refit over a link, by pages alone: read, write, prove, a card's values, a calibration, and back again."""

from __future__ import annotations

import time
from urllib.parse import urljoin

import pytest
from visitor import OWN, Visitor, filled, seen

from asflown.demo.dune import firmware
from asflown.demo.dune.firmware import NEW, OLD
from asflown.faces.cli.main import main

OFF = {"off": "yes", "unplugged": "yes"}


@pytest.fixture
def beach(tmp_path):
    """Both releases and the aircraft; what it runs is a file."""
    folder = tmp_path
    for release in (OLD, NEW):
        place = folder / release
        place.mkdir()
        (place / "release.toml").write_bytes(firmware.release_toml(release))
        (place / "overlay.toml").write_bytes(firmware.overlay(release))
        (folder / f"{release}.params").write_bytes(firmware.parameters(release))
        (folder / f"{release}.json").write_bytes(firmware.description(release))
    (folder / NEW / "notes.toml").write_text(firmware.NOTES)
    (folder / "bird.params").write_bytes(firmware.parameters(OLD, firmware.SANDERLING))
    store = ("--store", str(folder / "store"))
    for release in (OLD, NEW):
        link = f"simulated:mavlink:{folder}/{release}.params"
        assert main(["release", "add", str(folder / release), "--link", link, *store]) == 0
    assert main(["aircraft", "new", "dunlin", "--set", "title=Dunlin", f"release={OLD}", *store]) == 0
    return folder


@pytest.fixture
def visitor(beach):
    return Visitor(beach / "store")


def written_out(beach) -> None:
    store = ("--store", str(beach / "store"))
    assert main(["plan", "dunlin", "--to", NEW, *store]) == 2
    assert main(["decide", "dunlin", "new.safety", "--choose", "factory", "--why", "flat", *store]) == 0
    assert main(["plan", "dunlin", "--to", NEW, *store]) == 0
    for gate in ("baseline-flight", "before-loading"):
        assert main(["gate", gate, "passed", "--why", "tried", *store]) == 0
    assert main(["write-out", "dunlin", "--out", str(beach / "work"), *store]) == 0


def waited(visitor, answer):
    page = seen(answer, answer.status_code)
    for _ in range(300):
        if "/work/" not in page.path or page.title != "Work goes on":
            return page
        time.sleep(0.05)
        got = visitor.client.get(page.path)
        page = seen(got, got.status_code)
    raise AssertionError(page.words)


def test_read_write_prove_and_go_back(visitor, beach):
    link = f"simulated:mavlink:{beach}/bird.params"
    page = visitor.get("/aircraft/dunlin/take")
    record = waited(visitor, visitor.sent(page, "over", address=link))
    assert record.path.startswith("/record/dunlin-001")
    # where it was is typed once
    again = visitor.get("/aircraft/dunlin/calibrations").form("live").select_one("[name=address]")
    assert again["value"] == link
    assert "43" in record.sentence
    written_out(beach)
    (beach / "bird.params").write_bytes(firmware.parameters(NEW))  # the new image, at its factory values
    page = visitor.get("/aircraft/dunlin/write")
    assert "PROPELLERS OFF. PACK UNPLUGGED." in page.words
    done = waited(visitor, visitor.sent(page, "over", address=link, **OFF))
    assert done.title == "Written over MAVLink"
    assert "as left = as planned" in done.sentence
    assert "LOST_WAIT,uint16,750" in (beach / "bird.params").read_text()

    card = visitor.get("/aircraft/dunlin/card/calibrations")
    read = waited(visitor, visitor.sent(card, "live", address=link))
    assert read.path.startswith("/aircraft/dunlin/card/calibrations")
    assert "parameter, read over MAVLink" in read.words
    card = visitor.get("/aircraft/dunlin/card/orientation")
    box = {"box": "roll, right side down"}
    read = waited(visitor, visitor.sent(card, "live", address=f"{link},right-side-down", **box))
    assert "as expected" in read.words

    (beach / "bird.params").write_bytes(firmware.parameters(OLD))
    page = visitor.get("/aircraft/dunlin/back")
    back = waited(visitor, visitor.sent(page, "over", address=link, **OFF))
    assert back.title == "Went back over MAVLink"
    assert "LOST_WAIT,real32,0.75" in (beach / "bird.params").read_text()


def test_a_calibration_by_page_says_what_comes_next(visitor, beach):
    link = f"simulated:mavlink:{beach}/{OLD}.params"
    page = visitor.get("/aircraft/dunlin/calibrations")
    assert "PROPELLERS OFF" in page.words
    made = waited(visitor, visitor.sent(page, "live", address=f"{link},sides", latitude="45"))
    assert made.title == "Calibration of the accelerometer"
    page_of = visitor.get(made.path.partition("?")[0])
    assert "PROPELLERS OFF. PACK UNPLUGGED." in page_of.words
    written = waited(visitor, visitor.sent(page_of, "store", address=link, **OFF))
    assert written.title == "Calibration of the accelerometer, written"
    assert "6 settings written, stored, and read again" in written.sentence
    level = waited(visitor, visitor.sent(page, "live", address=f"{link},half-turn", sensor="level"))
    assert level.title == "Calibration of the level"


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"address": "radio"}, "is no address of a link"),
        ({"address": "simulated:mavlink:nothing.params"}, "is no simulated aircraft"),
        ({"address": "simulated:mavlink:nothing.params", "system": "x"}, "is no system number"),
    ],
)
def test_what_cannot_be_reached_is_said(visitor, fields, says):
    page = visitor.get("/aircraft/dunlin/take")
    failed = waited(visitor, visitor.sent(page, "over", **fields))
    assert says in failed.words


def test_nothing_is_written_before_a_person_says_so(visitor, beach):
    """The ticks are asked for by the form, and by the program where a form comes without them."""
    link = f"simulated:mavlink:{beach}/bird.params"
    waited(visitor, visitor.sent(visitor.get("/aircraft/dunlin/take"), "over", address=link))
    written_out(beach)
    before = (beach / "bird.params").read_bytes()
    page = visitor.get("/aircraft/dunlin/write")
    assert {one["name"] for one in page.form("over").select("[required]")} >= {"off", "unplugged", "address"}
    data = filled(page.form("over")) | {"address": link}
    answer = visitor.client.post(urljoin(page.path, page.form("over")["action"]), data=data, headers=OWN)
    assert answer.status_code == 409
    assert "propellers off, pack unplugged" in answer.text
    assert (beach / "bird.params").read_bytes() == before
