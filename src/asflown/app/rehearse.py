"""The way back as a listing, and a rehearsal of it from what is kept."""

from __future__ import annotations

from dataclasses import dataclass

from asflown.app import gates, state
from asflown.app.in_shape import Written, read_like, shape_of, shapes_of, write_in_any, write_in_shape
from asflown.app.needs import Store
from asflown.core.catalog import Release
from asflown.core.record import Extent, Record
from asflown.core.refit import Refit
from asflown.core.wayback import WayBack, way_back
from asflown.errors import AsflownError, InputError, NeedsPerson


def go_back_listing(store: Store, found: Record, old: Release | None, way: WayBack) -> Written:
    """The clean listing of the way back, in the shape of the as-found listing.

    Where no shape is at hand that can carry every setting, a changes-only record goes back by what it
    shows: the erased old release gives the rest their factory values.

    Raises
    ------
    InputError
        When even that cannot be carried.
    """
    units = {setting.key: setting.unit for setting in found.settings}
    try:
        return write_in_any(shapes_of(store, found, old), way.settings_to_write, units)
    except InputError:
        if found.extent is not Extent.CHANGES_ONLY:
            raise
        shown = tuple(left for left in way.settings_to_write if left.key in found.values)
        return write_in_shape(shape_of(store, found), shown, units)


@dataclass(frozen=True)
class Rehearsal:
    """The way back rebuilt from the record and the releases it was sealed to.

    Attributes
    ----------
    same_bytes
        Whether the rebuilt listing is byte for byte the one that was kept.
    settings
        How many as-found settings the kept listing holds with their as-found value.
    faults
        What does not hold, in sentences; empty when the way back is good.
    """

    refit: str
    same_bytes: bool
    settings: int
    faults: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """What was compared, or why it does not hold."""
        if self.faults:
            return "; ".join(self.faults[:6])
        return f"rebuilt, the same byte for byte; read again, all {self.settings} as-found settings are in it"

    @property
    def holds(self) -> bool:
        """Whether the way back is good."""
        return not self.faults


def rehearse(store: Store, refit: Refit) -> Rehearsal:
    """Rebuild the go-back listing of a refit, compare it byte by byte, and read it setting by setting.

    Raises
    ------
    NeedsPerson
        When nothing was written out for this refit, so that no way back was kept.

    Notes
    -----
    The rebuilt listing comes from the record and from the revision of the old release the plan was
    sealed to; the kept listing is read on its own and compared with the record.
    """
    made = refit.write_out
    if made is None:
        raise NeedsPerson(
            f"nothing was written out for refit {refit.id}, so no way back was kept",
            next_step=gates.next_act(refit),
        )
    faults: list[str] = []
    same, read = False, 0
    try:
        found = state.sealed_record(store, refit.found, made.inputs)
        old = state.old_release(store, found, made.inputs)
        way = way_back(found, old)
        if not way.complete:
            faults += [f"the way back is incomplete: {text}" for text in way.missing]
        kept_bytes = store.original(made.back_listing.sha256)
        store.original(made.back_original.sha256)
        rebuilt = go_back_listing(store, found, old, way)
        same = rebuilt.data == kept_bytes
        if not same:
            faults.append("the rebuilt go-back listing is not byte for byte the kept one")
        read, lost = _read_again(rebuilt, kept_bytes, way)
        faults += lost
    except AsflownError as error:
        faults.append(str(error))
    return Rehearsal(refit.id, same, read, tuple(faults))


def _read_again(rebuilt: Written, data: bytes, way: WayBack) -> tuple[int, list[str]]:
    """How many settings of the way back the kept listing holds, and which it does not."""
    read = {setting.key: setting.value for setting in read_like(rebuilt.shape, data)}
    written = {key for _, key in rebuilt.lines}
    wanted = {left.key: left.value for left in way.settings_to_write if left.key in written}
    lost = [
        f"{key}: the kept go-back listing says {read.get(key, 'nothing')}, as found was {value}"
        for key, value in wanted.items()
        if read.get(key) != value
    ]
    return len(wanted) - len(lost), lost
