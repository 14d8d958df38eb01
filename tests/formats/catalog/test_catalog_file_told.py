"""A catalog alone in a file: its kind is told by what is in it, and nothing but words comes out of a broken one."""

from __future__ import annotations

import lzma
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.catalog import CatalogSource
from asflown.errors import InputError
from asflown.formats import catalog_file

MAVLINK = b'{"version": 1, "parameters": [{"name": "A_B", "type": "Float", "default": 1.5, "units": "deg"}]}'
TABLE = b"name,type,units\ngain,float,deg\n"
LIST = b'[{"name": "gain", "type": "float", "units": "deg"}]'
LISTING = b"gain = 0.5\nlimit = 45 deg\n"
NAMED = b"name,value\ngain,0.5\nlimit,45\n"


@pytest.mark.parametrize("name", ["x", "x.json", "x.csv", "x.txt", "standard input"])
@pytest.mark.parametrize(
    ("data", "names", "source"),
    [
        (MAVLINK, ["A_B"], CatalogSource.STATED),
        (lzma.compress(MAVLINK), ["A_B"], CatalogSource.STATED),
        (TABLE, ["gain"], CatalogSource.STATED),
        (b"\xef\xbb\xbf" + TABLE.replace(b",", b";"), ["gain"], CatalogSource.STATED),
        (LIST, ["gain"], CatalogSource.STATED),
        (b'{"parameters": [{"name": "gain"}]}', ["gain"], CatalogSource.STATED),
        (LISTING, ["gain", "limit"], CatalogSource.FACTORY_LISTING),
        (NAMED, ["gain", "limit"], CatalogSource.FACTORY_LISTING),
        (b'{"gain": 0.5, "limit": 45}', ["gain", "limit"], CatalogSource.FACTORY_LISTING),
        (
            b'[{"name": "gain", "value": "1"}, {"name": "limit", "value": "2"}]',
            ["gain", "limit"],
            CatalogSource.FACTORY_LISTING,
        ),
    ],
)
def test_what_is_in_it_decides(name, data, names, source):
    read = catalog_file.read(data, name)
    assert ([item.name for item in read.parameters], read.source) == (names, source)


def test_a_faulty_table_is_told_as_a_table():
    with pytest.raises(InputError, match="1 thing to correct") as refused:
        catalog_file.read(b"name,max\na,NaN\n", "x.txt")
    assert refused.value.faults[0].where == "x.txt:2"


def test_a_faulty_list_is_told_as_a_list():
    with pytest.raises(InputError) as refused:
        catalog_file.read(b'[{"name": "a", "colour": "grey"}]', "x")
    assert "'colour' is none of the columns" in refused.value.faults[0].what


def test_lines_not_understood_are_a_remark():
    read = catalog_file.read(b"set gain = 1\nset limit = 2\nset span = 3\nset broken\n", "x")
    assert len(read.parameters) == 3
    assert read.remarks == ("x: 1 line not understood (line 4)",)


@pytest.mark.parametrize("data", [b'{"version": 1, "parameters": []}', b"[]", b"name,type\n", b"{}"])
def test_one_that_names_nothing_is_refused(data):
    with pytest.raises(InputError, match=r"no parameter|no setting"):
        catalog_file.read(data, "x.json")


@given(
    st.binary(max_size=80)
    | st.builds(
        lambda data, at, more: data[: at % len(data)] + more + data[at % len(data) :],
        st.sampled_from((MAVLINK, TABLE, LIST, LISTING, NAMED, lzma.compress(MAVLINK))),
        st.integers(0, 200),
        st.binary(max_size=6) | st.sampled_from((b"[", b"}", b'"', b"\n", b",", b"=", b"\\u", b"1e999")),
    ),
    st.sampled_from(("x", "x.json", "x.csv")),
)
def test_law_any_bytes_give_a_catalog_or_words(data, name):
    with suppress(InputError):
        assert catalog_file.read(data, name).parameters
