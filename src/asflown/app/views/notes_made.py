"""Change notes made of decisions, as a sheet and as JSON."""

from __future__ import annotations

from typing import Any

from asflown.app.notes_from_decisions import NotesMade
from asflown.app.views.sheet import Sheet, Table, counted


def made_sheet(made: NotesMade, place: str) -> Sheet:
    """What was written and what was left out."""
    rows = tuple(
        (note.kind.value, ", ".join(note.old), ", ".join(note.new) or "–") for note in made.notes.changes
    )
    left = tuple((one.setting, one.why) for one in made.left_out)
    says = f"{counted(len(rows), 'change note')} written to {place}"
    says += f"; {counted(len(left), 'decision')} left out." if left else "."
    return Sheet(
        title="Change notes from decisions",
        head=(
            ("aircraft", made.aircraft),
            ("refit", made.refit),
            ("release", f"{made.notes.from_release} → {made.notes.to_release}"),
        ),
        sentence=says,
        tables=(
            Table(("kind", "before", "now"), rows),
            *((Table(("left out", "why"), left),) if left else ()),
        ),
        next_act=(
            f"read it, then give it: asflown plan AIRCRAFT --to {made.notes.to_release} --notes {place}",
        ),
        foot=(),
    )


def made_json(made: NotesMade, place: str | None) -> dict[str, Any]:
    """The notes as JSON (described in docs/reference/json.md)."""
    return {
        "aircraft": made.aircraft,
        "refit": made.refit,
        "from": made.notes.from_release,
        "to": made.notes.to_release,
        "file": place,
        "changes": [
            {
                "kind": note.kind.value,
                "old": list(note.old),
                "new": list(note.new),
                "why": note.why,
                "consequence": note.consequence.value if note.consequence else None,
            }
            for note in made.notes.changes
        ],
        "left_out": [{"setting": one.setting, "why": one.why} for one in made.left_out],
        "text": made.data.decode(),
    }
