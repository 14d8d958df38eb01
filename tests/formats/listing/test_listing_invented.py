"""Listings of our own invention, of very different character: exact tuples written down by hand."""

from __future__ import annotations

import pytest

from asflown.core.record import Extent
from asflown.formats.listing import read, write

CASES: dict[str, tuple[str, str]] = {
    "aligned table with units": (
        "Parameter            Value    Unit   Range\n-------------------  -------  -----  -----------\n"
        "climb_rate_max           4.5  m/s    0.5 .. 9\nhome_wait                 10  s      0 .. 60\n"
        "lamp_mode               slow         slow|fast\ntilt[0]                  1.5  deg    -5 .. 5\n",
        "|climb_rate_max||4.5|m/s;|home_wait||10|s;|lamp_mode||slow|;|tilt|0|1.5|deg",
    ),
    "prompt and reply": ("unit> show all\nclimb.max: 4.5\nlamp: off\nwait: 10 s\nunit>\n", "|climb.max||4.5|;|lamp||off|;|wait||10|s"),
    "question and answer": ("> ask lamp_mode\n3\n> ask climb\n4.5\n> ask wait\n10\n>\n", "|lamp_mode||3|;|climb||4.5|;|wait||10|"),
    "selectors": (
        "profile 1\ngain_roll 45\nlamp on\nprofile 2\ngain_roll 40\nlamp off\nprofile 1\n",
        "profile 1|gain_roll||45|;profile 1|lamp||on|;profile 2|gain_roll||40|;profile 2|lamp||off|",
    ),
    "selectors behind a command word": (
        "select bank 1\nput gain = 3\nput rate = 4\nselect bank 2\nput gain = 5\nput rate = 6\n",
        "bank 1|gain||3|;bank 1|rate||4|;bank 2|gain||5|;bank 2|rate||6|",
    ),
    "indented blocks": (
        "host alpha\n  port 22\n  user root\nhost beta\n  port 2222\n",
        "host alpha|port||22|;host alpha|user||root|;host beta|port||2222|",
    ),
    "nested indented blocks": (
        "nav:\n  climb:\n    max: 4.5\n    min: -2\n  wait: 10\nlamp:\n  mode: slow\n",
        "nav.climb|max||4.5|;nav.climb|min||-2|;nav|wait||10|;lamp|mode||slow|",
    ),
    "braces": (
        "nav {\n  climb {\n    max 4.5;\n    min -2;\n  }\n  wait 10;\n}\nlamp {\n  mode slow;\n}\n",
        "nav.climb|max||4.5|;nav.climb|min||-2|;nav|wait||10|;lamp|mode||slow|",
    ),
    "tags": ("<motors>\nmin = 1000\nmax = 2000\n</motors>\n<radio>\nmin = 5\n</radio>\n", "motors|min||1000|;motors|max||2000|;radio|min||5|"),
    "drawn table": (
        "+-------+-------+------+\n| key   | value | unit |\n+-------+-------+------+\n| a_min | 3     | ms   |\n| mode  | x y   |      |\n+-------+-------+------+\n2 rows\n",
        "|a_min||3|ms;|mode||x y|",
    ),
    "csv": ('name,type,value,default\na_min,int,3,1\na_max,int,"4,5",1\nlabel,str,"say ""hi""",\n', '|a_min||3|;|a_max||4,5|;|label||say "hi"|'),
    "fixed first and last word": ('begin\nset a_min 3\nset a_max 44\nset a_name "foo bar"\nsave\n', "|a_min||3|;|a_max||44|;|a_name||foo bar|"),
    "statements": (
        "rule 1 allow tcp 22\nrule 2 allow udp 53\nrule 3 deny any\ndefault deny\n",
        "|rule|1|allow tcp 22|;|rule|2|allow udp 53|;|rule|3|deny any|;|default||deny|",
    ),
    "index words": (
        "servo 0 1000 2000 1500\nservo 1 1000 2000 1500\nmixer 0 1.0 0.5\nmixer 1 1.0 -0.5\nlamp slow\n",
        "|servo|0|1000 2000 1500|;|servo|1|1000 2000 1500|;|mixer|0|1.0 0.5|;|mixer|1|1.0 -0.5|;|lamp||slow|",
    ),
    "sentences": ("The value of lamp is slow.\nThe value of rate is 3.\nThe value of climb is 4.5.\n", "|lamp||slow|;|rate||3|;|climb||4.5|"),
    "running numbers": ("1) lamp = slow\n2) rate = 3\n3) climb = 4.5\n4) wait = 4\n", "|lamp||slow|;|rate||3|;|climb||4.5|;|wait||4|"),
    "types before names": (
        "int    lamp   = 3\nfloat  climb  = 4.5\nbool   used   = true\nfloat  sink   = -4.5\nint    wait   = 7\nbool   lit    = false\n",
        "|lamp||3|;|climb||4.5|;|used||true|;|sink||-4.5|;|wait||7|;|lit||false|",
    ),
    "name, value and type code": (
        "1\t1\tCLIMB_MAX\t4.500000\t9\n1\t1\tCLIMB_MIN\t-2.000000\t9\n1\t1\tLAMP_MODE\t3\t6\n1\t1\tWAIT_TIME\t10\t6\n",
        "|CLIMB_MAX||4.500000|;|CLIMB_MIN||-2.000000|;|LAMP_MODE||3|;|WAIT_TIME||10|",
    ),
    "ranges before values": ("lamp [0-5] 3\nclimb [0-10] 4.5\nsink [-10-0] -4.5\n", "|lamp||3|;|climb||4.5|;|sink||-4.5|"),
    "defaults behind values": ("lamp = 3 (default 2)\nclimb = 4.5 (default 4.5)\nsink = -4 (default -5)\n", "|lamp||3|;|climb||4.5|;|sink||-4|"),
    "descriptions in a column": (
        "gain = 3            loop gain of the outer loop\nrate = 4            how often\nlamp = slow         the lamp on the arm\n",
        "|gain||3|;|rate||4|;|lamp||slow|",
    ),
    "json": (
        '{"board":"x","nav":{"climb":{"max":4.5}},"servo":[1,2],"on":true,"none":null}',
        "|board||x|;nav.climb|max||4.5|;|servo|0|1|;|servo|1|2|;|on||true|;|none||null|",
    ),
    "json rows": ('[{"name":"gain","value":3,"unit":"ms"},{"name":"rate","value":4}]', "|gain||3|ms;|rate||4|"),
    "acknowledged lines": ("gain -> 3\nOK\nrate -> 4\nOK\nlamp -> slow\nOK\n", "|gain||3|;|rate||4|;|lamp||slow|"),
    "names of several words": ("max speed = 3\nmax climb = 4\nlamp mode = slow\nhome wait time = 3\n", "|max speed||3|;|max climb||4|;|lamp mode||slow|;|home wait time||3|"),
    "overwritten pager": ("gain = 3\n--More--\r          \rrate = 4\nlamp = slow\n", "|gain||3|;|rate||4|;|lamp||slow|"),
}  # fmt: skip


