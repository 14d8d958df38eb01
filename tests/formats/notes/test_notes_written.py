"""Change notes: every kind, every fault with its line, and written back the same."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asflown.core.catalog import ChangeNote, ChangeNotes, Consequence, ConversionSpec, NoteKind
from asflown.errors import InputError
from asflown.formats import notes

HEAD = b'from = "reed-3.1"\nto = "reed-3.2"\n'


def one(body):
    return notes.read(HEAD + b"[[change]]\n" + body.encode(), "notes.toml").changes[0]


def refused(body):
    with pytest.raises(InputError) as caught:
        one(body)
    return str(caught.value)


def test_the_head():
    made = notes.read(HEAD + b"complete = true\n", "notes.toml")
    assert (made.from_release, made.to_release, made.complete, made.changes) == (
        "reed-3.1",
        "reed-3.2",
        True,
        (),
    )
    assert not notes.read(HEAD, "n").complete


def test_a_rename_and_its_words():
    made = one('kind = "rename"\nold = "a"\nnew = "b"\nwhy = "clearer"\nconsequence = "safety"\n')
    assert (made.kind, made.old, made.new) == (NoteKind.RENAME, ("a",), ("b",))
    assert (made.why, made.consequence, made.line, made.conversion.is_copy) == (
        "clearer",
        Consequence.SAFETY,
        3,
        True,
    )


@pytest.mark.parametrize(
    ("how", "spec"),
    [
        ('factor = "0.001"', ConversionSpec(factor=D("0.001"))),
        ("factor = 0.001\noffset = -5", ConversionSpec(factor=D("0.001"), offset=D(-5))),
        ('unit = { from = "s", to = "ms" }', ConversionSpec(unit_from="s", unit_to="ms")),
        ('choices = { "0" = "2", 1 = 0 }', ConversionSpec(choices={"0": "2", "1": "0"})),
        ('expression = "old * 10"', ConversionSpec(expressions={"a": "old * 10"})),
    ],
)
def test_ways_to_convert(how, spec):
    made = one(f'kind = "convert"\nold = "a"\n{how}\n')
    assert (made.new, made.conversion) == (("a",), spec)


def test_split_merge_retire_default_and_meaning():
    made = one('kind = "split"\nold = "a"\nnew = ["b", "c"]\nexpression = { b = "old", c = "a / 2" }\n')
    assert made.conversion.expressions == {"b": "old", "c": "a / 2"}
    made = one('kind = "merge"\nold = ["a", "b"]\nnew = "c"\nexpression = "a + b"\n')
    assert (made.old, made.conversion.expressions) == (("a", "b"), {"c": "a + b"})
    assert one('kind = "retire"\nold = ["a", "b"]\n').old == ("a", "b")
    assert one('kind = "default"\nold = "a"\n').kind is NoteKind.DEFAULT
    assert one('kind = "meaning"\nold = "a"\n').kind is NoteKind.MEANING


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (
            'kind = "rename"\nold = "a"\n',
            "a rename has one old and one new name; this one has 1 old and 0 new",
        ),
        ('kind = "split"\nold = "a"\nnew = "b"\n', "at least two new names"),
        ('kind = "merge"\nold = "a"\nnew = "b"\n', "at least two old names"),
        ('kind = "retire"\nold = "a"\nnew = "b"\n', "a retire has no new name"),
        ('kind = "convert"\nold = "a"\n', "a convert says how"),
        (
            'kind = "convert"\nold = "a"\nfactor = 2\nexpression = "old"\n',
            "more than one of factor, unit, choices",
        ),
        ('kind = "retire"\nold = ["a", "a"]\n', "a name stands twice"),
        ('kind = "retire"\nold = []\n', "notes.toml:5 change[1].old"),
        ('kind = "lost"\nold = "a"\n', "notes.toml:4 change[1].kind"),
        ('kind = "retire"\nold = "a"\nwhom = "b"\n', "notes.toml:6 change[1].whom: is no key of this file"),
        ('kind = "retire"\n', "change[1].old: is missing"),
        (
            'kind = "convert"\nold = "a"\nfactor = nan\n',
            "is no number that can be stored",
        ),
        ('kind = "convert"\nold = "a"\nfactor = "1e40"\n', "between 1e-30 and 1e30"),
        ('kind = "convert"\nold = "a"\nold = "b"\nfactor = 1\n', "notes.toml:6"),
        ('kind = "convert"\nold = "a"\nexpression = "old ** 2"\n', "'*' at position 6"),
        ('kind = "convert"\nold = "a"\nexpression = "b * 2"\n', "'b' is none of the old names a"),
        (
            'kind = "split"\nold = "a"\nnew = ["b", "c"]\nexpression = { d = "old" }\n',
            "'d' is none of the new names b, c",
        ),
    ],
)
def test_what_is_refused_says_where(body, says):
    assert says in refused(body)


def test_every_fault_at_once():
    data = (
        HEAD
        + b'[[change]]\nkind = "lost"\nold = "a"\n[[change]]\nkind = "rename"\nold = "a"\n[[change]]\nold = 5\n'
    )
    with pytest.raises(InputError) as caught:
        notes.read(data, "n.toml")
    assert {fault.where.split()[1].split(".")[0] for fault in caught.value.faults} == {
        "change[1]",
        "change[2]",
        "change[3]",
    }


NAMES = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20)
TEXTS = st.none() | st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
NUMBERS = st.decimals(-1000, 1000, allow_nan=False, places=6)
WAYS = st.one_of(
    st.builds(ConversionSpec, factor=NUMBERS, offset=NUMBERS),
    st.builds(ConversionSpec, unit_from=NAMES, unit_to=NAMES),
    st.builds(ConversionSpec, choices=st.dictionaries(NAMES, NAMES, min_size=1)),
)


@st.composite
def changes(draw):
    old, new, other = draw(st.lists(NAMES, min_size=3, max_size=3, unique=True))
    common = {"why": draw(TEXTS), "consequence": draw(st.none() | st.sampled_from(Consequence))}
    return draw(
        st.one_of(
            st.builds(
                ChangeNote, st.just(NoteKind.RENAME), st.just((old,)), st.just((new,)), **_just(common)
            ),
            st.builds(
                ChangeNote, st.just(NoteKind.CONVERT), st.just((old,)), st.just((new,)), WAYS, **_just(common)
            ),
            st.builds(
                ChangeNote, st.just(NoteKind.MERGE), st.just((old, other)), st.just((new,)), **_just(common)
            ),
            st.builds(ChangeNote, st.just(NoteKind.RETIRE), st.just((old, new)), **_just(common)),
        )
    )


def _just(values):
    return {key: st.just(value) for key, value in values.items()}


@given(st.builds(ChangeNotes, NAMES, NAMES, st.lists(changes(), max_size=4).map(tuple), st.booleans()))
def test_what_is_written_reads_back_equal(made):
    back = notes.read(notes.write(made), "n")
    lineless = tuple(
        ChangeNote(c.kind, c.old, c.new, c.conversion, c.why, c.consequence) for c in back.changes
    )
    assert ChangeNotes(back.from_release, back.to_release, lineless, back.complete) == made
