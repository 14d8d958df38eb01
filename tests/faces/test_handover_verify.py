"""handover, receive and verify through the command line."""

from __future__ import annotations

import hashlib
import io
import json
import re
import sqlite3
import zipfile
from pathlib import Path

import pytest

LISTING = """\
lost.wait = 1.5
lost.do = 2
idle.speed = 0.05
tilt.max = 50
lamp.on = 1
lamp.hue = 120
beep.low = 10.8
old.toy = 4
home.lat = 53.4721
"""


@pytest.fixture
def worked(desk):
    """A refit with decisions, of an aircraft that knows its home."""
    from desk_files import NEW, NOTES, OLD

    more = "home.lat,float,deg,-90,90,0,,home position,none\n"
    desk.release("marl-1.0", catalog_csv=OLD + more)
    desk.release("marl-2.0", catalog_csv=NEW + more, notes_toml=NOTES)
    desk.plover()
    desk("aircraft", "edit", "--set", "owner=Ines Abreu")
    desk.found(LISTING)
    desk("plan", "--to", "marl-2.0", code=2)
    desk("decide", "--adopt-factory", "--why", "ines read the notes", code=2)
    return desk


# ------------------------------------------------------------------------------------ verify


def test_verify_holds(worked):
    body = worked("verify", "--json").json
    assert body["holds"] is True
    assert body["faults"] == []
    assert body["books"] == 2
    assert body["originals"] >= 3
    assert "Everything kept is what it was." in worked("verify").out


def database(desk) -> Path:
    return next(path for path in desk.store.iterdir() if path.suffix in (".sqlite", ".db", ".sqlite3"))


def change(desk, statement: str) -> None:
    with sqlite3.connect(database(desk)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        assert connection.execute(statement).rowcount > 0
    connection.close()


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE entry SET who = 'nobody' WHERE book = 'plover' AND number = 2", "entry 2"),
        ("DELETE FROM entry WHERE book = 'plover' AND number = 3", "entry"),
        ("DELETE FROM entry WHERE book = 'plover' AND number > 3", "went to entry"),
        (
            "UPDATE document SET body = CAST(replace(body, '50', '51') AS BLOB) WHERE kind = 'record'",
            "record plover-001",
        ),
        ("DELETE FROM document WHERE kind = 'record'", "none is kept"),
        ("DELETE FROM document WHERE kind = 'plan' AND revision = 1", "none is kept"),
    ],
)
def test_verify_finds_what_was_changed(worked, statement, says):
    change(worked, statement)
    refused = worked("verify", code=6)
    assert "Damaged" in refused.out
    assert says in " ".join(refused.out.split())
    assert worked("verify", "--json", code=6).json["holds"] is False


def test_verify_finds_a_changed_and_a_lost_original(worked):
    listing = next(p for p in worked.store.rglob("*") if p.is_file() and p.read_bytes() == LISTING.encode())
    listing.chmod(0o644)
    listing.write_bytes(LISTING.replace("50", "51").encode())
    assert "original before.txt" in " ".join(worked("verify", code=6).out.split())
    listing.unlink()
    assert "original before.txt" in " ".join(worked("verify", code=6).out.split())


# ------------------------------------------------------------------------------------ hand over


