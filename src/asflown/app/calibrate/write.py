"""Write what a calibration says into the aircraft's settings, over MAVLink, and prove that it is held."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from asflown.app import kept
from asflown.app.calibrate.kept import calibration_meant
from asflown.app.link.talk import Talk
from asflown.app.load.prepare import Ask, confirmed
from asflown.app.needs import Links
from asflown.app.workplace import Workplace
from asflown.core.calibrate.kept import Calibration
from asflown.core.calibrate.stored import Wanted, is_neutral, roles_of, wanted
from asflown.core.catalog import Catalog, ParameterDef
from asflown.core.link import asks
from asflown.core.link.asks import Set
from asflown.core.link.reading import Came
from asflown.core.link.values import Encoding, ParamType, decoded, encoded
from asflown.core.refit import State
from asflown.core.roles import factor_of
from asflown.core.units import scale_of
from asflown.errors import DeviceError, NeedsPerson, UsageError

#: Figures that are sent: a 32-bit float keeps no more.
_FIGURES = Decimal("1e-7")
#: What the logbook says when writing begins.
_BEGUN = "writing begun"


@dataclass(frozen=True, slots=True)
class Line:
    """One setting: what it held, what it is to hold, what it holds now."""

    name: str
    unit: str
    before: Decimal
    wanted: Decimal
    after: Decimal

    @property
    def is_held(self) -> bool:
        """Whether it holds what was written, to the last figure of its type."""
        return abs(self.after - self.wanted) <= max(abs(self.wanted), Decimal(1)) * Decimal("2e-7")


@dataclass(frozen=True)
class Stored:
    """What writing a calibration came to."""

    calibration: Calibration
    address: str
    release: str
    lines: tuple[Line, ...]
    at: str
    confirmed: str

    @property
    def is_held(self) -> bool:
        """Whether the aircraft holds every number."""
        return all(line.is_held for line in self.lines)


@dataclass(frozen=True)
class StoreAsk:
    """What is asked.

    Attributes
    ----------
    was_corrected
        Whether the samples were corrected by what is stored; ``None``: nobody said.
    """

    calibration: str
    address: str
    system: int | None
    was_corrected: bool | None
    said: Ask


def store_calibration(work: Workplace, ask: StoreAsk, links: Links) -> Stored:
    """Write a calibration, store it, restart, and read it again.

    Raises
    ------
    UsageError
        When none is kept under the id, or it does not belong to a release that says where it is stored.
    NeedsPerson
        When it is not fit for use, the motors are armed, propellers or pack are not said to be off, the refit
        is partly written, or nobody said whether the samples were corrected.
    DeviceError
        When the link is gone, or a value is refused.
    """
    made = calibration_meant(work.store, ask.calibration)
    if not made.is_fit:
        raise NeedsPerson(
            f"{made.id} is not fit for use: {made.why}", next_step="repeat it; nothing is written"
        )
    release = _release(work, made.aircraft)
    catalog = kept.release(work.store, release).catalog
    settings = _settings(made, catalog)
    said = confirmed(work, ask.said)
    with Talk(links, ask.address, ask.system) as talk:
        encoding = talk.greet().encoding
        before = _read(talk, settings, release)
        held = _held_before(work, made) or {
            role: _in_unit(before[role], settings[role], made, encoding) for role in settings
        }
        goal = _goal(made, held, ask.was_corrected)
        items = [_set(one, settings[one.role], before[one.role], encoding) for one in goal]
        _begun(work, made, held, ask.address, said)
        writer = talk.write(items)
        if writer.refused:
            names = ", ".join(one.name for one in writer.refused)
            raise DeviceError("writing the calibration", f"the aircraft refuses {names}", trouble="refused")
        talk.command(asks.STORAGE, 1.0)
        talk.command(asks.REBOOT, 1.0)
        talk.greet()
        after = _read(talk, settings, release)
    lines = tuple(
        Line(
            settings[one.role].name,
            settings[one.role].unit or "",
            _decimal(before[one.role], encoding),
            decoded(item.raw, ParamType(item.kind), encoding),
            _decimal(after[one.role], encoding),
        )
        for one, item in zip(goal, items, strict=True)
    )
    done = Stored(made, ask.address, release, lines, work.clock.now(), said)
    _log(work, done)
    return done


def _release(work: Workplace, aircraft: str) -> str:
    """The release whose settings are on the aircraft.

    Raises
    ------
    UsageError, NeedsPerson
        When it is not stated, or the refit is partly written.
    """
    opened = kept.open_refit(work.store, aircraft)
    state = opened.refit.state if opened else None
    if state is State.PARTLY_WRITTEN:
        raise NeedsPerson(
            "the refit is partly written", next_step="finish writing first: asflown write, or asflown back"
        )
    if opened is not None and state is State.READ_BACK:
        return opened.refit.to_release
    found = kept.aircraft(work.store, aircraft).release
    if not found:
        raise UsageError(
            f"which release {aircraft} runs is not stated", next_step="asflown aircraft set release=…"
        )
    return found


def _settings(made: Calibration, catalog: Catalog | None) -> dict[str, ParameterDef]:
    """The settings that hold this calibration, by role.

    Raises
    ------
    UsageError
        When the release says of none that it does.
    """
    by_role = {} if catalog is None else {one.role: one for one in catalog.parameters if one.role}
    found = {role: by_role[role] for role in roles_of(made) if role in by_role}
    if not found:
        raise UsageError(
            f"the release does not say which settings hold the {made.what}'s calibration",
            next_step=f"say it in its overlay: {_example(made)}do it with the firmware's own procedure",
        )
    return found


def _example(made: Calibration) -> str:
    first = next(iter(roles_of(made)), None)
    return "" if first is None else f'role = "{first}"; or '


def _read(talk: Talk, settings: Mapping[str, ParameterDef], release: str) -> dict[str, Came]:
    found = {}
    for role, setting in settings.items():
        came = talk.read_one(setting.name)
        if came is None:
            raise NeedsPerson(
                f"the aircraft has no {setting.name}, which {release} has",
                next_step="does it run that release? asflown found --link …",
            )
        found[role] = came
    return found


def _decimal(came: Came, encoding: Encoding) -> Decimal:
    return decoded(came.raw, ParamType(came.kind), encoding)


def _factor(setting: ParameterDef, unit: str) -> Fraction:
    """From the stored number to the calibration's unit."""
    scale = scale_of(unit) if unit != "1" else None
    own = factor_of(setting)
    if unit == "1":
        return Fraction(1) if own is None else own
    if scale is None or own is None:
        raise UsageError(
            f"the unit of {setting.name} is not stated",
            next_step="state it in the catalog, or a factor in the overlay",
        )
    return own / scale.factor


