"""A release of which nothing at all is known gives no plan, not even a provisional one."""

from __future__ import annotations

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.carry.carry import Question
from asflown.core.refit import Refit
from asflown.errors import NeedsPerson


def refuse_unknown(store: Store, question: Question, refit: Refit) -> None:
    """Refuse a plan to a release that no catalog, no note and no board's factory listing tells about.

    The release the record was read under is known by the record itself: the same release on another board.

    Raises
    ------
    NeedsPerson
        With the releases that are spelt nearly so, and the ways to make it known.
    """
    to = refit.to_release
    if question.new.catalog is not None or question.factory is not None or question.notes:
        return
    if question.record.release == to:
        return
    near = _near(to, releases_heard_of(store))
    guess = f"; spelt nearly so: {', '.join(near)}" if near else ""
    device = "" if refit.device == "board" else f" --device {refit.device}"
    raise NeedsPerson(
        f"nothing is known of release {to}: no catalog, no change notes that lead to it from"
        f" {question.record.release or 'the old release'}, no factory listing of any board{guess}",
        next_step=(
            "bring it in: asflown release add FOLDER; or give its change notes: asflown plan"
            f" {refit.aircraft} --to {to}{device} --notes FILE; or save the factory listing of any board that"
            f" runs it: asflown found LISTING --aircraft NAME{device} --factory --release {to}"
        ),
    )


def releases_heard_of(store: Store) -> tuple[str, ...]:
    """Every release brought in, named in a change note, or shown by a board; by name."""
    names = set()
    for release, _ in kept.notes_of_releases(store):
        names.add(release.id)
        names.update(notes.to_release for notes in release.notes or ())
    for book in store.books():
        names.update(entry.body["release"] for entry in kept.record_entries(store, book))
    return tuple(sorted(name for name in names if name))


def _near(said: str, known: tuple[str, ...]) -> list[str]:
    """The known names spelt nearly as said, the nearest first."""
    from difflib import get_close_matches

    plain = {name.casefold(): name for name in known}
    return [plain[name] for name in get_close_matches(said.casefold(), plain, n=3, cutoff=0.7)]
