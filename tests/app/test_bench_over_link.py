"""Boxes of a card filled by the aircraft itself: over MAVLink, and by its terminal."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from golden_text import check_golden
from mavlink_world import World as Links
from small_world import OLD, put, world
from terminal_world import ASK, Desk, ready
from test_back_job import loaded

from asflown.app import kept
from asflown.app.bench.live import LiveAsk, read_live
from asflown.app.bench.terminal import read_terminal
from asflown.app.cards import cards_of
from asflown.app.link.write import write_at
from asflown.app.views.bench_shown import read_sheet
from asflown.core.bench.judged import contradicted, judged
from asflown.demo.aircraft.hands import Hands, Pose
from asflown.demo.aircraft.scenes import telemetry_of
from asflown.demo.aircraft.telemetry import Telemetry
from asflown.demo.mavlink_aircraft import Server
from asflown.errors import DeviceError, NeedsPerson, UsageError
from asflown.faces.cli.console import sheet_text

LEANS = {  # s at which a position of the scene begins
    "roll, right side down": 0.0,
    "pitch, nose up": 7.0,
    "yaw change, nose right": 18.5,
    "roll when level": 28.0,
}


def links(telemetry: Telemetry | None, values=None, **spoils) -> Links:
    return Links(Server(values or {"A_ONE": (9, 1.0)}, telemetry=telemetry), **spoils)


def ask(*names: str, seconds: float = 3.0, ready=None) -> LiveAsk:
    return LiveAsk("it", None, names, seconds, ready)


def test_the_meter_card_is_filled_where_the_aircraft_says_it():
    made = loaded()
    here = links(telemetry_of("still"), loss=0.2, seed=3)
    read = read_live(made.work, "wren", "meter", ask(), here)
    by_what = {one.what: one for one in read.readings}
    assert set(by_what) == {"shown", "current shown, motors stopped"}
    sensors = here.server.telemetry.sensors
    wanted = (15.92 - 0.03 * 0.31 - sensors.voltage[1]) / sensors.voltage[0]
    assert float(by_what["shown"].value) == pytest.approx(wanted, abs=0.02)
    assert by_what["shown"].over_link
    assert "median of" in by_what["shown"].says
    entry = [one for one in made.store.book("wren") if one.kind == "bench"][-1]
    assert entry.body["readings"][0][4] is True
    # the display is 0.19 V off the meter: not within 0.1 V
    from asflown.app.bench.readings import note_values

    note_values(made.work, "wren", "meter", ["meter=15.91"])
    card = next(one for one in cards_of(made.work, "wren").states if one.card.id == "meter")
    assert [one.measure.what for one in contradicted(card.card, card.readings)] == ["shown"]


def test_the_board_is_told_apart_by_hand():
    made = loaded()
    hands = telemetry_of("leans")
    here = links(hands)

    def ready(measure):
        here.line.now = max(here.line.now, LEANS.get(measure.what, here.line.now))

    read = read_live(made.work, "wren", "orientation", ask(seconds=3.5, ready=ready), here)
    found = {one.measure.what: one for one in judged(read.card, read.readings)}
    assert float(found["roll, right side down"].reading.value) == pytest.approx(30, abs=4)
    assert float(found["pitch, nose up"].reading.value) == pytest.approx(30, abs=4)
    assert float(found["yaw change, nose right"].reading.value) == pytest.approx(33, abs=4)
    assert all(one.is_as_expected for name, one in found.items() if "level" not in name)
    check_golden("bench_read_link.txt", sheet_text(read_sheet(read)))


def test_a_board_turned_about_is_found_out():
    """Mounted the other way round its signs are turned: nothing that a person has to remember."""
    made = loaded()
    turned = Telemetry(Hands((Pose((-30, 0, 0), 1e9),), tremble=0.0))
    read = read_live(made.work, "wren", "orientation", ask("roll, right side down"), links(turned))
    assert contradicted(read.card, read.readings)


def test_several_boxes_want_a_person():
    made = loaded()
    with pytest.raises(NeedsPerson, match="held differently") as error:
        read_live(made.work, "wren", "orientation", ask(), links(telemetry_of("still")))
    assert 'bench read orientation "roll, right side down"' in error.value.next_step
    assert not kept.needed_refit(made.store, "wren").refit.readings


def test_a_stick_that_moves_its_channel():
    made = loaded()
    here = links(telemetry_of("sticks"))
    read = read_live(made.work, "wren", "sticks", ask("roll ends", seconds=6.0), here)
    assert read.readings[0].value.startswith("channel 1: 10")
    assert not contradicted(read.card, read.readings)
    here = links(telemetry_of("sticks"))
    both = read_live(made.work, "wren", "sticks", ask("pitch ends", seconds=14.0), here)
    assert contradicted(both.card, both.readings)  # two channels moved


def test_what_a_link_cannot_say():
    made = loaded()
    with pytest.raises(UsageError, match="no link says"):
        read_live(made.work, "wren", "meter", ask("meter"), links(telemetry_of("still")))
    here = links(telemetry_of("leans"))
    here.line.now = 4.0
    with pytest.raises(NeedsPerson, match="hold it still"):
        read_live(made.work, "wren", "orientation", ask("roll, right"), here)
    here = links(telemetry_of("flies"))
    here.line.now = 4.0
    with pytest.raises(NeedsPerson, match="armed"):
        read_live(made.work, "wren", "meter", ask(), here)
    assert not kept.needed_refit(made.store, "wren").refit.readings


def test_a_setting_is_read_as_a_parameter():
    from asflown.app.link.talk import Talk

    here = links(None, {f"P_{n}": (9, n / 8) for n in range(30)}, loss=0.3, seed=4)
    with Talk(here, "it") as talk:
        talk.greet()
        assert talk.read_one("P_7").name == "P_7"
        assert talk.read_one("P_99") is None
        assert talk.read_one("a name far too long for it") is None


def written(trouble=None):
    """A refit written over the terminal, and its desk."""
    made = ready()
    desk = Desk(made.board, trouble=trouble)
    assert write_at(made.work, "wren", ASK, desk, "tty", lambda done, total: None).is_as_planned
    return made, desk


def a_card_with_settings(made):
    states = cards_of(made.work, "wren").states
    return next(one.card for one in states if any(measure.setting for measure in one.card.all_measures))


def test_settings_of_a_card_come_from_the_terminal():
    made, desk = written()
    card = a_card_with_settings(made)
    read = read_terminal(made.work, "wren", card.id, (), desk, "tty")
    assert len(read.readings) == sum(bool(one.setting) for one in card.all_measures)
    for one in read.readings:
        measure = next(each for each in card.all_measures if each.what == one.what)
        assert float(one.value) == float(made.board.live[measure.setting])
        assert one.over_link
    assert not [one for one in judged(read.card, read.readings) if one.is_as_expected is False]
    assert desk.typed[-2:] == ["tell", "tell"]


def test_a_setting_that_somebody_changed_since_is_found_out():
    made, desk = written()
    card, measure = next(
        (one.card, measure)
        for one in cards_of(made.work, "wren").states
        for measure in one.card.all_measures
        if measure.setting and measure.planned is not None
    )
    made.board.live[measure.setting] = str(float(measure.planned) + 1)
    read = read_terminal(made.work, "wren", card.id, (measure.what,), desk, "tty")
    assert [one.measure.what for one in contradicted(read.card, read.readings)] == [measure.what]


def test_a_terminal_prints_settings_alone():
    made, desk = written()
    with pytest.raises(UsageError, match="settings alone"):
        read_terminal(made.work, "wren", "meter", (), desk, "tty")
    with pytest.raises(UsageError, match="no link says"):
        read_terminal(made.work, "wren", "meter", ("shown",), desk, "tty")


def test_a_calibration_cut_off_in_the_middle_comes_to_the_same_numbers():
    """A link that breaks at any moment of the writing; the same command again ends where one whole run does."""
    from asflown.app.calibrate.kept import keep
    from asflown.app.calibrate.write import StoreAsk, store_calibration
    from asflown.core.calibrate.kept import Calibration, When
    from asflown.core.catalog import ParameterDef
    from asflown.core.measured import Measured

    roles = [f"calibration.accelerometer.{part}.{axis}" for axis in "xyz" for part in ("offset", "scale")]
    names = {role: f"A_{n}" for n, role in enumerate(roles)}
    defined = tuple(ParameterDef(name, role=role, factor=Decimal(1)) for role, name in names.items())
    release = replace(OLD, catalog=replace(OLD.catalog, parameters=defined))
    results = {f"offset {a}": Measured(0.25, 0.25, 0.25) for a in "xyz"}
    results |= {f"scale {a}": Measured(1.125, 1.125, 1.125) for a in "xyz"}
    start = {name: (9, 0.5 if ".offset" in role else 1.5) for role, name in names.items()}
    wanted = {name: 1.5 * 0.25 + 0.5 if ".offset" in role else 1.5 * 1.125 for role, name in names.items()}
    cut = 0
    for after in np.arange(1.4, 4.2, 0.05):
        made = world()
        put(made.work, "release", OLD.id, release)
        one = keep(
            made.work,
            Calibration(
                "wren-cal1", "wren", "accelerometer", When.AS_FOUND, "", "m/s2", (), results, True, ""
            ),
        )
        server = Server(dict(start))
        ask_it = StoreAsk(one.id, "it", None, True, ASK)
        try:
            store_calibration(made.work, ask_it, Links(server, cut_at=float(after), latency=0.02))
        except DeviceError:
            cut += 1
        done = store_calibration(made.work, ask_it, Links(server, latency=0.02))
        assert done.is_held
        assert {name: value for name, (_, value) in server.stored.items()} == pytest.approx(wanted)
    assert cut > 10
