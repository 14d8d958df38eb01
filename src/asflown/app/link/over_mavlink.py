"""Read and write an aircraft's settings over MAVLink: read twice, write what differs, prove it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation

from asflown.app import kept, state
from asflown.app.back import BackDone, prepare_back, prove_back
from asflown.app.link.talk import Aircraft, Talk
from asflown.app.load.prepare import Ask, confirmed
from asflown.app.needs import Links
from asflown.app.read_back import ReadBackDone, Reading, need_written, read_back
from asflown.app.state import Job
from asflown.app.take_record import Request, Taken, take_record
from asflown.app.workplace import Workplace
from asflown.core.carry.dispositions import Left
from asflown.core.carry.order import selection, writing_order
from asflown.core.link import asks
from asflown.core.link.asks import Set
from asflown.core.link.heard import Said
from asflown.core.link.reading import Came
from asflown.core.link.values import Encoding, ParamType, decoded, encoded
from asflown.core.record import Extent
from asflown.core.refit import State
from asflown.errors import DeviceError, NeedsPerson

#: Words at the beginning of a listing made of parameters.
HEAD = "# parameters read over MAVLink, {encoding}; name = value"


@dataclass(frozen=True)
class Parameters:
    """All parameters of an aircraft as they were read.

    Attributes
    ----------
    values
        Value by name, of those the field carries.
    lost
        Why by name, of those it does not.
    """

    came: Mapping[str, Came]
    values: Mapping[str, Decimal]
    lost: Mapping[str, str]
    encoding: Encoding

    @property
    def listing(self) -> bytes:
        """The same as a listing, one parameter a line; what is not carried is a comment with the reason."""
        rows = [HEAD.format(encoding=self.encoding.value)]
        rows += [f"# {name}: not carried, {why}" for name, why in self.lost.items()]
        rows += [f"{name} = {value:f}" for name, value in self.values.items()]
        return ("\n".join(rows) + "\n").encode()


def parameters(came: Mapping[str, Came], encoding: Encoding) -> Parameters:
    """What the bytes of the fields mean."""
    values, lost = {}, {}
    for name, one in came.items():
        try:
            values[name] = decoded(one.raw, ParamType(one.kind), encoding)
        except ValueError as error:
            lost[name] = str(error)
    return Parameters(came, values, lost, encoding)


@dataclass(frozen=True)
class FoundOver:
    """A record that was read over MAVLink."""

    taken: Taken
    aircraft: Aircraft
    parameters: Parameters
    texts: tuple[Said, ...] = ()


def found_over(
    work: Workplace, request: Request, links: Links, address: str, system: int | None = None
) -> FoundOver:
    """Read all parameters twice, and keep a record of them.

    Parameters
    ----------
    request
        What is asked; its bytes and name are those of the reading.

    Raises
    ------
    NeedsPerson
        When the two readings differ, several aircraft are heard, or none of the encodings is stated.
    DeviceError
        When nothing is heard, or parameters do not come.
    """
    kept.aircraft(work.store, request.aircraft)
    with Talk(links, address, system) as talk:
        aircraft = talk.greet()
        first = parameters(talk.read_all(), aircraft.encoding)
        second = parameters(talk.read_all(), aircraft.encoding)
    name = f"parameters-{request.aircraft}.txt"
    taken = take_record(
        work,
        replace(request, data=first.listing, name=name, against=(second.listing, name), extent=Extent.FULL),
    )
    return FoundOver(taken, aircraft, first, talk.texts)


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A parameter that is not as planned after writing, and why."""

    name: str
    wanted: str
    why: str


@dataclass(frozen=True)
class Goal:
    """What is written, in its order, and what proves it."""

    settings: Sequence[Left]
    is_back: bool
    prove: Callable[[Reading], ReadBackDone | BackDone]


@dataclass(frozen=True)
class WrittenMav:
    """What writing over MAVLink came to.

    Attributes
    ----------
    written
        Names that were set and acknowledged with their value.
    held
        How many held their value already.
    is_stored, is_restarted
        Whether the aircraft accepted these commands.
    """

    job: Job
    address: str
    aircraft: Aircraft
    done: ReadBackDone | BackDone
    written: tuple[str, ...]
    held: int
    not_taken: tuple[NotTaken, ...]
    is_stored: bool
    is_restarted: bool
    at: str
    is_back: bool = False

    @property
    def is_as_planned(self) -> bool:
        """Whether every setting is as planned."""
        return self.done.compared.is_as_planned


def write_over(
    work: Workplace, aircraft: str, ask: Ask, links: Links, address: str, system: int | None = None
) -> WrittenMav:
    """Write what was written out, only where it differs, in the order of needs; store, reboot, read again.

    Run again after a broken link it reads first and writes what is missing.

    Raises
    ------
    NeedsPerson
        When nothing was written out, the motors are armed, or nobody said that the propellers are off.
    DeviceError
        When the link is gone; the refit is *partly written: do not fly* then.
    """
    job = state.open_job(work, aircraft)
    need_written(job)
    said = confirmed(work, ask)
    plan = state.written_plan(work.store, job.refit)
    assert job.refit.write_out is not None
    chosen = selection(plan, job.new, job.refit.write_out.everything)
    goal = Goal(
        writing_order(chosen.write, job.new).items, False, lambda reading: read_back(work, aircraft, reading)
    )
    return _through(work, job, goal, said, links, address, system)


