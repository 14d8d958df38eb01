"""Load a board: keep what is on it, write what differs, read back; the logbook has every step."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from asflown.app import kept, state
from asflown.app.back import going_back
from asflown.app.image_check import ReadFile
from asflown.app.load.flashing import Flashing
from asflown.app.load.prepare import Ask, Prepared, prepare_back, prepare_image
from asflown.app.load.progress import Say
from asflown.app.needs import BootLoader, Ports, Transaction
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.image.facts import Standing
from asflown.core.load.journal import Load, Stage, What
from asflown.core.load.target import Held, changed_beside
from asflown.core.load.told import Told, misfits
from asflown.core.record import Original
from asflown.core.refit import GateName, OnBoard, Refit, State
from asflown.errors import DeviceError, DoesNotFit, Fault, NeedsPerson
from asflown.formats import documents

_LOOKING = {True: "reading the flash", False: "reading the old flash"}
HALF = "the board is half written: do not fly. It starts neither the old firmware nor the new one"
WHOLE = "nothing was erased: the board holds what it held"


@dataclass(frozen=True)
class Loaded:
    """A board that holds what it should, every byte read back.

    Attributes
    ----------
    again
        How often something was done again because the link spoilt it.
    """

    prepared: Prepared
    job: Job
    load: Load
    again: int


def load_image(
    work: Workplace, aircraft: str, ask: Ask, read_file: ReadFile, ports: Ports, say: Say
) -> Loaded:
    """Write the new image, or go on with the one that is half written.

    Raises
    ------
    NeedsPerson, DoesNotFit, UsageError, InputError
        Before the board is touched (see `prepare_image`), or when its flash is protected or another board's.
    DeviceError
        When the board does not do what it should; the message says what state it is in.
    """
    return run(work, prepare_image(work, aircraft, ask, read_file), ask, ports, say)


def load_back(
    work: Workplace, aircraft: str, ask: Ask, read_file: ReadFile, ports: Ports, say: Say
) -> Loaded:
    """Put the old flash back, settings too; or the old image where no flash was read back.

    Raises
    ------
    NeedsPerson, DoesNotFit, UsageError, InputError, DeviceError
        As `load_image` does.
    """
    return run(work, prepare_back(work, going_back(work, aircraft), ask, read_file), ask, ports, say)


def chosen_port(ports: Ports, said: str | None) -> str:
    """The port a person named, else the only one a board is at.

    Raises
    ------
    NeedsPerson
        When there is none, or several.
    """
    if said is not None:
        return said
    there = ports.plugged()
    boards = [one for one in there if one.name.startswith("usb:")] or list(there)
    if len(boards) == 1:
        return boards[0].name
    if not boards:
        raise NeedsPerson(
            "no board in its boot loader is plugged in, and no serial port",
            next_step="see why: asflown host-check; a serial port is named by --port",
        )
    raise NeedsPerson(
        "more than one board may be meant",
        faults=tuple(Fault(one.says, one.name) for one in boards),
        next_step=f"name it: --port {boards[0].name}",
    )


def run(work: Workplace, prepared: Prepared, ask: Ask, ports: Ports, say: Say) -> Loaded:
    """Bring a board's flash to what was prepared.

    Raises
    ------
    NeedsPerson, DoesNotFit, UsageError
        When no board, another board, or a protected one is there.
    DeviceError
        When the board does not do what it should; the message says what state it is in.
    """
    port = chosen_port(ports, ask.port)
    loader = ports.open(port)
    one = _Run(work, prepared, loader, ports, port, say)
    try:
        return one.through(ask)
    except DeviceError as error:
        raise one.told_how_it_stands(error) from None
    except KeyboardInterrupt:
        stopped = DeviceError("loading", "stopped by you", trouble="lost")
        raise one.told_how_it_stands(stopped) from None
    finally:
        loader.close()


def _image_says(prepared: Prepared) -> str:
    checked = prepared.checked
    if checked is None:
        return "the flash as it was before the first load of this refit"
    open_ = len(checked.standing(Standing.NOT_STATED))
    agree = len(checked.standing(Standing.AGREES))
    return f"nothing forbids it: {agree} facts agree, {open_} are not stated"


class _Run:
    """One run of a load."""

    def __init__(
        self, work: Workplace, prepared: Prepared, loader: BootLoader, ports: Ports, port: str, say: Say
    ) -> None:
        self.work, self.prepared, self.loader = work, prepared, loader
        self.ports, self.port, self.say = ports, port, say
        self.job = prepared.job
        self.load = prepared.half
        self.began = ports.seconds()

    def through(self, ask: Ask) -> Loaded:
        """From the first look at the flash to the start of the firmware."""
        prepared, flash = self.prepared, self.prepared.to.flash
        told = self.loader.connect()
        wrong = tuple(misfits(told, flash))
        if wrong:
            raise DoesNotFit(
                f"the board at {self.port} is not {prepared.to.board or flash.processor}",
                faults=tuple(Fault(text) for text in wrong),
                next_step="plug in the aircraft's own board; or correct its description",
            )
        maybe = () if prepared.half is None else [want.sector.number for want in prepared.target.wants]
        flashing = Flashing(self.loader, told, flash, self.ports.seconds, self.say, maybe)
        held = self._looked(flashing)
        self._same_board(held, ask)
        load = self._kept(told, held)
        is_there = not prepared.target.to_write(held, maybe)
        after = flashing.bring(prepared.target, held, lambda: self._half(load))
        self._nothing_beside(held, after)
        self._proven(flashing, was_there=is_there and prepared.half is None)
        self._leave()
        assert self.load is not None
        return Loaded(prepared, self.job, self.load, flashing.again)

    def _looked(self, flashing: Flashing) -> Held:
        try:
            return flashing.look(_LOOKING[self.prepared.half is not None])
        except DeviceError as error:
            if error.trouble != "not allowed":
                raise
            raise NeedsPerson(
                f"{error.what}: its flash is read protected; what is on it cannot be kept, and nothing is"
                " written. asflown lifts no protection: that erases the whole flash",
                next_step="get the old image's file from its maker, and ask who protected the board; they"
                " alone can say what is lost with it",
            ) from None

    def _same_board(self, held: Held, ask: Ask) -> None:
        """Refuse a board whose untouched flash is not what was kept when the load began."""
        on_board = self.job.refit.on_board
        if on_board is None or not on_board.is_half or ask.same_board.strip():
            return
        before = Held(held.start, self.work.store.original(on_board.before.sha256))
        changed = changed_beside(self.prepared.target, self.prepared.to, before, held)
        if changed:
            names = ", ".join(str(sector.number) for sector in changed)
            raise NeedsPerson(
                f"sectors {names} hold something else than when the load began, and no load touches them:"
                f" this may be another board than {self.job.refit.aircraft}'s",
                next_step="plug in the right one; or, if it is, say why: --same-board WHY",
            )

    def _nothing_beside(self, before: Held, after: Held) -> None:
        """Refuse to call it done where a sector changed that was not to be touched."""
        mine = {want.sector for want in self.prepared.target.wants}
        changed = [
            str(sector.number)
            for sector in self.prepared.to.flash.sectors
            if sector not in mine and before.of(sector) != after.of(sector)
        ]
        if changed:
            raise DeviceError(
                "reading back",
                f"sectors {', '.join(changed)} were not to be touched, and hold something else than before",
                trouble="refused",
                next_step="the board did something else than it was asked: have it looked at first",
            )

    def _kept(self, told: Told, held: Held) -> Load:
        """Keep the flash as it is, before anything is erased; a load that was cut off has kept it already."""
        prepared, refit = self.prepared, self.job.refit
        half = prepared.half
        number = len(kept.loads(self.work.store, refit.id)) + 1
        goes_on = half is not None and half.what is prepared.what and half.wanted.name == prepared.name
        with self.work.store.transaction() as tx:
            wanted = tx.keep(prepared.data, name=prepared.name, kind="image")
            if half is not None and goes_on and half.wanted.sha256 == wanted.sha256:
                return self._put(tx, replace(half, runs=half.runs + 1, port=self.port))
            if half is not None:
                before = half.before
            else:
                name = f"{refit.aircraft}-flash-{refit.id}-{number}.bin"
                before = tx.keep(held.data, name=name, kind="flash read back")
            load = Load(
                kept.load_id(refit.id, number),
                refit.aircraft,
                refit.id,
                prepared.what,
                Stage.KEPT if half is None else Stage.HALF,
                wanted,
                prepared.at,
                before,
                prepared.to.board,
                prepared.to.flash.processor,
                told.said,
                prepared.confirmed,
                self.work.clock.now(),
                answered=prepared.answered,
                port=self.port,
                says=_image_says(prepared),
                described=self._described(tx),
            )
            self._log(
                tx, load, "flash kept, nothing erased" if half is None else "begun over a half-written flash"
            )
            return self._put(tx, load)

    def _described(self, tx: Transaction) -> Original | None:
        file = self.prepared.described
        return None if file is None else tx.keep(file[0], name=file[1], kind="board description")

    def _half(self, load: Load) -> None:
        """Say that the flash is about to be erased, before it is."""
        refit = self.job.refit
        before = refit.on_board.before if refit.on_board else load.before
        was = refit.on_board.was if refit.on_board and refit.on_board.is_half else refit.state
        on_board = OnBoard(load.id, load.what, before, is_half=True, was=was)
        refit = replace(refit, state=State.PARTLY_WRITTEN, on_board=on_board)
        with self.work.store.transaction() as tx:
            if load.stage is not Stage.HALF:
                load = self._put(tx, replace(load, stage=Stage.HALF))
                self._log(tx, load, "erasing")
            self.job = state.put(tx, self.job, refit)

    def _proven(self, flashing: Flashing, *, was_there: bool) -> None:
        """Say that every byte was read back."""
        load, refit = self.load, self.job.refit
        assert load is not None
        load = replace(
            load,
            stage=Stage.PROVEN,
            ended=self.work.clock.now(),
            sectors=tuple(sorted({*load.sectors, *flashing.sectors})),
            written=load.written + flashing.written,
            seconds=round(load.seconds + self.ports.seconds() - self.began, 3),
            remarks=tuple(self._remarks(flashing)),
            was_there=was_there,
        )
        before = refit.on_board.before if refit.on_board else load.before
        on_board = OnBoard(load.id, load.what, before, is_half=False, was=refit.state)
        refit = replace(refit, state=self._state(refit), on_board=on_board)
        with self.work.store.transaction() as tx:
            if load.what is What.IMAGE:
                refit = self._gates(tx, refit, load)
            self.job = state.put(tx, self.job, refit)
            self._log(tx, self._put(tx, load), "read back and proven")

    def _state(self, refit: Refit) -> State:
        """Where the refit stands once the flash is whole again."""
        if self.load is not None and self.load.what is not What.IMAGE:
            return State.PARTLY_WRITTEN
        was = refit.on_board.was if refit.on_board and refit.on_board.is_half else refit.state
        # another image may have taken the settings with it: what was proven before has to be proven again
        return State.WRITTEN_OUT if was is State.READ_BACK else was

    def _gates(self, tx: Transaction, refit: Refit, load: Load) -> Refit:
        checked = self.prepared.checked
        assert checked is not None
        counts = f"{len(checked.facts)} facts looked at, {len(checked.to_answer)} differences answered"
        says = f"{load.wanted.name}, SHA-256 {load.wanted.sha256[:12]}: {counts}; read back byte for byte"
        refit = state.answer(self.work, refit, GateName.IMAGE, "passed", says)
        before = f"{load.confirmed}; flash read back and kept, SHA-256 {load.before.sha256[:12]}"
        refit = state.answer(self.work, refit, GateName.LOADING, "passed", before)
        state.log_gate(tx, refit, GateName.IMAGE)
        state.log_gate(tx, refit, GateName.LOADING)
        return refit

    def _remarks(self, flashing: Flashing) -> Iterable[str]:
        if flashing.again:
            yield f"the link spoilt something {flashing.again} times; it was done again"

    def _leave(self) -> None:
        """Start the firmware; a board that does not is whole all the same."""
        try:
            self.loader.leave(self.prepared.target.vectors)
        except DeviceError:
            has_started = False
        else:
            has_started = True
        assert self.load is not None
        with self.work.store.transaction() as tx:
            self._put(tx, replace(self.load, started=has_started))

    def _put(self, tx: Transaction, load: Load) -> Load:
        tx.put("load", load.id, documents.dump(load))
        self.load = load
        return load

    def _log(self, tx: Transaction, load: Load, what: str) -> None:
        body = {
            "refit": load.refit,
            "load": load.id,
            "what": what,
            "writes": load.what.value,
            "image": [load.wanted.name, load.wanted.sha256],
            "before": load.before.sha256,
            "board": load.board,
            "loader": load.loader,
            "confirmed": load.confirmed,
            "sectors": list(load.sectors),
            "written": load.written,
            "seconds": load.seconds,
            "answered": [[item.subject, item.why] for item in load.answered],
        }
        tx.log(load.aircraft, "load", body)

    def told_how_it_stands(self, error: DeviceError) -> DeviceError:
        """The same error with the state the board is in, and the way on."""
        aircraft = self.job.refit.aircraft
        told = DeviceError(error.step, error.what.removeprefix(f"{error.step}: "), trouble=error.trouble)
        go_on = (
            f"asflown load {aircraft}"
            if self.prepared.what is What.IMAGE
            else f"asflown back {aircraft} --load"
        )
        if self.job.refit.is_half_loaded:
            told.faults = (Fault(HALF),)
            step = f"bring the board into its boot loader again and go on: {go_on}"
            if self.prepared.what is What.IMAGE:
                step += f"; or put the old flash back: asflown back {aircraft} --load"
        else:
            told.faults = (Fault(WHOLE),)
            step = error.next_step or "bring the board into its boot loader again, and run the same command"
        if error.next_step and self.job.refit.is_half_loaded and "boot loader" not in error.next_step:
            step = f"{error.next_step}; {step}"
        told.next_step = step
        return told
