"""Devices, settings and image held against each other; wiring read from words; what fits on a port."""

from __future__ import annotations

import pytest

from asflown.adapters.processors import load_processor
from asflown.core.aircraft import Aircraft, FittedDevice, Motors
from asflown.core.catalog import Consequence, Protocol, Release
from asflown.core.ports.asked import asked_of, places_named
from asflown.core.ports.board import Board, Output, SerialPort, Used
from asflown.core.ports.check import Wired, findings
from asflown.core.ports.compile import Flash, why_not_serial
from asflown.core.ports.kinds import kind_of
from asflown.core.ports.needs import SerialNeed
from asflown.core.ports.plan import plan_ports

F4 = load_processor("STM32F405RG")
PORTS = (
    SerialPort("port 1", "a", "USART1", "PA9", "PA10", number=1),
    SerialPort("port 2", "b", "USART2", "PA2", "PA3", number=2, inverter="always"),
    SerialPort("port 3", "c", "USART3", "PB10", "PB11", number=3, most_volts=3.6),
    SerialPort("port 4", "d", "USART6", "PC6", None, number=4),
)
OUTPUTS = tuple(
    Output(f"M{n}", str(n), pin, timer)
    for n, (pin, timer) in enumerate(
        (("PB0", "TIM3_CH3"), ("PB1", "TIM3_CH4"), ("PC8", "TIM8_CH3"), ("PC9", "TIM8_CH4")), 1
    )
)
BOARD = Board("b", "STM32F405xG", serial=PORTS, outputs=OUTPUTS)
PROTOCOLS = (
    Protocol("plain words", "receiver", "1", "receiver.protocol", "0", SerialNeed(115_200, 115_200)),
    Protocol("swift words", "receiver", "1", "receiver.protocol", "1", function="swift"),
    Protocol("places", "GNSS", "2", need=SerialNeed(9_600, 115_200)),
    Protocol("track", "telemetry radio", "3"),
)
RELEASE = Release("reed-2", "reed", "2", protocols=PROTOCOLS)


def found(devices, settings, in_image=(), board=BOARD):
    aircraft = Aircraft("gull", "Gull", motors=Motors(count=2), devices=tuple(devices))
    asked = asked_of(aircraft, board, RELEASE, settings)
    speaks = {device.name: device.speaks for device in devices if device.speaks}
    return findings(Wired(board, asked.things, PROTOCOLS, settings, in_image, speaks))


RX = FittedDevice("rx", "receiver", port="port 1")
SKY = FittedDevice("sky", "gnss", port="port 3")


def test_what_agrees_has_no_finding():
    settings = {
        "serial.a.does": "1", "serial.a.baud": "115200", "serial.c.does": "2", "receiver.port": "1",
        "receiver.protocol": "0", "motor.1.output": "1", "motor.2.output": "2",
    }  # fmt: skip
    assert found([RX, SKY], settings) == ()


