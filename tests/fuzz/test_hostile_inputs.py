"""One input for each way a file can hurt its reader: refused in words and with a place, or read; never slow."""

from __future__ import annotations

import lzma
import sys
import time
from collections.abc import Callable

import pytest

from asflown.core.aircraft import Aircraft
from asflown.core.catalog import Catalog, CatalogSource
from asflown.errors import AsflownError, InputError
from asflown.formats import (
    aircraft_toml,
    catalog_mavlink,
    catalog_table,
    documents,
    listing,
    notes,
    overlay,
    release_folder,
)

#: Seconds one input may take; the slowest here, an xz file of 100 MB of blanks, takes about 1.5.
PATIENCE = 10.0


def mavlink(entry: bytes) -> Catalog:
    return catalog_mavlink.read(b'{"version": 3,\n "parameters": [\n' + entry + b"]}", "catalog.json")


def table(entry: bytes) -> Catalog:
    return catalog_table.read(b"[\n" + entry + b"]", "catalog.json")


def change(line: bytes) -> object:
    head = b'from = "a-1"\nto = "a-2"\n[[change]]\nkind = "convert"\nold = "x"\n'
    return notes.read(head + line, "notes.toml")


def craft(line: bytes) -> Aircraft:
    return aircraft_toml.read(b'id = "plover"\n' + line, "aircraft.toml")


def release(line: bytes) -> object:
    return release_folder.read({"release.toml": b'firmware = "a"\n' + line}, "a-1")


def functions(line: bytes) -> object:
    return release_folder.read({"functions.toml": b'[[function]]\nname = "a"\n' + line}, "a-1")


def laid(line: bytes) -> Catalog:
    return overlay.apply(line, "overlay.toml", mavlink(b'{"name": "A"}'))


def refusal(act: Callable[[], object]) -> str:
    """What an act is refused with, empty where it is not; anything but our own error comes out."""
    try:
        act()
    except AsflownError as error:
        return str(error)
    return ""


