"""The logbook says each entry in a sentence, keeps lines short, and shows what came with a hand-over."""

from __future__ import annotations

import re

from asflown.app.views.entry_said import said
from asflown.core.logbook import KINDS, Entry


def entry(kind, **body):
    return Entry("plover", 1, kind, 1, "2026-03-07T09:12:44+01:00", "ines", body, "0" * 64, "1" * 64)


SAYS = {
    "gate": (
        {"gate": "before loading", "answer": "passed", "statement": "log 212 opens"},
        "gate before loading: passed: log 212 opens",
    ),
    "replies": (
        {
            "what": "the listing to write",
            "settings_found": 60,
            "not_found": list(range(18)),
            "stopped_after": 60,
            "rest_settings": 18,
            "state": "partly written: do not fly",
        },
        "replies to the listing to write: 60 of 78 settings show, stopped after line 60, 18 settings still to"
        " write; partly written: do not fly",
    ),
    "sign-off": (
        {
            "from": "marl-1.0",
            "to": "marl-2.0",
            "name": "Ines",
            "role": "keeper",
            "statement": "settings proven; not bench-checked, not flown",
            "remark": "",
        },
        "marl-1.0 → marl-2.0 signed off by Ines as keeper: settings proven; not bench-checked, not flown",
    ),
    "decision": (
        {"group": "new-unit.s-to-ms", "option": "convert", "lines": {"a": "b"}, "reason": "as before"},
        "new-unit.s-to-ms: convert (1 setting); as before",
    ),
    "card": (
        {"number": 3, "card": "calibrations", "result": "fail", "note": "compass drifts"},
        "card 3 calibrations: fail: compass drifts",
    ),
    "read-back": (
        {
            "record": "plover-009",
            "of": "as left",
            "differs": [1],
            "rest_settings": 1,
            "state": "partly written",
        },
        "plover-009: 1 setting not as planned, 1 setting still to write; partly written",
    ),
    "went back": (
        {"refit": "plover-r1", "record": "plover-012", "of": "as found", "differs": [], "banks": []},
        "plover-r1 went back; plover-012: every setting as found again",
    ),
    "not now": (
        {"stays_on": "marl-1.0", "not_to": "marl-2.0", "why": "survey week", "open": 1},
        "stays on marl-1.0: survey week (not to marl-2.0; 1 decision was open)",
    ),
}


def test_each_kind_in_words():
    for kind, (body, words) in SAYS.items():
        assert said(entry(kind, **body)) == words
    for kind in KINDS:
        assert isinstance(said(entry(kind)), str)


def test_the_sheet_names_each_day_once_and_counts_properly(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    desk("decide", "idle", "--choose", "keep", "--why", "as it flew", code=None)
    desk("not-now", "--why", "survey week")
    out = desk("logbook").out
    assert len(re.findall(r"\d{4}-\d\d-\d\d", out)) <= 2  # two only where midnight falls between
    assert "T0" not in out
    assert "1 lines" not in out
    assert "stays on marl-1.0: survey week" in " ".join(out.split())
    whole = desk("logbook", "--json").json["entries"]
    assert all(re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", e["at"]) for e in whole)


def test_entries_of_a_reduced_hand_over_are_shown_as_received(desk):
    desk.ready()
    desk("plan", "--to", "marl-2.0", code=2)
    there = desk("logbook", "--json").json["entries"]
    bag = str(desk.folder / "plover.zip")
    desk("handover", "--out", bag)
    elsewhere = desk.folder / "elsewhere"
    desk("receive", bag, store=elsewhere)
    ran = desk("logbook", "plover", store=elsewhere)
    words = " ".join(ran.out.split())
    assert "4 entries came with the hand-over, marked received" in words
    assert "Received with the hand-over" in ran.out
    assert "each names the hash of the one before" in words
    assert "cannot be" in words or "none could be hashed anew" in words
    body = desk("logbook", "plover", "--json", store=elsewhere).json
    assert [e["hash"] for e in body["received"]][:3] == [e["hash"] for e in there]
    assert body["received_faults"] == []
    assert 0 < body["received_not_hashed"] <= 4
    assert body["entries"][0]["kind"] == "received"
    assert desk("verify", store=elsewhere).code == 0
    whole = str(desk.folder / "whole.zip")
    desk("handover", "--with-private", "--out", whole)
    third = desk.folder / "third"
    desk("receive", whole, store=third)
    assert desk("logbook", "plover", "--json", store=third).json["received"] == []
