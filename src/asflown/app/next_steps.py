"""What an aircraft waits for, from what is kept of it."""

from __future__ import annotations

from asflown.app import gates, kept
from asflown.app.needs import Store


def next_steps(store: Store, aircraft: str) -> tuple[str, ...]:
    """What a person does next with an aircraft, as commands, best first."""
    found = kept.open_refit(store, aircraft)
    if found is not None:
        return (gates.next_act(found.refit), f"look at the plan: asflown plan {aircraft}")
    if kept.latest_record(store, aircraft) is None:
        return (f"take its first record: asflown found LISTING --aircraft {aircraft}",)
    return (
        f"plan a refit: asflown plan {aircraft} --to RELEASE",
        f"take a record: asflown found LISTING --aircraft {aircraft}",
    )
