"""Laws: reading loses nothing whatever the bytes; writing and reading give the same keys and values."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from asflown.core.record import Key, Setting
from asflown.errors import InputError
from asflown.formats.listing import read, write

LINE = st.sampled_from(
    [
        b"gain = 3",
        b"[net]",
        b"# note",
        b"put a 3",
        b"x: y",
        b"== bank 2 ==",
        b"profile 1",
        b"{",
        b"}",
        b'"a": 1,',
        b"a,b,c",
    ]
)
BYTES = st.one_of(
    st.binary(max_size=300),
    st.text(max_size=200).map(str.encode),
    st.text(max_size=100).map(lambda text: text.encode("utf-16", "surrogatepass")),
    st.lists(st.one_of(LINE, st.binary(max_size=12)), max_size=24).flatmap(
        lambda lines: st.sampled_from([b"\n", b"\r\n", b"\r", b"\r\r\n"]).map(lambda end: end.join(lines))
    ),
)


@given(BYTES)
@settings(max_examples=400, deadline=None)
def test_pieces_tile_the_file_or_the_file_is_refused(data: bytes) -> None:
    try:
        listing = read(data)
    except InputError:
        return
    assert listing.lossless
    assert listing.pieces[0].start == 0
    assert listing.pieces[-1].end == len(data) == listing.size
    assert all(a.end == b.start for a, b in zip(listing.pieces, listing.pieces[1:], strict=False))
    assert b"".join(data[p.start : p.end] for p in listing.pieces) == data


NAME = st.from_regex(r"[a-z][a-z0-9_]{2,12}", fullmatch=True)
VALUE = st.one_of(
    st.integers(-9999, 9999).map(str),
    st.floats(-99, 99).map(lambda number: f"{number:.3f}"),
    st.sampled_from(["on", "off", "slow", "0x1f"]),
)
SHAPES = st.sampled_from(
    [
        "put alpha = 3\nput beta = 4.5\nput gamma = on\n",
        "alpha 3\nbeta 4.5\ngamma on\n",
        "alpha: 3\nbeta: 4.5\ngamma: on\n",
        'alpha = "3"\nbeta = "4.5"\ngamma = "on"\n',
        "alpha;3\nbeta;4.5\ngamma;on\n",
        "name,value,unit\nalpha,3,ms\nbeta,4.5,V\ngamma,on,\n",
        "Parameter     Value   Unit\n------------  ------  ----\nalpha              3  ms\nbeta             4.5  V\ngamma             on\n",
        "| name  | value |\n|-------|-------|\n| alpha | 3     |\n| beta  | 4.5   |\n| gamma | on    |\n",
        '{\n  "alpha": "3",\n  "beta": "4.5",\n  "gamma": "on"\n}\n',
    ]
)


@given(SHAPES, st.dictionaries(NAME, VALUE, min_size=4, max_size=12))
@settings(max_examples=200, deadline=None)
def test_other_settings_come_back_from_every_family_of_shape(text: str, pairs: dict[str, str]) -> None:
    listing = read(text.encode())
    wanted = [Setting(Key(name), value) for name, value in pairs.items()]
    back = read(write(listing, wanted))
    assert {s.key: s.value for s in back.settings} == {s.key: s.value for s in wanted}