def _unit(role: str, made: Calibration) -> str:
    return "1" if ".scale" in role else made.unit


def _in_unit(came: Came, setting: ParameterDef, made: Calibration, encoding: Encoding) -> float:
    role = setting.role or ""
    return float(Fraction(_decimal(came, encoding)) * _factor(setting, _unit(role, made)))


def _goal(made: Calibration, held: Mapping[str, float], was_corrected: bool | None) -> Sequence[Wanted]:
    neutral = {role: 1.0 if ".scale" in role else 0.0 for role in held}
    is_neutral_all = all(is_neutral(role, value) for role, value in held.items())
    if not is_neutral_all and was_corrected is None and made.what not in ("level", "voltage", "current"):
        raise NeedsPerson(
            "the aircraft holds a calibration already: were the samples taken through it?",
            next_step="--samples corrected (readings over MAVLink are), or --samples raw",
        )
    try:
        return wanted(made, neutral if was_corrected is False else held)
    except ValueError as error:
        raise UsageError(
            str(error), next_step="see what it holds: asflown calibrate show " + made.id
        ) from None


def _set(one: Wanted, setting: ParameterDef, came: Came, encoding: Encoding) -> Set:
    exact = Fraction(one.value) / _factor(setting, one.unit)
    value = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_FIGURES, ROUND_HALF_EVEN)
    kind = ParamType(came.kind)
    if kind is not ParamType.REAL32:
        value = value.to_integral_value(ROUND_HALF_EVEN)
    for bound, is_over in ((setting.minimum, value.__lt__), (setting.maximum, value.__gt__)):
        if bound is not None and is_over(bound):
            raise NeedsPerson(
                f"{setting.name} would be {value.normalize():f}, beyond its {bound.normalize():f}",
                next_step="so large a correction is a fault of the sensor or the samples; nothing is written",
            )
    try:
        return Set(setting.name, encoded(value, kind, encoding), came.kind)
    except ValueError as error:
        raise NeedsPerson(f"{setting.name} cannot be sent: {error}") from None


def _held_before(work: Workplace, made: Calibration) -> dict[str, float] | None:
    """What was stored when this calibration was first written, by role; ``None`` where it never was.

    Written again, after a link that broke in the middle or any other time, it comes to the same numbers.
    """
    for entry in reversed(work.store.book(made.aircraft)):
        is_it = entry.kind == "calibration" and entry.body.get("id") == made.id
        if is_it and entry.body.get("when") == _BEGUN:
            return {str(role): float(value) for role, value in entry.body["before"].items()}
    return None


def _begun(work: Workplace, made: Calibration, held: Mapping[str, float], address: str, said: str) -> None:
    body = {
        "id": made.id,
        "what": made.what,
        "when": _BEGUN,
        "why": f"over {address}",
        "before": dict(held),
        "confirmed": said,
    }
    with work.store.transaction() as tx:
        tx.log(made.aircraft, "calibration", body)


def _log(work: Workplace, done: Stored) -> None:
    body = {
        "id": done.calibration.id,
        "what": done.calibration.what,
        "when": "written",
        "is_fit": done.is_held,
        "why": f"{len(done.lines)} settings written over {done.address}"
        + ("" if done.is_held else ", not every one is held"),
        "settings": [[line.name, f"{line.before:f}", f"{line.after:f}"] for line in done.lines],
        "confirmed": done.confirmed,
    }
    with work.store.transaction() as tx:
        tx.log(done.calibration.aircraft, "calibration", body)
