"""Calibrations that are kept: as found beside as left, and in the logbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from asflown.app import kept
from asflown.app.calibrate.live import Recorded
from asflown.app.needs import Store
from asflown.app.workplace import Workplace
from asflown.core.calibrate.kept import Calibration, When
from asflown.core.measured import Measured
from asflown.errors import UsageError
from asflown.formats import documents

KIND, SAMPLES = "calibration", "samples"
#: Bytes of a recording that are kept with a calibration at most; what is more is kept by --save alone.
MOST = 16 * 2**20


def new_id(store: Store, aircraft: str) -> str:
    """The id the next calibration of an aircraft is kept under."""
    return f"{aircraft}-cal{len(calibrations(store, aircraft)) + 1}"


def placed(
    work: Workplace, made: Calibration, aircraft: str, when: When | None, recorded: Sequence[Recorded] = ()
) -> Calibration:
    """A calibration that was computed, set down for an aircraft; kept where ``when`` is said.

    Parameters
    ----------
    recorded
        What was recorded for it: kept with it, where it is not too much.

    Raises
    ------
    UsageError
        For an aircraft that is not described.
    """
    meant = kept.aircraft(work.store, aircraft).id
    set_down = replace(
        made,
        id=new_id(work.store, meant),
        aircraft=meant,
        when=when or When.AS_FOUND,
        at=work.clock.now(),
    )
    return set_down if when is None else keep(work, set_down, recorded)


def keep(work: Workplace, made: Calibration, recorded: Sequence[Recorded] = ()) -> Calibration:
    """Keep a calibration with the samples that were recorded for it, and enter it in the logbook."""
    with work.store.transaction() as tx:
        originals = tuple(
            tx.keep(one.data, name=one.name, kind=SAMPLES) for one in recorded if len(one.data) <= MOST
        )
        made = replace(made, originals=originals)
        document = tx.put(KIND, made.id, documents.dump(made), expect=0)
        body = {
            "id": made.id,
            "what": made.what,
            "when": made.when.value,
            "is_fit": made.is_fit,
            "why": made.why,
            "results": {name: _numbers(one) for name, one in made.results.items()},
            "unit": made.unit,
            "sha256": document.sha256,
        }
        tx.log(made.aircraft, "calibration", body)
    return made


def _numbers(one: Measured) -> list[float | None]:
    return [one.value, one.low, one.high]


def calibrations(store: Store, aircraft: str) -> tuple[Calibration, ...]:
    """Every calibration of an aircraft, oldest first."""
    made: list[Calibration] = []
    while (document := store.document(KIND, f"{aircraft}-cal{len(made) + 1}")) is not None:
        made.append(documents.load(document.body, Calibration))
    return tuple(made)


def calibration_meant(store: Store, id: str) -> Calibration:
    """The calibration of an id.

    Raises
    ------
    UsageError
        When none is kept under it.
    """
    document = store.document(KIND, id)
    if document is None:
        raise UsageError(
            f"no calibration {id!r} is kept", next_step="see which there are: asflown calibrate list"
        )
    return documents.load(document.body, Calibration)


def pair_of(store: Store, made: Calibration) -> Calibration | None:
    """The newest other calibration of the same thing at the other moment: as found beside as left."""
    others = [
        one
        for one in calibrations(store, made.aircraft)
        if one.what == made.what and one.when is not made.when and one.id != made.id
    ]
    return others[-1] if others else None