REFUSED = [
    # lone surrogates (RFC 8259, 8.2; TOML 1.0 forbids them): no UTF-8 file could keep them
    (mavlink, b'{"name": "A", "shortDesc": "\\ud800"}', "catalog.json:3", "half a character"),
    (mavlink, b'{"name": "A", "shortDesc": "\\udc00\\ud800"}', "catalog.json:3", "half a character"),
    (table, b'{"name": "\\uDFFF"}', "catalog.json:2", "half a character"),
    (table, b'{"name": "a", "\\ud800": 1}', "catalog.json:2", "half a character"),
    (craft, b'title = "\\ud800"', "aircraft.toml:2", "no"),
    (craft, b'title = "\xed\xa0\x80"', "aircraft.toml:2", "no UTF-8"),
    # NUL as a byte
    (craft, b'title = "a\x00b"', "aircraft.toml:2", "illegal character"),
    (mavlink, b'{"name": "A\x00"}', "catalog.json:3", "control character"),
    # whole numbers beyond the interpreter's digit limit, decimal and hexadecimal
    (mavlink, b'{"name": "A", "default": ' + b"9" * 5000 + b"}", "catalog.json", "4300 digits"),
    (craft, b"title = " + b"9" * 5000, "aircraft.toml", "4300 digits"),
    (craft, b"title = 0x" + b"f" * 5000, "aircraft.toml:2 title", "0xfff"),
    (release, b"version = 0x" + b"f" * 5000, "release.toml:2 version", "at most 60 digits"),
    (functions, b"flash = 0x20000000000000", "functions.toml:3", "9007199254740991"),
    (laid, b"[all]\ndecimals = " + b"9" * 30, "overlay.toml:2 all.decimals", "12"),
    # exponents beyond any device: plain notation would fill the memory
    (mavlink, b'{"name": "A", "default": 1e999999999}', "catalog.json:3", "beyond what any device"),
    (mavlink, b'{"name": "A", "min": -9e999999, "max": 9e999999}', "catalog.json:3", "beyond"),
    (mavlink, b'{"name": "A", "max": 1e9999999999999999999999}', "catalog.json:3", "beyond"),
    (table, b'{"name": "a", "default": 1e-999999999}', "catalog.json:2", "beyond"),
    (table, b'{"name": "a", "decimals": 1e300}', "catalog.json [1]", "decimals must be"),
    (change, b"factor = 1e999999999", "notes.toml:6", "beyond"),
    (change, b"factor = 1e99999999999999999999", "notes.toml:6", "beyond"),
    (change, b'factor = "1e999999999"', "notes.toml:6 change[1].factor", "1e-30"),
    (release, b"version = 1e999999999", "release.toml:2", "beyond"),
    # decimals the device could not print
    (mavlink, b'{"name": "A", "decimalPlaces": ' + b"9" * 40 + b"}", "parameters[1]", "from 0 to 30"),
    (mavlink, b'{"name": "A", "decimalPlaces": -1}', "parameters[1]", "from 0 to 30"),
    # no numbers
    (mavlink, b'{"name": "A", "max": NaN}', "catalog.json:3", "NaN is no number"),
    (mavlink, b'{"name": "NaN", "longDesc": "NaN",\n "max": NaN}', "catalog.json:4", "NaN is no number"),
    (change, b"factor = inf", "notes.toml:6", "no number"),
    # a key twice
    (mavlink, b'{"name": "A", "name": "B"}', "catalog.json", "'name' stands twice"),
    (change, b"factor = 1\nfactor = 2", "notes.toml:7", "first in line 6"),
    # nesting beyond the interpreter's own stack
    (mavlink, b"[" * 100_000, "catalog.json", "nested too deep"),
    (table, b'{"name": ' * 100_000, "catalog.json", "nested too deep"),
    (craft, b"title = " + b"[" * 100_000, "aircraft.toml", "nested too deep"),
    (craft, b"title = " + b"{a = " * 100_000, "aircraft.toml", "nested too deep"),
    # dotted keys whose tables would grow with the square of their length
    (craft, b"a." * 100_000 + b"a = 1", "aircraft.toml:2", "dotted key"),
    (craft, b"title = 'x'\n[" + b"a . " * 9_000 + b"a]", "aircraft.toml:3", "dotted key"),
    (craft, b"title = {" + b'"a".' * 9_000 + b"a = 1}", "aircraft.toml:2", "dotted key"),
    # values of another kind than any a person would write
    (table, b'{"name": "a", "consequence": [1]}', "catalog.json [1]", "consequence must be"),
    (table, b'{"name": "a", "belonging": {}}', "catalog.json [1]", "belonging must be"),
    (table, b'{"name": "a", "min": [[]]}', "catalog.json [1]", "min must be a number"),
]


@pytest.mark.parametrize(
    "read, data, where, says", REFUSED, ids=[f"{row[0].__name__}-{n}" for n, row in enumerate(REFUSED)]
)
def test_it_is_refused_with_its_place_and_reason(read, data, where, says):
    began = time.monotonic()
    with pytest.raises(InputError) as caught:
        read(data)
    assert time.monotonic() - began < PATIENCE
    told = str(caught.value)
    assert where in told
    assert says in told
    assert len(told) < 2000
    assert told.encode("utf-8")


@pytest.mark.parametrize("depth", [100, 900, 940, 960, 980, 1000, 1500])
def test_nesting_near_the_edge_of_the_stack_is_read_or_refused(depth):
    """The parser's and the writer's own limits differ a little: between them lies no traceback."""
    nested = b"[" * depth + b"]" * depth
    for read, data in (
        (table, b'{"name": "a", "default": ' + nested + b"}"),
        (table, b'{"name": "a", "choices": ' + nested + b"}"),
        (mavlink, b'{"name": "A", "min": ' + nested + b"}"),
        (craft, b"title = " + nested),
    ):
        assert len(refusal(lambda read=read, data=data: documents.dump(read(data)))) < 2000


