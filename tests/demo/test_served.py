"""The simulated aircraft on real lines: UDP of this machine and a pseudo-terminal, with faults, in real time."""

from __future__ import annotations

import threading
import time
from decimal import Decimal

import pytest

from asflown.adapters.link.mavlink import MavLink
from asflown.app.calibrate.live import Asked, recorded
from asflown.app.link.over_mavlink import parameters
from asflown.app.link.talk import Talk
from asflown.core.link.asks import Set
from asflown.core.link.values import ParamType, encoded
from asflown.demo.dune import firmware
from asflown.demo.served import Part, PtyEnd, UdpEnd, faults_of, serve
from asflown.errors import UsageError
from asflown.faces.cli.main import main


class Links:
    """The same lines as a person's, on the machine's own clock."""

    def open(self, address):
        from asflown.adapters.link.lines import opened

        return MavLink(opened(address))

    def seconds(self):
        return time.monotonic()


@pytest.fixture(params=["udp", "pty"])
def served(request, tmp_path):
    """An aircraft on its sides, on a link that loses and spoils frames."""
    params = tmp_path / "bird.params"
    params.write_bytes(firmware.parameters(firmware.OLD, firmware.SANDERLING))
    end = UdpEnd(_free()) if request.param == "udp" else PtyEnd()
    stop = threading.Event()
    faults = faults_of("loss=0.03,corruption=0.02,doubling=0.05,reorder=0.05,latency=0.002")
    encoding = "bytewise" if request.param == "udp" else "C cast"
    run = serve(Part(params, "level", encoding, faults), end, is_over=lambda _: stop.is_set())
    thread = threading.Thread(target=lambda: [None for _ in run], daemon=True)
    thread.start()
    yield end.address, params
    stop.set()
    thread.join(5)


def _free() -> int:
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def test_read_write_and_record(served):
    address, params = served
    with Talk(Links(), address) as talk:
        aircraft = talk.greet()
        read = parameters(talk.read_all(), aircraft.encoding)
        assert {name: float(value) for name, value in read.values.items()} == pytest.approx(
            {one.name: firmware.SANDERLING.get(one.name, one.factory) for one in firmware.old()}, rel=1e-6
        )
        raw = encoded(Decimal(77), ParamType.UINT16, aircraft.encoding)
        writer = talk.write([Set("LAMP_HUE", raw, 3)])
        assert not writer.refused
        assert talk.command(245, 1.0)
    assert "LAMP_HUE,uint16,77" in params.read_text()
    made = recorded(Links(), Asked(address, None, "attitude", 1.5, 50.0))
    assert made.recording.time.size > 30


def test_the_command_is_the_aircraft(tmp_path, capsys):
    port = _free()
    heard = []

    def listen():
        with Talk(Links(), f"udp:127.0.0.1:{port}") as talk:
            heard.append(talk.greet())

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    assert main(["demo", str(tmp_path / "bird"), "--aircraft", f"udp:{port}", "--seconds", "3"]) == 0
    thread.join(10)
    assert heard[0].system == 1
    assert f"--link udp:127.0.0.1:{port}" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--aircraft", "radio"), "no way to the aircraft"),
        (("--aircraft", "pty", "--scene", "swims"), "no scene"),
        (("--aircraft", "pty", "--faults", "loss=2"), "no fault of a link"),
    ],
)
def test_what_cannot_be_is_said_and_leaves_nothing(tmp_path, capsys, more, says):
    assert main(["demo", str(tmp_path / "bird"), *more]) == 1
    assert says in capsys.readouterr().err
    assert not (tmp_path / "bird").exists()


def test_faults_are_shares():
    with pytest.raises(UsageError, match="is no fault"):
        faults_of("rain=0.5")
    assert faults_of("") == {}
