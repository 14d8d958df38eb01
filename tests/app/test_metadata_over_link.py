"""A catalog that comes from the aircraft itself: read over FTP on bad links, checked, kept; and what is refused.

``ASFLOWN_LINKS`` says how many seeded lossy runs are tried (default 3; 50 were counted).
"""

from __future__ import annotations

import json
import lzma
import os
import random
import struct

import pytest
from mavlink_world import World
from pymavlink.dialects.v20 import common
from small_world import world

from asflown.adapters.link.mavlink import METADATA_EXTRA, MavLink
from asflown.app import kept
from asflown.app.link.metadata import release_over
from asflown.app.views.mavlink_shown import described_json, described_sheet
from asflown.core.link import asks
from asflown.core.link.ftp import Packet
from asflown.demo import releases
from asflown.demo.mavlink_aircraft import Server
from asflown.demo.mavlink_files import GENERAL, PARAMETERS, Files, about, metadata_message
from asflown.errors import Damaged, DeviceError, InputError, NeedsPerson, UsageError
from asflown.formats import component_metadata
from asflown.formats.release_folder import read as read_folder

RUNS = int(os.environ.get("ASFLOWN_LINKS", "3"))
HARD = {"loss": 0.30, "corruption": 0.05, "doubling": 0.1, "reorder": 0.2, "latency": 0.01}
NEW = releases.folders()["marram-5.0"]
CATALOG = NEW["catalog.json"] if "catalog.json" in NEW else lzma.decompress(NEW["catalog.json.xz"])
VALUES = {"WAIT": (9, 1.5)}


def aircraft(files=None, **more) -> Server:
    return Server(dict(VALUES), files=Files(about(CATALOG) if files is None else files, **more))


def add(server: Server, files=None, name="marram-5.0", **spoils):
    made = world()
    at = World(server, **spoils)
    return made, release_over(made.work, at, "udp:x", name, files or {})


def by_division(data: bytes, begin: int, turned: int) -> int:
    """A CRC-32 bit by bit, as its definition has it (reflected polynomial EDB88320)."""
    crc = begin
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ turned


def test_the_forms_of_the_check_sum() -> None:
    """Check values of "123456789": CRC-32 and JAMCRC, section 12.2; the rest by the definition."""
    ones = 0xFFFFFFFF
    forms = {
        "CRC-32": (ones, ones),
        "CRC-32 not turned over": (ones, 0),
        "CRC-32 begun with zeros": (0, 0),
    }
    for data in (b"123456789", b"", random.Random(1).randbytes(1000)):
        assert component_metadata.checks(data) == {
            form: by_division(data, *how) for form, how in forms.items()
        }
    said = component_metadata.checks(b"123456789")
    assert (said["CRC-32"], said["CRC-32 not turned over"]) == (0xCBF43926, 0x340BC6D9)


def test_the_extra_byte_follows_from_the_fields() -> None:
    """The standard's rule: a CRC over the name, then type, name and length of each field in the wire's order."""

    def extra(name, fields):
        crc = common.x25crc((name + " ").encode())
        for kind, field, length in fields:
            crc.accumulate(f"{kind} {field} ".encode())
            if length:
                crc.accumulate(bytes((length,)))
        return (crc.crc & 0xFF) ^ (crc.crc >> 8)

    fields = [("uint32_t", "time_boot_ms", 0), ("uint32_t", "file_crc", 0), ("char", "uri", 100)]
    assert extra("COMPONENT_METADATA", fields) == METADATA_EXTRA
    heartbeat = [("uint32_t", "custom_mode", 0), *(("uint8_t", name, 0) for name in (
        "type", "autopilot", "base_mode", "system_status", "mavlink_version",
    ))]  # fmt: skip
    assert extra("HEARTBEAT", heartbeat) == common.MAVLink_heartbeat_message.crc_extra == 50


def test_a_broken_metadata_frame_is_not_believed() -> None:
    frame = metadata_message(common.MAVLink(None, 1, 1), 7, "mftp:///x")

    class Line:
        def __init__(self, data):
            self.data = data

        def receive(self, count, seconds):
            data, self.data = self.data[:count], self.data[count:]
            return data

    [(system, read)] = MavLink(Line(frame)).receive(0)
    assert (system, read.crc, read.uri) == (1, 7, "mftp:///x")
    for at in range(10, len(frame)):
        bad = bytearray(frame)
        bad[at] ^= 4
        assert MavLink(Line(bytes(bad))).receive(0) == ()


