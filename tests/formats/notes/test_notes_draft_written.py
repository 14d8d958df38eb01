"""A draft is always notes that read, whatever stands in the names and texts."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from asflown.core.catalog import ChangeNote, NoteKind
from asflown.formats import notes
from asflown.formats.notes_draft import Entry, Part, comment, fits, write

TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)
NAMES = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=30)
ODD = st.sampled_from(
    ("a\nb = 1", '"]\n[[change]]', "tab\there", "\x00\x1b[2J", "é\u2028ü", "'''", "# no", "\r")
)


@st.composite
def entries(draw):
    old, new = draw(st.lists(NAMES | ODD, min_size=2, max_size=2, unique=True))
    change = ChangeNote(NoteKind.RENAME, (old,), (new,), why=draw(st.none() | TEXTS | ODD))
    words = st.lists(TEXTS | ODD, max_size=3).map(tuple)
    return Entry(change, draw(words), draw(words), draw(st.booleans()))


@given(NAMES | ODD, NAMES | ODD, st.lists(TEXTS | ODD, max_size=3), st.lists(entries(), max_size=5))
def test_law_a_draft_reads_as_its_entries_that_are_no_comments(first, then, head, made):
    data = write(first, then, head, [Part(head[0] if head else "part", tuple(made))])
    read = notes.read(data, "draft.toml")
    assert (read.from_release, read.to_release, read.complete) == (first, then, False)
    kept = [entry.change for entry in made if not entry.is_out]
    assert [(c.kind, c.old, c.new, c.why) for c in read.changes] == [
        (c.kind, c.old, c.new, c.why) for c in kept
    ]


@given(TEXTS | ODD)
def test_law_a_comment_stays_one(text):
    lines = list(comment(text))
    assert lines
    assert all(line.startswith("#") and all(c.isprintable() for c in line) for line in lines)


def test_names_that_no_note_can_have():
    assert fits(ChangeNote(NoteKind.RENAME, ("a",), ("b" * 200,)))
    assert not fits(ChangeNote(NoteKind.RENAME, ("a",), ("b" * 201,)))
