"""Why an axis differs: the settings that explain it, or that they do not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from asflown.app import kept
from asflown.app.known import catalog_of
from asflown.app.needs import Store
from asflown.app.retune import limits_of, loop_of, stored_text
from asflown.core import roles
from asflown.core.catalog import Catalog
from asflown.core.record import Record
from asflown.core.refit import Refit
from asflown.core.verdict.ahead import WANTED, More, least
from asflown.core.verdict.expected import Expected, explained
from asflown.core.verdict.judge import Judged, Verdict
from asflown.core.verdict.margins import Margin

if TYPE_CHECKING:
    from asflown.app.predict import Predicted
    from asflown.core.control import ControlStructure
    from asflown.core.verdict.culprit import Culprit


@dataclass(frozen=True, slots=True)
class Suspect:
    """One setting of a culprit, as the device stores it.

    Attributes
    ----------
    back
        Value with which the old answer comes back.
    """

    name: str
    now: str
    back: str
    unit: str | None


@dataclass(frozen=True)
class Cause:
    """Why one axis differs.

    Attributes
    ----------
    by_settings
        Whether the settings explain it; ``None`` where nothing says.
    suspects
        Smallest sets of settings that explain it, the best first.
    proof
        Shortest flying, with the first set as proposed, that would show the figure ``proof_by`` as before in
        nine of ten.
    reason
        Why nothing is known of the settings' part.
    """

    axis: str
    by_settings: bool | None
    suspects: tuple[tuple[Suspect, ...], ...] = ()
    proof: More | None = None
    proof_by: str | None = None
    reason: str | None = field(default=None)


def causes_of(
    store: Store,
    verdict: Verdict,
    held: tuple[Expected, ...],
    predicted: Predicted | None,
    refit: Refit,
    margins: tuple[Margin, ...],
) -> tuple[Cause, ...]:
    """What explains each axis that differs.

    Parameters
    ----------
    held
        Measured against predicted.
    refit
        With a record as left.
    """
    axes: dict[str, list[Judged]] = {}
    for one in verdict.different:
        parts = one.quantity.split(".")
        if parts[0] == "axes":
            axes.setdefault(parts[1], []).append(one)
    made = []
    for axis, different in axes.items():
        reason = _not_predicted(axis, predicted)
        says = None if reason else explained(held, axis)
        if predicted is None or reason or says is False:
            made.append(Cause(axis, says, reason=reason))
            continue
        found = _suspects(store, axis, predicted, refit, margins)
        by, proof = _proof(different) if found else (None, None)
        made.append(Cause(axis, says, found, proof, by))
    return tuple(made)


def _not_predicted(axis: str, predicted: Predicted | None) -> str | None:
    if predicted is None:
        return "nothing was predicted: no flight before with a plant, or no declared control structure"
    if axis not in predicted.axes:
        return predicted.reasons.get(axis, "nothing was predicted for this axis")
    return None


def _proof(different: list[Judged]) -> tuple[str | None, More | None]:
    """The differing figure that the least further flying shows as before, were it so."""
    ways = []
    for one in different:
        more = None if one.ahead is None else least(replace(one.ahead, after=None).powers(0.0) >= WANTED)
        if more is not None:
            ways.append((more.flights * more.seconds, one.quantity, more))
    if not ways:
        return None, None
    _, name, more = min(ways, key=lambda way: way[:2])
    return name, more


def _suspects(
    store: Store, axis: str, predicted: Predicted, refit: Refit, margins: tuple[Margin, ...]
) -> tuple[tuple[Suspect, ...], ...]:
    from asflown.app.flights.known import controllers_of
    from asflown.app.predict import sides_of
    from asflown.core.behaviour.predict.nominal import Nominal
    from asflown.core.behaviour.retune.knobs import knobs_of
    from asflown.core.verdict.culprit import culprits

    assert refit.as_left is not None
    after = kept.record(store, refit.as_left)
    structures, catalog = _release(store, after)
    if catalog is None or axis not in structures:
        return ()
    read = roles.of_record(after, catalog)
    side = sides_of(store, predicted.flight, controllers_of(structures, read, after.id, after.release or ""))[
        0
    ].get(axis)
    if side is None:
        return ()
    loop = loop_of(structures[axis], read, *side)
    knobs = knobs_of({axis: structures[axis]}, read.values, read.stored, limits_of(catalog))
    nominal = Nominal(side[0], side[1])
    found = culprits(axis, loop, nominal, knobs, _earlier(store, refit), margins)
    return tuple(_named(one, after, catalog) for one in found.found)


def _release(store: Store, record: Record) -> tuple[Mapping[str, ControlStructure], Catalog | None]:
    if record.release is None:
        return {}, None
    found = kept.release_with_document(store, record.release)
    return (found[0].control or {}) if found else {}, catalog_of(store, record.release)


def _earlier(store: Store, refit: Refit) -> tuple[Mapping[str, float], ...]:
    """Numbers by role as planned, and as found."""
    from asflown.app.planned import planned_settings

    planned = planned_settings(store, refit)
    before = kept.record(store, refit.source or refit.found)
    catalog = None if before.release is None else catalog_of(store, before.release)
    made = [] if planned is None else [planned.read.values]
    made += [] if catalog is None else [roles.of_record(before, catalog).values]
    return tuple(made)


def _named(culprit: Culprit, record: Record, catalog: Catalog) -> tuple[Suspect, ...]:
    made = []
    for parameter in catalog.parameters:
        if parameter.role is None or parameter.role not in culprit.values:
            continue
        back = stored_text(parameter, culprit.values[parameter.role])
        for key in parameter.keys():
            now = record.values.get(key)
            if now is not None and now != back:
                made.append(Suspect(str(key), now, back, parameter.unit))
    return tuple(made)