def bag_files(path: Path) -> dict[str, bytes]:
    if path.is_dir():
        return {p.relative_to(path).as_posix(): p.read_bytes() for p in path.rglob("*") if p.is_file()}
    with zipfile.ZipFile(path) as archive:
        return {name.split("/", 1)[1]: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("name", ["plover.zip", "plover-bag"])
@pytest.mark.parametrize("private", [True, False])
def test_a_bag_is_one_by_the_standard(worked, name, private):
    """RFC 8493 sections 2.1.1, 2.1.3, 2.2.1, 2.2.2 checked from the text, by hashing here."""
    out = worked.folder / name
    worked("handover", "--out", str(out), *(["--with-private"] if private else []))
    files = bag_files(out)
    assert files["bagit.txt"] == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    listed = {}
    for manifest in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        for line in files[manifest].decode().splitlines():
            digest, path = line.split(maxsplit=1)
            assert hashlib.sha256(files[path]).hexdigest() == digest
            listed[path] = digest
    assert set(files) == {*listed, "tagmanifest-sha256.txt"}
    payload = [path for path in files if path.startswith("data/")]
    oxum = f"{sum(len(files[p]) for p in payload)}.{len(payload)}"
    assert f"Payload-Oxum: {oxum}" in files["bag-info.txt"].decode()
    assert "is there already" in worked("handover", "--out", str(out), code=1).err


def test_private_things_are_left_out_unless_wanted(worked):
    worked("handover", "--out", str(worked.folder / "open"))
    worked("handover", "--out", str(worked.folder / "whole"), "--with-private")
    reduced, whole = bag_files(worked.folder / "open"), bag_files(worked.folder / "whole")
    for secret in (rb"53\.4721", rb"\bInes Abreu\b", rb"\bines\b"):
        assert any(re.search(secret, data) for data in whole.values()), secret
        assert not any(re.search(secret, data) for data in reduced.values()), secret
    said = " ".join(json.loads(reduced["data/about.json"])["left_out"])
    assert "home.lat" in said
    assert "names of people" in said


def test_a_whole_hand_over_goes_on_elsewhere(worked):
    plan = worked("plan", "--json", code=2).json
    before = worked("logbook", "--json").json["entries"]
    worked("handover", "--out", str(worked.folder / "h.zip"), "--with-private")
    there = worked.folder / "there"
    body = worked("receive", str(worked.folder / "h.zip"), "--json", store=there).json
    assert body["entries"] == len(before) + 1  # the hand-over itself goes with it
    after = worked("logbook", "--json", store=there).json["entries"]
    assert after[: len(before)] == before
    assert after[-1]["kind"] == "received"
    assert worked("verify", "--json", store=there).json["holds"] is True
    again = worked("plan", "--json", code=2, store=there).json
    assert again["digest"] == plan["digest"]
    assert again["groups"] == plan["groups"]
    taken = worked("found", worked.write("again.txt", LISTING), "--json", store=there).json
    assert taken["id"] not in {entry["body"].get("id") for entry in before}
    assert "already" in worked("receive", str(worked.folder / "h.zip"), code=1, store=there).err


def test_a_reduced_hand_over_can_be_taken_in_too(worked):
    worked("handover", "--out", str(worked.folder / "h"))
    there = worked.folder / "there"
    body = worked("receive", str(worked.folder / "h"), "--json", store=there).json
    assert body["left_out"]
    record = worked("records", "show", "plover-001", "--json", store=there).json
    assert len(record["settings"]) == 8
    assert "1 private settings were left out" in " ".join(record["remarks"])
    assert worked("verify", "--json", store=there).json["holds"] is True
    assert worked("plan", "--to", "marl-2.0", "--json", code=2, store=there).json["account"]["found"] == 8


def packed(files: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for path, data in files.items():
            archive.writestr(f"h/{path}", data)
    return made.getvalue()


@pytest.mark.parametrize("what", ["changed", "lost", "added", "no manifest", "leads out"])
def test_a_bag_that_is_not_whole_is_refused_and_nothing_is_taken_in(worked, what):
    worked("handover", "--out", str(worked.folder / "h"), "--with-private")
    files = bag_files(worked.folder / "h")
    book = "data/logbook.jsonl"
    if what == "changed":
        files[book] = files[book].replace(b"marl-2.0", b"marl-2.1")
    elif what == "lost":
        del files[book]
    elif what == "added":
        files["data/more.txt"] = b"x"
    elif what == "no manifest":
        del files["manifest-sha256.txt"]
    else:
        files["manifest-sha256.txt"] += b"0" * 64 + b"  ../../etc/passwd\n"
    path = worked.write("bad.zip", packed(files))
    there = worked.folder / "there"
    refused = worked("receive", path, code=6, store=there)
    assert "nothing was taken in" in refused.err
    assert worked("aircraft", "list", "--json", store=there).json["aircraft"] == []


def test_a_forged_logbook_in_a_bag_with_right_manifests_is_refused(worked):
    from asflown.formats import bag

    worked("handover", "--out", str(worked.folder / "h"), "--with-private")
    payload = {p[5:]: d for p, d in bag_files(worked.folder / "h").items() if p.startswith("data/")}
    payload["logbook.jsonl"] = payload["logbook.jsonl"].replace(b"read the notes", b"flew the thing")
    path = worked.write("forged.zip", packed(bag.make(payload, {})))
    refused = worked("receive", path, code=6, store=worked.folder / "there")
    assert "was changed after it was written" in refused.err


@pytest.mark.parametrize("data", [b"", b"no zip", b"PK\x03\x04" + b"x" * 50])
def test_what_is_no_hand_over_is_refused(desk, data):
    assert "no zip file" in desk("receive", desk.write("x.zip", data), code=1).err
    assert "no such file" in desk("receive", str(desk.folder / "nope.zip"), code=1).err


def test_a_bag_of_something_else_is_refused(desk):
    from asflown.formats import bag

    path = desk.write("other.zip", packed(bag.make({"a.txt": b"x"}, {})))
    assert "not one of asflown" in desk("receive", path, code=1).err
