"""Marks and words that every carry-over view uses."""

from __future__ import annotations

from asflown.core.carry.dispositions import Cause, Disposition, Line
from asflown.core.carry.options import describe
from asflown.core.catalog import Catalog, ParameterDef
from asflown.core.record import Key

#: The mark of each disposition; its word always stands beside it.
MARKS = {
    Disposition.KEEP: "=",
    Disposition.RENAME: "→",
    Disposition.CONVERT: "→",
    Disposition.SPLIT: "→",
    Disposition.MERGE: "→",
    Disposition.RETIRE: "×",
    Disposition.ADOPT: "+",
    Disposition.REDO: "!",
    Disposition.DECIDE: "?",
}

#: What is asked in a group of lines with one cause.
QUESTIONS = {
    Cause.MEANING_NOTE: "the notes say the meaning changed; what should it be now?",
    Cause.NEW_UNIT: "unit, type or range changed, and no note says how values convert; convert, or what?",
    Cause.RENUMBERED: "the choices have other numbers now; which one is meant?",
    Cause.NOTE_DISAGREES: "the note says one thing and the catalog another; which holds?",
    Cause.CONVERSION: "the value does not convert as it stands; what should it be now?",
    Cause.OUT_OF_RANGE: "the value is outside the new range; the nearest allowed, or another?",
    Cause.SUCCESSOR: "no note says what became of it; is the likeliest name its successor?",
    Cause.VANISHED: "gone without a note, though someone had set it; can it be left behind?",
    Cause.VANISHED_UNTOUCHED: "gone without a note, never changed by anyone; can it be left behind?",
    Cause.MOVED_FACTORY: "never changed by anyone, and the factory value moved; the old or the new?",
    Cause.UNSTATED: "the name is the same, but nobody states that it means the same; keep the number?",
    Cause.NO_PLACE: "its bank or index is not in the new release; what becomes of it?",
    Cause.NEW: "new in this release, with a consequence; the factory value, or another?",
    Cause.WIRING: "it belongs to the wiring, and the board is another; what is it there?",
    Cause.PREDICTED: "as planned it would fly badly; take the retuned value, or the planned one?",
    Cause.OWNER_UNKNOWN: "nobody states whether it belongs to this individual; copy it?",
}


def marked(disposition: Disposition) -> str:
    """Mark and word, e.g. ``→ convert``."""
    return f"{MARKS[disposition]} {disposition}"


def name_of(line: Line) -> str:
    """What a line is called: its old names, and the new ones where they differ."""
    old = " + ".join(str(item.key) for item in line.old)
    new = " + ".join(str(item.key) for item in line.new)
    if not old or not new or old == new:
        return old or new or line.id
    return f"{old} → {new}"


def found_of(line: Line, catalog: Catalog | None) -> str:
    """The values found, with unit and choice text; implied ones say so."""
    texts = (
        valued(item.key, item.value, catalog) + (" (factory, implied)" if item.implied else "")
        for item in line.old
    )
    return " + ".join(texts) or "–"


def left_of(line: Line, catalog: Catalog | None) -> str:
    """The values to be left, with unit and choice text."""
    if line.is_open:
        return "to decide"
    if not line.new:
        return "made on the aircraft" if line.disposition is Disposition.REDO else "–"
    texts = (
        "made on the aircraft" if item.value is None else valued(item.key, item.value, catalog)
        for item in line.new
    )
    return " + ".join(texts)


def valued(key: Key, value: str, catalog: Catalog | None) -> str:
    """A value with its unit and what it means, where the catalog states that."""
    definition = catalog.by_name.get(key.name) if catalog else None
    return describe(value, definition or ParameterDef(key.name))


#: Causes of which the line itself says what differs.
SAID_BY_LINE = frozenset(
    {
        Cause.NEW_UNIT,
        Cause.NOTE_DISAGREES,
        Cause.CONVERSION,
        Cause.OUT_OF_RANGE,
        Cause.NO_PLACE,
        Cause.MEANING_NOTE,
        Cause.PREDICTED,
    }
)


def question_of(line: Line) -> str:
    """What is asked about a line: what differs, where the cause itself does not say it, then the question."""
    if line.cause is None:
        return line.why
    if line.before is not None and line.before.together:
        return f"decided before for {', '.join(line.before.aircraft)}; the same here?"
    question = QUESTIONS[line.cause]
    if line.cause not in SAID_BY_LINE:
        return question
    asked = question.rpartition("; ")[2]
    return f"{line.why.partition('; ')[0]}; {asked}"