def rows(text: str) -> list[tuple[str, ...]]:
    return [
        tuple(f"{s.key.bank or ''}|{s.key.name}|{s.key.index or ''}|{s.value}|{s.unit or ''}".split("|"))
        for s in read(text.encode()).settings
    ]


@pytest.mark.parametrize("name", CASES)
def test_reads_exactly(name: str) -> None:
    text, expected = CASES[name]
    assert rows(text) == [tuple(row.split("|")) for row in expected.split(";")]
    assert not read(text.encode()).not_understood


@pytest.mark.parametrize("name", CASES)
def test_comes_back_from_what_is_written(name: str) -> None:
    listing = read(CASES[name][0].encode())
    again = read(write(listing, listing.settings))
    assert {s.key: s.value for s in again.settings} == {s.key: s.value for s in listing.settings}


def test_active_bank_from_a_last_selector() -> None:
    listing = read(CASES["selectors"][0].encode())
    assert listing.active_banks == {"profile": "1"}
    assert write(listing, listing.settings).endswith(b"profile 1\n")


def test_active_bank_from_a_statement() -> None:
    text = "*** BANK A ***\nlamp ........ on\nrate ........ 30 Hz\n\n*** BANK B ***\nlamp ........ off\nrate ........ 31 Hz\n\nActive: BANK B\n"
    assert read(text.encode()).active_banks == {"BANK": "B"}


@pytest.mark.parametrize(
    ("remark", "extent"),
    [("# changes only", Extent.CHANGES_ONLY), ("# all settings", Extent.FULL), ("# by hand", Extent.UNKNOWN)],
)
def test_the_listing_tells_whether_it_is_full(remark: str, extent: Extent) -> None:
    assert read(f"{remark}\ngain = 3\nrate = 4\n".encode()).extent is extent


def test_fixed_words_are_written_again() -> None:
    listing = read(CASES["fixed first and last word"][0].encode())
    assert write(listing, listing.settings[:2]) == b"begin\nset a_min 3\nset a_max 44\nsave\n"


def test_a_repeated_key_is_reported_and_the_last_wins() -> None:
    listing = read(b"gain = 3\nrate = 4\ngain = 5\n")
    assert [(s.key.name, s.value) for s in listing.settings] == [("rate", "4"), ("gain", "5")]
    assert [(r.key, r.lines, r.values) for r in listing.repeated] == [("gain", (1, 3), ("3", "5"))]
    assert [s.value for s in read(b"gain = 3\nrate = 4\ngain = 5\n", repeated="first").settings] == ["3", "4"]


def test_a_line_declared_no_setting_stays_with_what_was_said() -> None:
    data = b"Kestrel field unit, build 12\nput gain = 3\nput rate = 4\nput lamp = slow\n"
    assert [(u.line, u.said) for u in read(data).not_understood] == [(1, None)]
    listing = read(data, ignore={1})
    assert [(u.line, u.said) for u in listing.not_understood] == [(1, "no setting")]
    assert len(listing.settings) == 3
