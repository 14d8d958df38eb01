"""Layouts that were confirmed, kept by the fingerprint of the header they belong to."""

from __future__ import annotations

from dataclasses import replace

from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core.layout import Layout
from asflown.errors import UsageError
from asflown.formats import documents

#: Kind of the documents.
KIND = "layout"


def remembered(store: Store | None, fingerprint: str) -> Layout | None:
    """The layout a person confirmed for a header, ``None`` where there is none or it was forgotten."""
    document = None if store is None else store.document(KIND, fingerprint)
    if document is None:
        return None
    layout = documents.load(document.body, Layout)
    return layout if layout.assignments else None


def all_remembered(store: Store) -> tuple[Layout, ...]:
    """Every layout that was confirmed and not forgotten, by fingerprint."""
    made = (documents.load(document.body, Layout) for document in store.documents(KIND))
    return tuple(layout for layout in made if layout.assignments)


def meant(store: Store, said: str) -> Layout:
    """The remembered layout whose fingerprint begins as said.

    Raises
    ------
    UsageError
        When none does, or several do.
    """
    every = all_remembered(store)
    found = [layout for layout in every if layout.fingerprint.startswith(said.lower())]
    if len(found) == 1:
        return found[0]
    known = ", ".join(layout.fingerprint for layout in every) or "none is remembered yet"
    what = f"several layouts begin with {said!r}" if found else f"no layout {said!r} is remembered"
    raise UsageError(f"{what} (known: {known})", next_step="list them: asflown flight layout show")


def remember(work: Workplace, layout: Layout) -> Layout:
    """Keep a layout as confirmed; what was kept for that header before stays as an earlier revision."""
    confirmed = replace(layout, is_confirmed=True, doubts=())
    body = documents.dump(confirmed)
    before = work.store.document(KIND, layout.fingerprint)
    if before is None or before.body != body:
        with work.store.transaction() as tx:
            tx.put(KIND, layout.fingerprint, body)
    return confirmed


def forget(work: Workplace, layout: Layout) -> None:
    """Forget a layout: its header is asked about again. The revisions kept before stay."""
    emptied = replace(layout, assignments=(), unused=(), doubts=(), is_confirmed=False)
    with work.store.transaction() as tx:
        tx.put(KIND, layout.fingerprint, documents.dump(emptied))


def file_of(layout: Layout) -> bytes:
    """A layout as the file ``--layout`` takes."""
    from asflown.formats.layout_toml import write_layout

    return write_layout(layout).encode()