def write_back_over(
    work: Workplace, aircraft: str, ask: Ask, links: Links, address: str, system: int | None = None
) -> WrittenMav:
    """Write every as-found setting onto the old release, and prove that all of them are there again.

    Raises
    ------
    NeedsPerson, DeviceError
        As `write_over` does.
    """
    ready = prepare_back(work, aircraft)
    said = confirmed(work, ask)
    goal = Goal(ready.way.settings_to_write, True, lambda reading: prove_back(work, aircraft, reading))
    return _through(work, ready.job, goal, said, links, address, system)


def _through(
    work: Workplace, job: Job, goal: Goal, said: str, links: Links, address: str, system: int | None
) -> WrittenMav:
    with Talk(links, address, system) as talk:
        found = talk.greet()
        if talk.is_armed:
            talk.write(())  # refuses
        before = parameters(talk.read_all(), found.encoding)
        items, held, not_taken = _to_set(goal.settings, before)
        job = _begun(work, job, address, said, is_back=goal.is_back)
        writer = talk.write(items)
        for refusal in writer.refused:
            not_taken.append(_refused(refusal.name, refusal.held, before, items))
        stored = talk.command(asks.STORAGE, 1.0)
        restarted = talk.command(asks.REBOOT, 1.0)
        after = _again(talk, found.encoding)
    done = goal.prove(Reading(after.listing, f"parameters-{job.refit.id}.txt", Extent.FULL))
    made = WrittenMav(
        done.job,
        address,
        found,
        done,
        tuple(writer.proven),
        held,
        tuple(not_taken),
        stored,
        restarted,
        work.clock.now(),
        goal.is_back,
    )
    _log(work, made, said)
    return made


def _again(talk: Talk, encoding: Encoding) -> Parameters:
    """Greet the aircraft after its restart, and read it twice.

    Raises
    ------
    DeviceError
        When the two readings differ.
    """
    again = talk.greet()
    if again.encoding is not encoding:
        raise NeedsPerson("the aircraft states another encoding than before it restarted")
    first = parameters(talk.read_all(), encoding)
    second = parameters(talk.read_all(), encoding)
    if first.values != second.values:
        names = [name for name in first.values if second.values.get(name) != first.values[name]]
        raise DeviceError("reading the settings back", f"two readings differ in {', '.join(names[:8])}")
    return second


def _to_set(ordered: Sequence[Left], before: Parameters) -> tuple[list[Set], int, list[NotTaken]]:
    """What has to be set, how many hold their value already, and what cannot be written."""
    items, not_taken, held = [], [], 0
    for left in ordered:
        name, wanted = str(left.key), left.value
        if wanted is None:
            continue
        came = before.came.get(name)
        if came is None:
            not_taken.append(NotTaken(name, wanted, "the aircraft has no parameter of that name"))
            continue
        try:
            raw = encoded(Decimal(wanted), ParamType(came.kind), before.encoding)
        except (ValueError, InvalidOperation) as error:
            not_taken.append(NotTaken(name, wanted, f"cannot be sent: {error}"))
            continue
        if raw == came.raw:
            held += 1
        else:
            items.append(Set(name, raw, came.kind))
    return items, held, not_taken


def _refused(name: str, held: bytes | None, before: Parameters, items: Sequence[Set]) -> NotTaken:
    item = next(one for one in items if one.name == name)
    kind = ParamType(item.kind)
    wanted = f"{decoded(item.raw, kind, before.encoding):f}"
    if held is None:
        return NotTaken(name, wanted, "no answer")
    try:
        return NotTaken(name, wanted, f"refused: it holds {decoded(held, kind, before.encoding):f}")
    except ValueError as error:
        return NotTaken(name, wanted, f"refused: what it holds {error}")


def _begun(work: Workplace, job: Job, address: str, said: str, *, is_back: bool) -> Job:
    if is_back and not job.refit.is_half_loaded:
        refit = replace(job.refit, state=State.PARTLY_WRITTEN)  # going back begins in every state
    else:
        refit = state.become(job.refit, State.PARTLY_WRITTEN)
    with work.store.transaction() as tx:
        job = state.put(tx, job, refit)
        what = "going back begun" if is_back else "writing begun"
        body = {"refit": refit.id, "what": what, "port": address, "confirmed": said}
        tx.log(refit.aircraft, "link", body)
    return job


def _log(work: Workplace, made: WrittenMav, said: str) -> None:
    refit = made.job.refit
    body = {
        "refit": refit.id,
        "what": "written and read back",
        "port": made.address,
        "confirmed": said,
        "written": len(made.written),
        "held": made.held,
        "refused": [[one.name, one.why] for one in made.not_taken],
        "stored": made.is_stored,
        "restarted": made.is_restarted,
        "state": refit.state.value,
    }
    with work.store.transaction() as tx:
        tx.log(refit.aircraft, "link", body)
