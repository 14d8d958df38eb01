"""Write a listing over a terminal, line by line, and prove what is on the aircraft then.

A line that seems refused is noted; at one that writes a safety setting the writing stops. Whatever the
answers were, only the listing captured afterwards counts: as left = as planned, or a list of what is not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from asflown.app import state
from asflown.app.back import BackDone, prepare_back, prove_back
from asflown.app.in_shape import OwnShape, shapes_of
from asflown.app.link.session import Session
from asflown.app.link.words import words_for
from asflown.app.load.prepare import Ask, confirmed
from asflown.app.needs import Terminals
from asflown.app.read_back import ReadBackDone, Reading, need_written, read_back
from asflown.app.replies import written_lines
from asflown.app.state import Job
from asflown.app.workplace import Workplace
from asflown.core.catalog import Catalog, Consequence
from asflown.core.link.answers import Answers, reply_to
from asflown.core.link.words import Guard, TerminalWords
from asflown.core.record import Key, Original
from asflown.core.refit import State
from asflown.core.replies import WrittenLine
from asflown.errors import DeviceError

#: How often what is still missing is written again.
ROUNDS = 3
#: Told how many lines of how many were typed.
Say = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Refused:
    """A line that was answered as if it were not taken, or that was not sent.

    Attributes
    ----------
    reply
        What the terminal said, or why the guard held it back.
    """

    line: int
    text: str
    key: str
    reply: str
    is_held_back: bool = False


@dataclass(frozen=True)
class Goal:
    """What is written, and what proves it.

    Attributes
    ----------
    catalog
        Of the release that is on the board.
    prove
        Keeps a reading and lays it beside what was wanted.
    """

    listing: bytes
    release: str | None
    catalog: Catalog | None
    is_back: bool
    prove: Callable[[Reading], ReadBackDone | BackDone]


@dataclass(frozen=True)
class WrittenOver:
    """What writing came to.

    Attributes
    ----------
    done
        The read-back, ``None`` where writing stopped before it.
    stopped_at
        The refusal at which it stopped, ``None`` where it went through.
    lines
        Lines typed, all rounds together.
    transcript
        Everything the terminal printed, as it is kept.
    """

    job: Job
    words: TerminalWords
    port: str
    goal: Goal
    done: ReadBackDone | BackDone | None
    refused: tuple[Refused, ...]
    stopped_at: Refused | None
    lines: int
    rounds: int
    transcript: Original
    at: str

    @property
    def is_as_planned(self) -> bool:
        """Whether every setting is as planned."""
        return self.done is not None and self.done.compared.is_as_planned


def write_at(
    work: Workplace, aircraft: str, ask: Ask, terminals: Terminals, port: str, say: Say
) -> WrittenOver:
    """Write what was written out, store it, restart, read it back; what is missing is written again.

    An aircraft that was written half-way is read first, and only what is missing is written.

    Raises
    ------
    NeedsPerson
        When nothing was written out, the words are not kept, or nobody said that the propellers are off.
    DeviceError
        When the terminal is silent or goes away; the refit is *partly written: do not fly* then.
    """
    job = state.open_job(work, aircraft)
    need_written(job)
    said = confirmed(work, ask)
    words = words_for(work, job.refit.to_release)
    assert job.refit.write_out is not None
    listing = work.store.original(job.refit.write_out.listing.sha256)
    goal = Goal(
        listing, job.refit.to_release, job.new, False, lambda reading: read_back(work, aircraft, reading)
    )
    return _Writing(work, job, words, goal, terminals, port, say, said).through()


def write_back_at(
    work: Workplace, aircraft: str, ask: Ask, terminals: Terminals, port: str, say: Say
) -> WrittenOver:
    """Write the go-back listing onto the old release, and prove that every as-found setting is there again.

    Raises
    ------
    NeedsPerson, DeviceError
        As `write_at` does.
    """
    ready = prepare_back(work, aircraft)
    said = confirmed(work, ask)
    words = words_for(work, ready.job.found.release)
    old = ready.job.old.catalog if ready.job.old else None
    goal = Goal(
        ready.listing, ready.job.found.release, old, True, lambda reading: prove_back(work, aircraft, reading)
    )
    return _Writing(work, ready.job, words, goal, terminals, port, say, said).through()


class _Writing:
    """One run."""

    def __init__(
        self,
        work: Workplace,
        job: Job,
        words: TerminalWords,
        goal: Goal,
        terminals: Terminals,
        port: str,
        say: Say,
        said: str,
    ) -> None:
        self.work, self.job, self.words, self.goal = work, job, words, goal
        self.terminals, self.port, self.say, self.said = terminals, port, say, said
        self.answers = Answers(words)
        self.refused: list[Refused] = []
        self.stopped_at: Refused | None = None
        self.lines = 0
        self.shown = bytearray()

    def through(self) -> WrittenOver:
        done: ReadBackDone | BackDone | None = None
        listing, rounds = self.goal.listing, 0
        if self.job.refit.state is State.PARTLY_WRITTEN:
            self._restarted()
            done = self._read_back([])
            listing = done.rest.data if done.rest else b""
        while listing and rounds < ROUNDS and not (done and done.compared.is_as_planned):
            rounds += 1
            self._begun()
            rows = written_lines(listing, self._shapes())
            with self._session(rows) as session:
                try:
                    self._type(session, rows)
                    if self.stopped_at is not None:
                        break
                    self._store(session)
                finally:
                    self.shown += session.shown
            done = self._read_back(rows)
            listing = done.rest.data if done.rest else b""
        transcript = self._kept(rounds)
        job = done.job if done else self.job
        return WrittenOver(
            job,
            self.words,
            self.port,
            self.goal,
            None if self.stopped_at else done,
            tuple(self.refused),
            self.stopped_at,
            self.lines,
            rounds,
            transcript,
            self.work.clock.now(),
        )

    def _session(self, rows: Sequence[WrittenLine]) -> Session:
        guard = Guard(self.words, [row.text for row in rows])
        return Session(self.terminals, self.port, self.words, guard)

    def _shapes(self) -> tuple[OwnShape, ...]:
        return tuple(shapes_of(self.work.store, self.job.found, self.job.old))

    def _begun(self) -> None:
        """Say that writing begins before the first line leaves: cut off, the aircraft is partly written."""
        if self.goal.is_back and not self.job.refit.is_half_loaded:
            refit = replace(self.job.refit, state=State.PARTLY_WRITTEN)  # going back begins in every state
        else:
            refit = state.become(self.job.refit, State.PARTLY_WRITTEN)
        with self.work.store.transaction() as tx:
            self.job = state.put(tx, self.job, refit)
            what = "going back begun" if self.goal.is_back else "writing begun"
            body = {"refit": refit.id, "what": what, "port": self.port, "confirmed": self.said}
            tx.log(refit.aircraft, "link", body)

    def _type(self, session: Session, rows: Sequence[WrittenLine]) -> None:
        session.wake()
        wanted = [row for row in rows if row.text.strip()]
        unsure: list[tuple[WrittenLine, str]] = []
        for number, row in enumerate(wanted, 1):
            self.say(number, len(wanted))
            why = session.guard.refuses(row.text)
            if why is not None:
                self._note(row, why, is_held_back=True)
            else:
                unsure = [*unsure, *self._typed(session, row)]
                unsure = [(each, reply) for each, reply in unsure if not self._settled(each, reply)]
            if self.stopped_at is not None:
                return

    def _typed(self, session: Session, row: WrittenLine) -> list[tuple[WrittenLine, str]]:
        """Type a line; the line with its answer where nobody can tell yet what that means."""
        reply = reply_to(session.type(row.text), row.text, session.prompt)
        self.lines += 1
        if row.key is None:
            return []
        refused = self.answers.is_refusal(reply, row.key, row.value)
        if refused:
            self._note(row, reply)
        return [(row, reply)] if refused is None else []

    def _settled(self, row: WrittenLine, reply: str) -> bool:
        """Whether an answer that was not clear is clear by now."""
        refused = self.answers.judged(reply, row.key, row.value)
        if refused:
            self._note(row, reply)
        return refused is not None

    def _note(self, row: WrittenLine, reply: str, *, is_held_back: bool = False) -> None:
        refused = Refused(row.number, row.text, str(row.key or ""), reply[:400], is_held_back)
        self.refused.append(refused)
        risky = (Consequence.SAFETY, Consequence.UNKNOWN)
        if (
            row.key is not None
            and _consequence(row.key, self.goal.catalog) in risky
            and self.stopped_at is None
        ):
            self.stopped_at = refused

    def _store(self, session: Session) -> None:
        if self.words.store is not None:
            session.type(self.words.store)
        session.restart()

    def _restarted(self) -> None:
        """Restart the board first: what was typed and not stored reads as if it were there."""
        with self._session([]) as session:
            try:
                session.wake()
                session.restart()
            finally:
                self.shown += session.shown

    def _read_back(self, rows: Sequence[WrittenLine]) -> ReadBackDone | BackDone:
        """Capture the listing twice; where both are the same, lay it beside the plan."""
        with self._session(rows) as session:
            try:
                session.wake()
                first, second = session.capture(), session.capture()
                if first != second:
                    first = session.capture()
                    if first != second:
                        raise DeviceError("reading the settings back", "no two readings in a row agree")
            finally:
                self.shown += session.shown
        done = self.goal.prove(Reading(first, f"listing-{self.job.refit.id}.txt"))
        self.job = done.job
        return done

    def _kept(self, rounds: int) -> Original:
        refit = self.job.refit
        with self.work.store.transaction() as tx:
            transcript = tx.keep(bytes(self.shown), name=f"terminal-{refit.id}.txt", kind="transcript")
            body = {
                "refit": refit.id,
                "what": "stopped at a refusal" if self.stopped_at else "written and read back",
                "port": self.port,
                "confirmed": self.said,
                "lines": self.lines,
                "rounds": rounds,
                "refused": [[one.key or one.text, one.reply] for one in self.refused],
                "transcript": transcript.sha256,
                "state": refit.state.value,
            }
            tx.log(refit.aircraft, "link", body)
        return transcript


def _consequence(key: Key, catalog: Catalog | None) -> Consequence:
    parameter = catalog.by_name.get(key.name) if catalog else None
    return parameter.consequence if parameter else Consequence.UNKNOWN