@pytest.mark.parametrize(
    ("devices", "settings", "consequence", "says"),
    [
        ([RX], {"serial.b.does": "1"}, "safety", "port 2 is set for a receiver, but rx is on port 1"),
        (
            [RX],
            {"serial.a.does": "9"},
            "safety",
            "rx is wired to port 1, which is set for nothing that is known",
        ),
        (
            [RX],
            {"serial.c.does": "2", "serial.a.does": "1"},
            "comfort",
            "port 3 is set for a GNSS receiver, and none is described",
        ),
        (
            [RX],
            {"serial.a.does": "1", "serial.b.does": "1"},
            "safety",
            "port 1 and port 2 are both set for a receiver, and 1 is fitted",
        ),
        (
            [RX],
            {"serial.a.does": "1", "receiver.port": "3"},
            "safety",
            "the settings look for rx on port 3, and it is wired to port 1",
        ),
        (
            [RX],
            {"serial.a.does": "1", "receiver.port": "0"},
            "safety",
            "the settings look for rx on no port, and it is wired to port 1",
        ),
        (
            [RX],
            {"serial.a.does": "1", "receiver.port": "8"},
            "safety",
            "on a port '8' that the board has not",
        ),
        (
            [RX],
            {"serial.a.does": "1", "receiver.protocol": "0", "serial.a.baud": "9600"},
            "safety",
            "port 1 is set to 9600 bit/s, and rx speaks 115200 bit/s",
        ),
        (
            [RX],
            {"serial.a.does": "1", "receiver.protocol": "1"},
            "safety",
            "rx needs the function 'swift', which is not in the image",
        ),
        (
            [FittedDevice("rx", "receiver", port="port 1", speaks=("plain words",))],
            {"receiver.protocol": "1", "serial.a.does": "1"},
            "safety",
            "the settings have 'swift words' for rx, which speaks plain words",
        ),
        (
            [RX, FittedDevice("sky", "gnss", port="port 1")],
            {},
            "safety",
            "rx and sky are both wired to port 1",
        ),
        (
            [RX],
            {"motor.1.output": "7"},
            "safety",
            "the settings put motor 1 on output 7, which the board has not",
        ),
        (
            [RX],
            {"motor.1.output": "2", "motor.2.output": "2"},
            "safety",
            "the settings put motor 1 and motor 2 on output 2",
        ),
        (
            [RX],
            {"motor.1.output": "2", "lights.output": "2"},
            "safety",
            "the settings put lights and motor 1 on output 2",
        ),
    ],
)
def test_what_does_not_agree_is_told_with_its_consequence(devices, settings, consequence, says):
    told = found(devices, settings)
    mine = [one for one in told if says in one.statement]
    assert mine, [one.statement for one in told]
    assert mine[0].consequence is Consequence(consequence)
    assert mine[0].ways_out


@pytest.mark.parametrize(
    ("words", "names"),
    [
        ("port 2", ("port 2",)),
        ("Port  2", ("port 2",)),
        ("serial port b", ("port 2",)),
        ("b", ("port 2",)),
        ("outputs 1 to 3", ("M1", "M2", "M3")),
        ("M4", ("M4",)),
        ("outputs 3 to 1", ()),
        ("behind the camera", ()),
    ],
)
def test_places_in_a_persons_words(words, names):
    assert places_named(words, BOARD) == names


@pytest.mark.parametrize(
    ("port", "need", "volts", "says"),
    [
        (PORTS[0], SerialNeed(to_device=True, from_device=True), None, None),
        (PORTS[0], SerialNeed(inverted=True, from_device=True), None, "cannot turn them"),
        (PORTS[1], SerialNeed(inverted=True, from_device=True), None, None),
        (PORTS[1], SerialNeed(inverted=False, from_device=True), None, "always turns levels round"),
        (PORTS[2], SerialNeed(from_device=True), 5.0, "bears 3.6 V, the device gives 5 V"),
        (PORTS[3], SerialNeed(from_device=True), None, "receiving line is not led out"),
        (PORTS[3], SerialNeed(half_duplex=True, from_device=True), None, None),
    ],
)
def test_what_fits_on_a_port(port, need, volts, says):
    why = why_not_serial(port, need, F4, volts)
    assert (why is None) if says is None else (says in why)


def test_families_that_turn_levels_themselves():
    need = SerialNeed(inverted=True, from_device=True)
    assert why_not_serial(PORTS[0], need, load_processor("STM32F722RE"), None) is None


def test_lights_and_motors_on_one_timer_do_not_go_together():
    """All outputs of a timer count with the same period (RM0090 section 17.3, from memory)."""
    devices = (
        FittedDevice("escs", "speed controller", port="outputs 1 to 2"),
        FittedDevice("strip", "light strip", port="M2"),
    )
    board = Board("b", F4.name, outputs=OUTPUTS)
    aircraft = Aircraft("gull", "Gull", motors=Motors(count=1), devices=devices)
    asked = asked_of(aircraft, board, None, {})
    plan = plan_ports(board, F4, asked.things, Flash({}, {}))
    assert plan.reason.names == ("motor 1", "strip")
    assert plan.reason.short_of == ("pace",)
    assert [way.said for way in plan.ways_out][:2] == ["move strip from M2 to M3", "move strip from M2 to M4"]