def test_the_aircraft_brings_its_own_catalog() -> None:
    made, over = add(aircraft())
    release = kept.release(made.store, "marram-5.0")
    assert (
        release.catalog.parameters == read_folder({"catalog.json": CATALOG}, "marram-5.0").catalog.parameters
    )
    assert [(one.path, one.checked) for one in over.files] == [(GENERAL, "CRC-32"), (PARAMETERS, "CRC-32")]
    shown = described_sheet(over)
    assert shown.tables[-1].rows[1][0] == PARAMETERS
    assert described_json(over)["from_aircraft"][1]["checked_by"] == "CRC-32"
    assert made.store.original(release.originals[0].sha256) == about(CATALOG)[PARAMETERS]


def test_with_the_folder_of_its_other_files_it_is_the_whole_release() -> None:
    rest = {path: data for path, data in NEW.items() if not path.startswith("catalog.")}
    _, over = add(aircraft(), rest)
    whole = read_folder(NEW, "marram-5.0")
    assert over.added.release.catalog.parameters == whole.catalog.parameters
    assert over.added.release.notes == whole.notes


@pytest.mark.parametrize("seed", range(RUNS))
def test_on_a_bad_link_it_is_the_same_bytes(seed) -> None:
    """30 % loss, 5 % corruption, doubling and reordering both ways."""
    server = aircraft(bursts=seed % 3 != 2)
    _, over = add(server, seed=seed, **HARD)
    assert [one.data for one in over.files] == [about(CATALOG)[GENERAL], about(CATALOG)[PARAMETERS]]
    assert not server.files.forbidden


@pytest.mark.parametrize("form", ["CRC-32 not turned over", "CRC-32 begun with zeros"])
def test_another_form_of_the_check_sum_is_taken_and_told(form) -> None:
    files = dict(about(CATALOG))
    crc = component_metadata.checks(files[PARAMETERS])[form]
    files[GENERAL] = json.dumps(
        {"version": 1, "metadataTypes": [{"type": 1, "uri": f"mftp://[;comp=1]{PARAMETERS}", "fileCrc": crc}]}
    ).encode()
    _, over = add(aircraft(files))
    assert over.files[1].checked == form


def general(**item) -> bytes:
    return json.dumps({"version": 1, "metadataTypes": [{"type": 1, **item}]}).encode()


@pytest.mark.parametrize(
    ("changed", "error", "says"),
    [
        ({GENERAL: general(uri=f"mftp://{PARAMETERS}", fileCrc=5)}, Damaged, "its CRC-32 is not the one"),
        ({GENERAL: general(uri="https://somewhere/p.json.xz")}, NeedsPerson, "lies elsewhere"),
        ({GENERAL: general(uri="mftp:///none")}, DeviceError, "no such file"),
        ({GENERAL: general()}, InputError, "no 'uri'"),
        ({GENERAL: general(uri="mftp:///x", fileCrc="5")}, InputError, "no 32-bit number"),
        ({GENERAL: b'{"metadataTypes": []}'}, NeedsPerson, "says nothing of its parameters"),
        ({GENERAL: b"{}"}, InputError, "has no list 'metadataTypes'"),
        ({GENERAL: b"\xfd7zXZ\x00" + bytes(40)}, InputError, "xz"),
        (
            {PARAMETERS: b"{}", GENERAL: general(uri=f"mftp://{PARAMETERS}")},
            InputError,
            "is no list of parameters",
        ),
    ],
)
def test_what_does_not_hold_is_refused_and_nothing_is_kept(changed, error, says) -> None:
    made = world()
    before = made.store.documents("release")
    at = World(aircraft({**about(CATALOG), **changed}))
    with pytest.raises(error, match=says):
        release_over(made.work, at, "udp:x", "marram-5.0", {})
    assert made.store.documents("release") == before


def test_an_aircraft_without_files_says_nothing_and_a_second_catalog_is_refused() -> None:
    with pytest.raises(NeedsPerson, match="does not describe its parameters itself"):
        add(Server(dict(VALUES)))
    with pytest.raises(NeedsPerson, match="does not describe its parameters itself"):
        add(aircraft({"/other": b"x"}))
    with pytest.raises(UsageError, match="has a catalog already"):
        add(aircraft(), {"catalog.json": CATALOG})


def test_no_command_that_writes_a_file_leaves_the_link() -> None:
    """Looked at as raw bytes: payload of message 110, opcode at its fourth byte."""

    class Line:
        sent = b""

        def send(self, data):
            self.sent += data

    for op in range(256):
        line = Line()
        link = MavLink(line)
        link.target = (1, 1)
        ask = asks.Files(Packet(1, 0, op, 0, 0, False, 0))
        if op in (1, 2, 4, 5, 14, 15):
            link.send(ask)
            payload = line.sent[10:]
            assert struct.unpack("<I", line.sent[7:10] + b"\0")[0] == 110
            assert payload[3 + 3] == op
        else:
            with pytest.raises(DeviceError, match="could change a file"):
                link.send(ask)
            assert line.sent == b""
