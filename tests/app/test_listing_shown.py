"""What ``listing show`` shows."""

from __future__ import annotations

import json

from asflown.app.views.listing_shown import show_listing
from asflown.formats.listing import read

DATA = b"hello there, pilot\n# changes only\n[net]\nput gain[0] = 3 ms\nput gain[1] = 4 ms\nput rate = slow\nput rate = fast\n"


def test_body_of_json_has_what_is_promised() -> None:
    body = json.loads(json.dumps(show_listing(read(DATA)).to_json()))
    assert body["settings"][0] == {
        "name": "gain",
        "bank": "net",
        "index": 0,
        "value": "3",
        "line": 4,
        "unit": "ms",
    }
    assert body["settings"][-1] == {
        "name": "rate",
        "bank": "net",
        "index": None,
        "value": "fast",
        "line": 7,
        "unit": None,
    }
    assert body["not_understood"] == [{"line": 1, "text": "hello there, pilot", "said": None}]
    assert body["shapes"][0]["pattern"].startswith("put {name} = {value}")
    assert set(body["shapes"][0]) == {"pattern", "lines", "example", "says"}
    assert body["lossless"] is True
    assert (body["encoding"], body["newline"], body["extent"], body["family"]) == (
        "utf-8",
        "lf",
        "changes-only",
        "ini",
    )
    assert body["repeated"] == [{"key": "net/rate", "lines": [6, 7], "values": ["slow", "fast"]}]
    assert body["active_banks"] == {}


def test_sentence_counts_what_the_rows_show() -> None:
    shown = show_listing(read(DATA))
    assert shown.sentence == "3 settings were read; 1 line was not understood."
    assert len(shown.settings) == 3
    assert shown.not_understood == (("1", "hello there, pilot", "open"),)
    assert "1" in shown.next_act
    settled = show_listing(read(DATA, ignore={1}))
    assert settled.sentence == "3 settings were read; every line is accounted for."
    assert settled.not_understood[0][2] == "no setting"