def test_a_stream_that_three_need_is_named_once():
    """TIM3_UP, UART4_RX and TIM3_CH4 all need stream 2 of controller 1 (RM0090 table 42)."""
    board = Board("b", F4.name, used=tuple(Used(name, dma=(name,)) for name in ("TIM3_UP", "UART4_RX")))
    plan = plan_ports(board, F4, (), Flash({}, {}))
    from asflown.core.ports.reason import reason_said

    [said] = reason_said(plan.reason)
    assert said == (
        "TIM3_UP (TIM3_UP) and UART4_RX (UART4_RX) both need stream 2 of controller 1. Either alone works."
    )


def test_four_controllers_drive_four_motors():
    """Each its own device: motors are numbered through all of them, none twice."""
    devices = tuple(FittedDevice(f"esc-{n}", "speed controller", port=f"M{n}") for n in (1, 2, 3, 4))
    aircraft = Aircraft("gull", "Gull", motors=Motors(count=4), devices=devices)
    asked = asked_of(aircraft, BOARD, None, {})
    assert [(one.name, one.device, one.place) for one in asked.things] == [
        (f"motor {n}", f"esc-{n}", f"M{n}") for n in (1, 2, 3, 4)
    ]
    assert plan_ports(BOARD, F4, asked.things, Flash({}, {})).works


def test_motors_that_do_not_divide_are_not_guessed():
    devices = (FittedDevice("a", "esc"), FittedDevice("b", "esc"))
    aircraft = Aircraft("gull", "Gull", motors=Motors(count=3), devices=devices)
    asked = asked_of(aircraft, BOARD, None, {})
    assert asked.things == ()
    assert len(asked.remarks) == 2
    assert "say outputs in its description" in asked.remarks[0]


def test_a_protocol_that_nothing_chooses_is_said_to_be_unknown():
    aircraft = Aircraft("gull", "Gull", devices=(RX,))
    [remark] = asked_of(aircraft, BOARD, RELEASE, {}).remarks
    assert "no setting says which protocol" in remark
    assert "plain words, swift words" in remark
    assert asked_of(aircraft, BOARD, RELEASE, {"receiver.protocol": "0"}).remarks == ()


def test_a_wire_stays_where_it_works():
    devices = (RX, SKY)
    aircraft = Aircraft("gull", "Gull", devices=devices)
    asked = asked_of(aircraft, BOARD, RELEASE, {})
    plan = plan_ports(BOARD, F4, asked.things, Flash({}, {}))
    assert plan.works
    assert {item.name: item.place for item in plan.placed} == {"rx": "port 1", "sky": "port 3"}
    assert not any(item.moves for item in plan.placed)


def test_what_fits_nowhere_says_why_of_each_place():
    odd = FittedDevice("odd", "receiver", serial=SerialNeed(inverted=True), volts=5.0)
    aircraft = Aircraft("gull", "Gull", devices=(odd,))
    board = Board("b", F4.name, serial=(PORTS[0], PORTS[3]))
    asked = asked_of(aircraft, board, None, {})
    plan = plan_ports(board, F4, asked.things, Flash({}, {}))
    assert plan.ways_out == ()
    [(name, why)] = plan.reason.why_not
    assert name == "odd"
    assert [place for place, _ in why] == ["port 1", "port 4"]


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("GPS", "GNSS receiver"),
        ("ESC", "speed controller"),
        ("lights", "lights"),
        ("Servos", "servo"),
        ("winch", "winch"),
    ],
)
def test_kinds_in_other_words(word, kind):
    assert kind_of(word) == kind
