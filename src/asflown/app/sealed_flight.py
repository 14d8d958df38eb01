"""The baseline flight that a plan is sealed to: what is predicted rests on it."""

from __future__ import annotations

from asflown.app.needs import Store
from asflown.core.plan import Sealed
from asflown.core.refit import Refit
from asflown.errors import UsageError

#: How the baseline flight is named among a plan's inputs.
FLIGHT = "flight "


def sealed_flight(store: Store, refit: Refit) -> tuple[Sealed, ...]:
    """The baseline flight as an input of a plan; nothing where there is none."""
    from asflown.app.flights.keep import KIND
    from asflown.app.predict import baseline_of

    try:
        flight = baseline_of(store, refit)
    except UsageError:
        return ()
    document = store.document(KIND, flight.id)
    assert document is not None
    return (Sealed(f"{FLIGHT}{flight.id}", document.sha256),)
