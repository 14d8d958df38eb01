"""Bags held against the reference library, and zips and folders that are made to trick a reader."""

from __future__ import annotations

import io
import stat
import zipfile

import bagit
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asflown.adapters.bags import read_bag, write_bag
from asflown.errors import Damaged, InputError
from asflown.formats import bag, zipped

PAYLOAD = {
    "about.json": b"{}\n",
    "originals/ab": b"\0\xff" * 40,
    "documents/a note.json": b"x",
    "ü ö.txt": b"y",
}
INFO = {"External-Identifier": "plover", "Bagging-Date": "2026-03-07"}


def test_the_reference_library_takes_our_bag(tmp_path):
    """Against `bagit` of the Library of Congress, the reference library of the standard."""
    folder = write_bag(str(tmp_path / "bag"), bag.make(PAYLOAD, INFO))
    found = bagit.Bag(str(folder))
    found.validate()
    assert found.info["External-Identifier"] == "plover"
    assert {entry for entry in found.payload_files()} == {"data/" + path for path in PAYLOAD}
    (folder / "data" / "about.json").write_bytes(b"{ }")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(folder)).validate()


def test_the_reference_library_writes_the_same_manifest(tmp_path):
    """It writes version 0.97 of the layout, so the declaration differs; manifest and Payload-Oxum do not."""
    folder = tmp_path / "bag"
    for path, data in PAYLOAD.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    bagit.make_bag(str(folder), {}, checksums=["sha256"])
    theirs, ours = read_bag(str(folder)), bag.make(PAYLOAD, INFO)
    assert sorted(theirs[bag.MANIFEST].split(b"\n")) == sorted(ours[bag.MANIFEST].split(b"\n"))
    oxum = [line for line in ours[bag.INFO].split(b"\n") if line.startswith(b"Payload-Oxum")]
    assert oxum == [line for line in theirs[bag.INFO].split(b"\n") if line.startswith(b"Payload-Oxum")]
    with pytest.raises(Damaged, match=r"BagIt 1\.0"):
        bag.check(theirs, "bag")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
@given(
    st.dictionaries(
        st.text(
            st.characters(codec="ascii", exclude_characters="/\\:~\0%. \n\r\t\x0b\x0c\x1c\x1d\x1e\x1f"),
            min_size=1,
            max_size=8,
        ),
        st.binary(max_size=30),
        max_size=4,
    )
)
def test_both_agree_on_odd_names(tmp_path_factory, payload):
    """Line ends and percent signs are left out: the library, version 1.9, does not encode the percent sign."""
    folder = write_bag(str(tmp_path_factory.mktemp("b") / "bag"), bag.make(payload, INFO))
    if payload:
        bagit.Bag(str(folder)).validate()
    assert bag.check(read_bag(str(folder)), "bag") == payload


def test_line_ends_and_percent_signs_in_names_are_encoded():
    """RFC 8493 section 2.1.3: LF, CR and % in a file path are percent-encoded, and only these."""
    payload = {"50% off": b"x", "a\nb": b"y", "c\r\nd": b"z", "e%0Af": b"", "ü ö": b""}
    files = bag.make(payload, INFO)
    paths = {line.split("  ", 1)[1] for line in files[bag.MANIFEST].decode().split("\n") if line}
    assert paths == {"data/50%25 off", "data/a%0Ab", "data/c%0D%0Ad", "data/e%250Af", "data/ü ö"}
    assert bag.check(files, "bag") == payload


def test_a_wrong_payload_oxum_is_named():
    files = bag.make(PAYLOAD, INFO)
    files[bag.INFO] = files[bag.INFO].replace(b"Payload-Oxum: 85.4", b"Payload-Oxum: 85.5")
    assert files[bag.INFO] != bag.make(PAYLOAD, INFO)[bag.INFO]
    files[bag.TAG_MANIFEST] = bag.make({}, {})[bag.TAG_MANIFEST]
    with pytest.raises(Damaged) as caught:
        bag.check(files, "bag")
    assert "states 85.5 (octets.files), there are 85.4" in str(caught.value)


def zip_of(*members: tuple[str, bytes], mode: int = 0, packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for path, data in members:
            info = zipfile.ZipInfo(path)
            info.external_attr = mode << 16
            info.compress_type = packing
            archive.writestr(info, data)
    return made.getvalue()


@pytest.mark.parametrize(
    "data, says",
    [
        (zip_of(("b/../../x", b"")), "leads out"),
        (zip_of(("/etc/x", b"")), "leads out"),
        (zip_of(("b\\..\\x", b"")), "leads out"),
        (zip_of(("c:/x", b"")), "leads out"),
        (zip_of(("b/./x", b"")), "leads out"),
        (zip_of(("b//x", b"")), "leads out"),
        (zip_of(("b/link", b"/etc/passwd"), mode=stat.S_IFLNK | 0o777), "is a link"),
        (zip_of(("b/pipe", b""), mode=stat.S_IFIFO | 0o644), "is a link or a device"),
        (zip_of(("b/x", b"x"), packing=zipfile.ZIP_LZMA), "packed in a way"),
        (zip_of(("b/x", b"x"), packing=zipfile.ZIP_BZIP2), "packed in a way"),
    ],
)
def test_tricks_in_a_zip_are_refused_before_anything_is_unpacked(data, says):
    with pytest.raises(InputError, match=says) as caught:
        zipped.unpack(data, "h.zip")
    assert caught.value.next_step


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_that_stands_twice_is_refused():
    with pytest.raises(InputError, match="twice"):
        zipped.unpack(zip_of(("b/x", b"1"), ("b/x", b"2")), "h.zip")


def test_an_encrypted_file_is_refused():
    data = bytearray(zip_of(("b/x", b"x")))
    place = data.index(b"PK\x01\x02") + 8
    data[place] |= 1
    with pytest.raises(InputError, match="encrypted"):
        zipped.unpack(bytes(data), "h.zip")


def test_a_bomb_is_refused_by_what_it_states_and_stopped_where_it_lies():
    bomb = zip_of(*((f"b/{n}", b"\0" * 10_000_000) for n in range(3)))
    assert len(bomb) < 100_000
    with pytest.raises(InputError, match="more than 10 MB"):
        zipped.unpack(bomb, "h.zip", largest=10 * 1024**2)
    lying = bytearray(zip_of(("b/x", b"\0" * 10_000_000)))
    place = lying.index(b"PK\x01\x02") + 24  # stated size in the central directory
    lying[place : place + 4] = (1000).to_bytes(4, "little")
    with pytest.raises(Damaged, match="does not unpack"):
        zipped.unpack(bytes(lying), "h.zip", largest=2000)


def test_too_many_files_are_refused(monkeypatch):
    monkeypatch.setattr(zipped, "MOST", 3)
    with pytest.raises(InputError, match="more than 3 files"):
        zipped.unpack(zip_of(*((f"b/{n}", b"") for n in range(4))), "h.zip")


def test_a_folder_with_a_link_is_refused(tmp_path):
    folder = write_bag(str(tmp_path / "bag"), bag.make(PAYLOAD, INFO))
    (folder / "data" / "more").symlink_to("/etc/hostname")
    with pytest.raises(InputError, match="holds a link"):
        read_bag(str(folder))
