"""The way back: what it needs, whether it is there, and what no listing can restore."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from asflown.core.aircraft import Aircraft
from asflown.core.carry.dispositions import Left
from asflown.core.carry.order import writing_order
from asflown.core.carry.readback import Wanted
from asflown.core.carry.sides import OldSide, old_side
from asflown.core.catalog import Catalog, Consequence, Release
from asflown.core.finding import Finding
from asflown.core.record import Extent, Key, Original, Record
from asflown.core.values import same_value

#: The order of going back. Each step names the one thing that makes it safe or checkable.
STEPS = (
    "take the propellers off and unplug the pack; power the board from USB alone",
    "erase the board's stored settings",
    "write the old image to the board",
    "write the go-back listing, and store it",
    "restart the board and save a new listing: the read-back",
    "compare it: asflown back --readback LISTING",
)

#: The same where asflown read the flash back before it loaded anything.
STEPS_BY_LOAD = (
    "take the propellers off and unplug the pack; power the board from USB alone",
    "bring the board into its boot loader (hold its boot button while plugging it in)",
    "put the old flash back, settings too: asflown back AIRCRAFT --load",
    "restart the board and save a new listing: the read-back",
    "compare it: asflown back --readback LISTING",
    "where the listing differs: write the go-back listing, store it, and compare again",
)

OLD_IMAGE = "the old image: keep the file, or read the flash back, before loading"


@dataclass(frozen=True, slots=True)
class NotRestored:
    """Something a go-back listing cannot bring back.

    Attributes
    ----------
    subject
        What it is: a setting, or a thing outside the board.
    why
        What becomes of it and what to do.
    """

    subject: str
    why: str
    consequence: Consequence


@dataclass(frozen=True)
class WayBack:
    """Whether an aircraft can go back exactly, judged before anything is written.

    Attributes
    ----------
    complete
        Whether everything a way back needs from the record is there.
    missing
        What is missing, each with what would settle it.
    settings_to_write
        The go-back listing's settings, in writing order for the old release.
    cannot_restore
        What no listing restores; named beforehand.
    not_stated
        What a way back also needs and nobody stated yet (the old image).
    says
        Facts worth knowing, in sentences.
    """

    complete: bool
    missing: tuple[str, ...]
    settings_to_write: tuple[Left, ...]
    cannot_restore: tuple[NotRestored, ...] = ()
    not_stated: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def way_back(
    record: Record, old: Release | None, aircraft: Aircraft | None = None, *, flash: Original | None = None
) -> WayBack:
    """Judge the way back from a record.

    Parameters
    ----------
    record
        The as-found record.
    old
        The release it was taken under, ``None`` where not stated.
    aircraft
        Names the fitted devices whose own settings no board listing restores.
    flash
        The whole flash as it was read back before anything was loaded, ``None`` where it was not.

    Notes
    -----
    The go-back listing holds every as-found setting the board takes. A calibration is written back
    as the number it was, since it goes to the very board it came from; it is named all the same,
    because whether the board accepts it shows only in the read-back.
    """
    catalog = old.catalog if old else None
    side = old_side(record, catalog)
    missing = tuple(_missing(record, catalog))
    lefts = tuple(_writable(side, catalog))
    ordered = writing_order(lefts, catalog)
    has_image = flash is not None or bool(old.images if old else None)
    return WayBack(
        complete=not missing,
        missing=missing,
        settings_to_write=ordered.items,
        cannot_restore=tuple(_not_restored(side, catalog, aircraft)),
        not_stated=() if has_image else (OLD_IMAGE,),
        says=(*_says(record, catalog), *_says_flash(flash)),
        findings=ordered.findings,
    )


def wanted_back(record: Record, catalog: Catalog | None) -> Mapping[Key, Wanted]:
    """What each setting should be after going back: exactly as found."""
    side = old_side(record, catalog)
    wanted = {}
    for item in side.found:
        parameter = side.definition(item.key.name)
        value = None if parameter.read_only or parameter.volatile else item.value
        wanted[item.key] = Wanted(value, side.factory(item.key), consequence=parameter.consequence)
    return wanted


def _missing(record: Record, catalog: Catalog | None) -> Iterable[str]:
    if record.release is None:
        yield "the name of the old release: without it nobody knows which image to write back"
    if not record.settings:
        yield "settings: the as-found record holds none"
    if record.left_out:
        yield (
            f"{record.left_out} private settings: they were left out when the record was handed over; "
            "ask for it with them (handover --with-private), or take a record of your own"
        )
    if record.open_lines:
        yield (
            f"the meaning of {len(record.open_lines)} lines of the as-found listing "
            f"(line {', '.join(str(u.line) for u in record.open_lines[:5])}): say what they are"
        )
    if record.extent is Extent.UNKNOWN:
        yield "whether the as-found listing shows every setting or only changes from factory: say which it is"
    if record.extent is Extent.CHANGES_ONLY:
        yield from _missing_factory(record, catalog)


def _missing_factory(record: Record, catalog: Catalog | None) -> Iterable[str]:
    """A changes-only listing is a way back only together with the old factory values."""
    release = record.release or "the old release"
    if catalog is None or not (catalog.keys or catalog.factory):
        yield (
            f"the factory values of {release}: the as-found listing shows only changes; "
            "add a factory listing of that release, or take a full listing while the aircraft still has it"
        )
        return
    stated = frozenset(catalog.keys)
    under_headings = {(key.name, key.index) for key in record.values if key not in stated}
    unknown = [
        key
        for key in catalog.keys
        if key not in record.values
        and (key.name, key.index) not in under_headings
        and catalog.factory_value(key) is None
        and not catalog.by_name[key.name].read_only
        and not catalog.by_name[key.name].redo
    ]
    if unknown:
        names = ", ".join(str(key) for key in unknown[:5]) + (" …" if len(unknown) > 5 else "")
        yield (
            f"the factory value under {release} of {len(unknown)} settings that the as-found listing "
            f"does not show ({names}): add a factory listing of that release, or take a full listing now"
        )


def _writable(side: OldSide, catalog: Catalog | None) -> Iterable[Left]:
    for item in side.found:
        parameter = side.definition(item.key.name)
        if not parameter.read_only and not (item.implied and parameter.redo):
            yield Left(item.key, item.value, side.factory(item.key))


def _not_restored(side: OldSide, catalog: Catalog | None, aircraft: Aircraft | None) -> Iterable[NotRestored]:
    for item in side.found:
        parameter = side.definition(item.key.name)
        if parameter.redo:
            why = f"{parameter.redo}; its number is written back to this board; redo it if refused"
            yield NotRestored(str(item.key), why, parameter.consequence)
        elif parameter.read_only:
            yield NotRestored(str(item.key), "the board shows it and does not take it", parameter.consequence)
    for device in aircraft.devices if aircraft else ():
        stated = f"version {device.version}" if device.version else "version not stated"
        yield NotRestored(
            f"{device.name} ({device.kind})",
            f"{stated}; its own firmware and settings are not on the board: note them before you change them",
            Consequence.UNKNOWN,
        )
    if not (aircraft and aircraft.devices):
        yield NotRestored(
            "fitted devices",
            "their own firmware and settings are not on the board: note them before you change them",
            Consequence.UNKNOWN,
        )
    yield NotRestored(
        "the transmitter's model memory",
        "it is not on the aircraft: copy the model there before you change it",
        Consequence.UNKNOWN,
    )


def _says(record: Record, catalog: Catalog | None) -> Iterable[str]:
    if record.extent is Extent.FULL:
        yield re_imposed(record, catalog)
    if record.extent is Extent.CHANGES_ONLY:
        yield (
            f"the as-found listing shows {len(record.settings)} changed settings; after erasing, the "
            "old release gives the others their factory values"
        )


def _says_flash(flash: Original | None) -> Iterable[str]:
    if flash is not None:
        yield (
            f"the whole flash was read back before anything was loaded and is kept ({flash.size} bytes,"
            f" SHA-256 {flash.sha256[:12]})"
        )


def re_imposed(record: Record, catalog: Catalog | None) -> str:
    """What writing a full as-found listing to the new release would do that nobody chose."""
    if catalog is None:
        return (
            f"the as-found listing shows all {len(record.settings)} settings and the old factory values are "
            "not stated: written to the new release as it is, it would set old factory values nobody chose"
        )
    at_factory = sum(
        factory is not None and same_value(setting.value, factory, catalog.by_name.get(setting.key.name))
        for setting in record.settings
        for factory in (catalog.factory_value(setting.key),)
    )
    return (
        f"{at_factory} of {len(record.settings)} settings stand at the old factory value: written to the new "
        "release as it is, this listing would set them again though nobody chose them"
    )
