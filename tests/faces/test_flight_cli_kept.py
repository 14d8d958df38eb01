"""Evidence kept with an aircraft: listed, shown, in the logbook, verified; the log's bytes kept where small."""

from __future__ import annotations

import hashlib

import pytest

from asflown.adapters.store.connect import FILE
from asflown.app.flights import keep
from asflown.demo.flight import plover_log


@pytest.fixture(scope="module")
def plover() -> bytes:
    return plover_log(seed=5, seconds=24.0, on_ground=6.0)


@pytest.fixture
def log(desk, plover):
    desk.plover()
    return desk.write("flights/morning.csv", plover)


def test_evidence_is_kept_with_the_aircraft(desk, log, plover):
    body = desk("flight", "measure", log, "--aircraft", "plover", "--json").json
    assert (body["aircraft"], body["kept"]) == ("plover", "plover-f1")
    listed = desk("flight", "list", "plover", "--json").json["flights"]
    assert [one["id"] for one in listed] == ["plover-f1"]
    assert listed[0]["log"] == {
        "sha256": hashlib.sha256(plover).hexdigest(),
        "size": len(plover),
        "name": "morning.csv",
        "kept": True,
    }
    assert listed[0]["release"] == "marl-1.0"
    shown = desk("flight", "show", "plover-f1", "--json").json
    assert shown["vibration"] == body["vibration"]
    assert shown["axes"] == body["axes"]
    assert shown["conditions"]["pilot"] == "Tobias Wendt"
    out = desk("flight", "show", "plover-f1").out
    assert f"{body['measured']} figures measured" in out
    assert "morning.csv" in desk("flight", "list").out
    assert "plover-f1" in desk("logbook", "plover").out
    verified = desk("verify", "--json").json
    assert verified["faults"] == []


def test_the_same_evidence_is_kept_once(desk, log):
    for _ in range(2):
        desk("flight", "measure", log, "--aircraft", "plover")
    assert len(desk("flight", "list", "plover", "--json").json["flights"]) == 1
    desk("flight", "measure", log, "--aircraft", "plover", "--pack", "red 1")
    assert len(desk("flight", "list", "plover", "--json").json["flights"]) == 2


def test_a_large_log_is_kept_by_its_hash_unless_asked_for(desk, log, monkeypatch):
    monkeypatch.setattr(keep, "SMALL", 1000)
    desk("flight", "measure", log, "--aircraft", "plover")
    assert not desk("flight", "list", "plover", "--json").json["flights"][0]["log"]["kept"]
    assert not list((desk.store / "originals").rglob("*.csv"))
    desk("flight", "measure", log, "--aircraft", "plover", "--keep")
    kept = desk("flight", "list", "plover", "--json").json["flights"]
    assert [one["log"]["kept"] for one in kept] == [False, True]


def test_a_changed_document_is_found(desk, log):
    import sqlite3

    desk("flight", "measure", log, "--aircraft", "plover")
    connection = sqlite3.connect(desk.store / FILE)
    connection.execute("DROP TRIGGER document_stays")
    connection.execute(
        "UPDATE document SET body = CAST(replace(CAST(body AS TEXT), '0.95', '0.50') AS BLOB)"
        " WHERE kind = 'evidence'"
    )
    connection.commit()
    connection.close()
    assert any("evidence" in str(fault) for fault in desk("verify", "--json", code=6).json["faults"])


def test_what_is_not_there_is_said(desk):
    desk.plover()
    assert "Evidence of 0 flights" in desk("flight", "list", "plover").out
    assert "no flight 'plover-f9'" in desk("flight", "show", "plover-f9", code=1).err
