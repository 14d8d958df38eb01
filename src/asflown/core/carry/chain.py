"""Change notes followed across every release between, each step kept visible."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from asflown.core.catalog import ChangeNote, ChangeNotes, NoteKind

#: Note kinds that comment on a parameter without moving it.
_COMMENTS = frozenset({NoteKind.DEFAULT, NoteKind.MEANING})


@dataclass(frozen=True, slots=True)
class Step:
    """What one release did to the names of a route."""

    from_release: str
    to_release: str
    note: ChangeNote

    def __str__(self) -> str:
        old, new = " + ".join(self.note.old), " + ".join(self.note.new)
        what = f"{self.note.kind} {old}" + (f" -> {new}" if new and new != old else "")
        return f"{self.from_release} -> {self.to_release}: {what}"


@dataclass(frozen=True)
class Route:
    """Where old names end up.

    Attributes
    ----------
    old
        Names in the old release; several where a merge joined them.
    new
        Names in the new release; empty when retired.
    steps
        The notes that touched them, oldest first.
    conflict
        Why the notes cannot be followed, in words; ``None`` when they can.
    """

    old: tuple[str, ...]
    new: tuple[str, ...]
    steps: tuple[Step, ...]
    conflict: str | None = None

    @property
    def is_retired(self) -> bool:
        """Whether a note took the names out of the firmware."""
        return not self.new and self.conflict is None

    @property
    def has_meaning_note(self) -> bool:
        """Whether a note says that the meaning changed, without saying how values convert."""
        return any(step.note.kind is NoteKind.MEANING and step.note.conversion.is_copy for step in self.steps)

    @property
    def is_comment_only(self) -> bool:
        """Whether the notes only comment (default, meaning) and move nothing."""
        return all(step.note.kind in _COMMENTS for step in self.steps)


def find_path(
    notes: Iterable[ChangeNotes], from_release: str, to_release: str
) -> tuple[ChangeNotes, ...] | None:
    """The shortest chain of change notes from one release to another.

    Returns
    -------
    tuple of ChangeNotes or None
        Oldest first; empty for the same release; ``None`` when no chain exists. Several files about
        one pair of releases are taken together, in the order given.
    """
    edges: dict[str, dict[str, list[ChangeNotes]]] = {}
    for item in notes:
        edges.setdefault(item.from_release, {}).setdefault(item.to_release, []).append(item)
    came: dict[str, tuple[str, list[ChangeNotes]] | None] = {from_release: None}
    queue = deque([from_release])
    while queue and to_release not in came:
        here = queue.popleft()
        for there, files in edges.get(here, {}).items():
            if there not in came:
                came[there] = (here, files)
                queue.append(there)
    if to_release not in came:
        return None
    path: list[ChangeNotes] = []
    at = to_release
    while (link := came[at]) is not None:
        at, files = link
        path.append(_joined(files))
    return tuple(reversed(path))


def _joined(files: list[ChangeNotes]) -> ChangeNotes:
    if len(files) == 1:
        return files[0]
    changes = tuple(change for item in files for change in item.changes)
    return ChangeNotes(
        files[0].from_release, files[0].to_release, changes, any(item.complete for item in files)
    )


@dataclass
class _Trail:
    """A route while it is being followed."""

    old: list[str]
    now: list[str]
    steps: list[Step] = field(default_factory=list)
    conflict: str | None = None


def trace(path: Sequence[ChangeNotes], names: Iterable[str]) -> tuple[Route, ...]:
    """Follow old names through a chain of change notes.

    Parameters
    ----------
    path
        Change notes, oldest first. Within one release all notes speak of the names before it,
        so that two parameters may swap their names.
    names
        Names in the old release.

    Returns
    -------
    tuple of Route
        One for each group of names that a note touches; names no note touches have none.
    """
    holder: dict[str, _Trail] = {name: _Trail([name], [name]) for name in names}
    trails = list(holder.values())
    for notes in path:
        holder = _follow(notes, holder)
        trails = _distinct([*holder.values(), *trails])
    return tuple(
        Route(tuple(trail.old), tuple(trail.now), tuple(trail.steps), trail.conflict)
        for trail in trails
        if trail.steps or trail.conflict
    )


def _distinct(trails: Iterable[_Trail]) -> list[_Trail]:
    """Each trail once; trails that were merged into another have no old names left."""
    seen: dict[int, _Trail] = {}
    for trail in trails:
        if trail.old:
            seen.setdefault(id(trail), trail)
    return list(seen.values())


def _follow(notes: ChangeNotes, before: dict[str, _Trail]) -> dict[str, _Trail]:
    """Apply one release's notes to every name at once."""
    moved: dict[str, Step] = {}
    landed: dict[str, list[_Trail]] = {}
    for note in notes.changes:
        present = [name for name in note.old if name in before]
        if not present:
            continue
        step = Step(notes.from_release, notes.to_release, note)
        trail = _united([before[name] for name in present], before)
        trail.steps.append(step)
        if note.kind in _COMMENTS and (not note.new or note.new == note.old):
            continue
        _mark_conflicts(trail, note, present, moved)
        for name in present:
            moved[name] = step
        for name in () if note.kind is NoteKind.RETIRE else note.new:
            landed.setdefault(name, []).append(trail)
    return _after(before, moved, landed)


def _united(parts: list[_Trail], before: dict[str, _Trail]) -> _Trail:
    """One trail of several that a merge joins."""
    first = parts[0]
    for other in parts[1:]:
        if other is first:
            continue
        first.old += other.old
        first.now += other.now
        first.steps += other.steps
        first.conflict = first.conflict or other.conflict
        for name in other.now:
            before[name] = first
        other.old = []
    return first


def _mark_conflicts(trail: _Trail, note: ChangeNote, present: list[str], moved: dict[str, Step]) -> None:
    missing = [name for name in note.old if name not in present]
    if missing:
        trail.conflict = f"the note joins {', '.join(note.old)}, but {', '.join(missing)} was not found"
    for name in present:
        if name in moved:
            trail.conflict = f"two notes move {name}: '{moved[name]}' and '{note.kind} {', '.join(note.old)}'"


def _after(
    before: dict[str, _Trail], moved: dict[str, Step], landed: dict[str, list[_Trail]]
) -> dict[str, _Trail]:
    """Who holds which name after the release."""
    after: dict[str, _Trail] = {}
    for trail in _distinct(before.values()):
        trail.now = [name for name in trail.now if name not in moved]
    for name, trails in landed.items():
        for trail in trails:
            if name not in trail.now:
                trail.now.append(name)
        stays = name in before and name not in moved and before[name] is not trails[0]
        if stays or len(_distinct(trails)) > 1:
            for trail in trails:
                trail.conflict = f"more than one setting would become {name}"
        after[name] = trails[0]
    for name, trail in before.items():
        if name not in moved and name not in after:
            after[name] = trail
    return after