def test_a_stack_that_is_already_high_changes_nothing():
    def below(count):
        return below(count - 1) if count else table(b'{"name": "a", "min": ' + b"[" * 900 + b"]" * 900 + b"}")

    with pytest.raises(InputError):
        below(sys.getrecursionlimit() // 3)


def test_what_is_unusual_but_right_is_read():
    whole = table(b'{"name": "a", "description": "\\ud83d\\udc26", "group": "\\\\ud800"}').parameters[0]
    assert (whole.description, whole.group) == ("\N{BIRD}", "\\ud800")
    long = mavlink(b'{"name": "A", "type": "Uint8", "max": ' + b"9" * 4000 + b"}")
    assert long.parameters[0].maximum == 10**4000 - 1
    named = craft(b'title = "a\\u0000b"')
    assert aircraft_toml.read(aircraft_toml.write(named), "again") == named
    documents.dump(named)
    assert documents.load(documents.dump(named), Aircraft) == named


def test_an_xz_bomb_stops_at_the_limit_and_a_cut_one_says_so():
    with pytest.raises(InputError, match="unpacks to more than"):
        catalog_mavlink.read(lzma.compress(b" " * (100 << 20)), "catalog.json.xz")
    with pytest.raises(InputError, match="cut short"):
        catalog_mavlink.read(lzma.compress(b" " * (1 << 20))[:60], "catalog.json.xz")
    greedy = lzma.compress(b"{}", filters=[{"id": lzma.FILTER_LZMA2, "dict_size": 1 << 30}])
    with pytest.raises(InputError, match="xz"):  # asks for 1 GB of memory
        catalog_mavlink.read(greedy, "catalog.json.xz")


@pytest.mark.parametrize(
    "data",
    [
        b"[" + b" " * 20_000,
        b'x = """\n[' + b" " * 20_000 + b'\n"""\n',
        b"a" * 20_000,
        b'"' + b"\\" * 20_000,
        b'"' + b'\\"' * 10_000,
        b'"""' * 6_000,
        b"'" * 20_000,
        b"a." * 10_000,
        b"[a]\n" * 5_000,
        b"[[a]]\n" * 3_000,
        b"a = [\n" * 3_000,
        b"# " + b"[" * 20_000 + b"\nx = 1",
    ],
    ids=lambda data: repr(data[:12]),
)
def test_finding_lines_takes_no_longer_than_reading(data):
    """An earlier place finder took a time that grew with the cube of a line's blanks."""
    empty = Catalog((), CatalogSource.STATED)
    began = time.monotonic()
    with pytest.raises(InputError):
        overlay.apply(data, "overlay.toml", empty)
    assert time.monotonic() - began < 2.0


LISTINGS = [
    b'{"a": "\\ud800", "b": 1}',
    b"[" * 100_000,
    b'{"a":' * 3_000 + b"1" + b"}" * 3_000,
    b'{"a": ' + b"9" * 10_000 + b', "b": 1e999999999, "c": 0}',
    b"a = " + b"9" * 10_000 + b"\nb = 1\n[c]\nd = 2\n",
    b"[s]\n" + b"a." * 5_000 + b"a = 1\nb = 2\n",
    b"type  " + b"f" * 10_000 + b"\ngain  4\nlimit  5\n",
    b"name = " + b'"' * 10_000 + b"\ngain = 4\n",
    b"\xff\xfe" + "put gain = 4\nput limit = ".encode("utf-16-le") + b"\x00\xd8",
    b"put gain = 4\nput limit = \xed\xa0\x80\n",
    b"put gain = 4\x00\nput limit = 5\n",
]


@pytest.mark.parametrize("data", LISTINGS, ids=lambda data: repr(data[:16]))
def test_a_listing_is_read_whole_or_refused(data):
    began = time.monotonic()

    def kept():
        shown = listing.read(data)
        assert b"".join(data[piece.start : piece.end] for piece in shown.pieces) == data
        for setting in shown.settings:
            documents.dump(setting)

    refusal(kept).encode("utf-8")
    assert time.monotonic() - began < PATIENCE


def test_a_json_listing_with_half_a_character_names_its_line():
    with pytest.raises(InputError, match="half a character") as caught:
        listing.read(b'{\n "gain": 4,\n "pilot": "\\udcff"\n}\n')
    assert caught.value.where == "line 3"


def test_text_a_terminal_passed_on_undecoded_is_not_written():
    """Python keeps bytes of a command line that are no UTF-8 as lone surrogates (PEP 383)."""
    with pytest.raises(InputError, match="no UTF-8"):
        aircraft_toml.write(Aircraft("plover", "caf\udce9"))
    with pytest.raises(InputError, match="no UTF-8"):
        documents.dump(Aircraft("plover", "caf\udce9"))
