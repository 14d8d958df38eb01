"""Lines of TOML keys: every path the parser finds has the line it stands on, whatever else is in the file."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.formats.notes import toml_text
from asflown.formats.toml_places import DEEPEST, line_of, places, too_deep

TEXT = '''\
title = "a" # [no.header]
lines = """
[not.a.header]
key = 1
""" # end
literal = \'\'\'
[[neither]]\'\'\'
list = [
  "x = 1",
  [1],
  { inner = 2 },
]
"quoted.name" = 1
a.b . c = 2

[motors] # the motors
count = 4
[[device]]
name = "escs"
[[device]]
name = "vtx"
port.of.it = 'x'
[device.more]
"a\\u0062" = 1
'''


def test_places_of_keys_and_headers():
    assert dict(places(TEXT)) == {
        ("title",): 1,
        ("lines",): 2,
        ("literal",): 6,
        ("list",): 8,
        ("quoted.name",): 13,
        ("a", "b", "c"): 14,
        ("motors",): 16,
        ("motors", "count"): 17,
        ("device", 0): 18,
        ("device", 0, "name"): 19,
        ("device", 1): 20,
        ("device", 1, "name"): 21,
        ("device", 1, "port", "of", "it"): 22,
        ("device", 1, "more"): 23,
        ("device", 1, "more", "ab"): 24,
    }


ANY = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)


@st.composite
def written(draw):
    """A TOML text of random names and texts, and the line each key was written on."""
    lines: list[str] = []
    where: dict[tuple[str, ...], int] = {}
    for table in draw(st.lists(ANY, unique=True, max_size=4)):
        lines += draw(st.lists(st.sampled_from(["", "# [a]", "  # b = 1"]), max_size=2))
        lines.append(f"[{toml_text(table)}] # c = 1")
        where[table,] = len(lines)
        for key in draw(st.lists(ANY, unique=True, max_size=4)):
            value = draw(ANY)
            plain = toml_text(value)
            where[table, key] = len(lines) + 1
            lines += (f'{toml_text(key)} = ["""\n[{key[:0]}x]\n""", {plain},\n{plain}]').split("\n")
    return "\n".join(lines), where


@given(written())
def test_places_of_whatever_is_written(made):
    text, where = made
    assert dict(places(text)) == where
    parsed = tomllib.loads(text)
    assert {(table, key) for table, keys in parsed.items() for key in keys} == {
        p for p in where if len(p) == 2
    }


@given(st.text("[]{}=.\"'#\\ab \n\r\t", max_size=200))
def test_any_text_has_places_or_none(text):
    lines = text.count("\n") + 1
    assert all(1 <= line <= lines for _, line in places(text))
    too_deep(text)
    line_of(text, "a")


def test_dotted_keys_are_counted_outside_of_texts():
    most = ".".join("a" * DEEPEST)
    assert too_deep(f"{most} = 1") is None
    assert too_deep(f"x = 1\n{most}.a = 1") == 2
    assert too_deep(f"x = 1\n[{most} . 'a']") == 2
    assert too_deep(f"x = {{ {most}.a = 1 }}") == 1
    assert too_deep(f"x = '{most}.a.a' # {most}.a.a") is None
    assert too_deep("x = [" + ", ".join(["1.5"] * 100) + "]") is None


@pytest.mark.parametrize(
    "text, line",
    [
        ("a = 'nan'\nb = nan", 2),
        ("# nan\na = 1.nan\nb = [\n nan]", 4),
        ('{"nan": "nan",\n "b": nan}', 2),
        ("a = 1", None),
    ],
)
def test_the_line_of_a_word_outside_of_texts(text, line):
    assert line_of(text, "nan") == line
