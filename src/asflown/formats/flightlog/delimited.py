"""A text table read block by block, two blocks at a time, and put together in order."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

from asflown.core.log_table import LogFact, LogTable
from asflown.errors import InputError
from asflown.formats.flightlog.assemble import Again, Assembly, wanted_numbers
from asflown.formats.flightlog.cells import Kind
from asflown.formats.flightlog.container import Container
from asflown.formats.flightlog.encoding import mended
from asflown.formats.flightlog.fitting import Fit, facts_of_fit, fit_to
from asflown.formats.flightlog.gunzip import unpacked_size
from asflown.formats.flightlog.precision import is_double, is_time, rate_of
from asflown.formats.flightlog.rows import Piece, Plan, read_block
from asflown.formats.flightlog.sniff import Sniffed, sniff
from asflown.formats.flightlog.source import LogSource
from asflown.formats.flightlog.stream import TextStream
from asflown.formats.flightlog.tally import facts_of

BLOCK = 4 * 1024 * 1024
_FIRST_BLOCK = 1024 * 1024
_WORKERS = 2
_LONGEST_SNIFFED = 1_000_000
_MOST_TURNS = 40
_MOST_ROWS = 1e11
Progress = Callable[[float], None]


def read_delimited(
    source: LogSource,
    container: Container,
    *,
    rows: int | None,
    columns: Sequence[str] | None,
    limit_bytes: int,
    progress: Progress | None,
) -> LogTable:
    """Read a text table; started over where a later row shows that a column is of another kind."""
    kinds: dict[int, Kind] = {}
    known_rows: float | None = None
    is_counted = False
    for _ in range(_MOST_TURNS):
        turn = _Turn(source, container, rows, columns, limit_bytes, kinds, (known_rows, is_counted), progress)
        try:
            return turn.read()
        except Again as again:
            kinds |= again.kinds
            if again.rows is not None:
                known_rows, is_counted = again.rows, again.is_counted
    raise InputError("its columns change their kind again and again", where=source.name,
                     next_step="export the log again")  # fmt: skip


class _Turn:
    """One reading from the first byte to the last."""

    def __init__(
        self,
        source: LogSource,
        container: Container,
        rows: int | None,
        columns: Sequence[str] | None,
        limit_bytes: int,
        kinds: dict[int, Kind],
        known_rows: tuple[float | None, bool],
        progress: Progress | None,
    ) -> None:
        self.source, self.container, self.most, self.asked = source, container, rows, columns
        self.limit, self.known, self.progress = limit_bytes, kinds, progress
        self.known_rows, self.is_counted = known_rows

    def read(self) -> LogTable:
        """Read."""
        with self.source.open() as raw:
            stream = TextStream(raw, self.container, self.source)
            sniffed = sniffed_of(stream, self.source.name)
            plan = self._plan(sniffed)
            assembly = self._assembled(stream, plan)
        unfit = assembly.unfit()
        if unfit:
            raise Again(kinds=unfit)
        is_fitted = assembly.fit.factor > 1 or assembly.fit.left_out
        if is_fitted and 1.5 * assembly.rows < assembly.rows_expected and not self.is_counted:
            raise Again(rows=assembly.rows, is_counted=True)  # thinned for rows that did not come
        return self._table(stream, assembly)

    def _plan(self, sniffed: Sniffed) -> Plan:
        kinds = tuple(self.known.get(number, kind) for number, kind in enumerate(sniffed.kinds))
        wanted, unknown = wanted_numbers(sniffed.columns, self.asked)
        if unknown:
            raise no_columns(unknown, [name for name, _, _ in sniffed.columns], self.source.name)
        return Plan(sniffed, wanted, kinds)

    def _assembled(self, stream: TextStream, plan: Plan) -> Assembly:
        size = BLOCK if self.most is None else _FIRST_BLOCK
        blocks = _skipped(stream.blocks(size), plan.sniffed.skip)
        first, is_last = next(blocks)
        piece = self._block(first, plan, is_last=is_last)
        expected = self._expected(first, piece)
        assembly = Assembly(plan, self._fit(plan, piece, expected), expected)
        assembly.lines = plan.sniffed.skip
        assembly.add(piece)
        if is_last or self._has_enough(assembly):
            return assembly
        for piece in self._pieces(blocks, plan):
            assembly.add(piece)
            if self.progress is not None:
                self.progress(stream.taken)
            self._mind_the_limit(assembly)
            if self._has_enough(assembly):
                break
        return assembly

    def _pieces(self, blocks: Iterator[tuple[bytes, bool]], plan: Plan) -> Iterator[Piece]:
        if self.most is not None:
            for block, is_last in blocks:
                yield self._block(block, plan, is_last=is_last)
            return
        waiting: deque[Future[Piece]] = deque()
        with ThreadPoolExecutor(_WORKERS) as pool:
            try:
                for block, is_last in blocks:
                    waiting.append(pool.submit(self._block, block, plan, is_last=is_last))
                    if len(waiting) > _WORKERS:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()

    def _block(self, block: bytes, plan: Plan, *, is_last: bool) -> Piece:
        try:
            return read_block(block, plan, is_last=is_last)
        except InputError as error:
            raise InputError(error.what, where=self.source.name, next_step=error.next_step) from None

    def _has_enough(self, assembly: Assembly) -> bool:
        return self.most is not None and assembly.rows >= self.most

    def _expected(self, first: bytes, piece: Piece) -> float:
        """Rows expected in the whole file, from the first block or an earlier turn."""
        if self.known_rows is not None:
            return self.known_rows
        size = self.source.size if self.container is Container.TEXT else unpacked_size(self.source)
        expected = piece.rows * max(1.0, size / max(1, len(first)))
        return expected if self.most is None else min(expected, self.most)

    def _fit(self, plan: Plan, piece: Piece, expected: float) -> Fit:
        sizes, times, rate = {}, set(), None
        for number, (values, largest) in piece.numbers.items():
            name, unit, _ = plan.sniffed.columns[number]
            is_clock = plan.kinds[number] is not Kind.NUMBER or is_time(name, unit, values)
            if is_clock:
                times.add(number)
                rate = rate or rate_of(values, unit if plan.kinds[number] is Kind.NUMBER else "s")
            sizes[number] = 8 if is_clock or is_double(values, largest) else 4
        sizes |= {number: 8 for number in piece.texts if plan.kinds[number] is Kind.WORD}
        return fit_to(self.limit, expected, sizes, frozenset(times), rate)

    def _mind_the_limit(self, assembly: Assembly) -> None:
        """A packed file may hold more than its end says."""
        taken = sum(column.nbytes for column in assembly.numbers.values())
        if taken > 2.5 * self.limit and assembly.rows_expected < _MOST_ROWS and not self.is_counted:
            raise Again(rows=8.0 * max(assembly.rows, assembly.rows_expected))

    def _table(self, stream: TextStream, assembly: Assembly) -> LogTable:
        sniffed = assembly.plan.sniffed
        columns, kept = assembly.columns()
        names = [name for name, _, _ in sniffed.columns]
        facts = [
            *_head_facts(sniffed),
            *facts_of(assembly.tally, names),
            *facts_of_fit(assembly.fit, dict(enumerate(names)), assembly.rows, self.limit),
        ]
        if stream.fault:
            said = f"the packed file is damaged ({stream.fault}); what stands before that was read"
            facts.append(LogFact("cut packed file", said, 1))
        if stream.encoding.name != "utf-8":
            facts.append(LogFact("encoding", f"the text is {stream.encoding.name.upper()}", 0))
        if self.most is not None and kept > self.most:
            kept = self.most
            columns = tuple(
                replace(c, numbers=None if c.numbers is None else c.numbers[:kept], words=c.words[:kept])
                for c in columns
            )
        if not any(column.numbers is not None for column in columns) and self.asked is None:
            raise InputError("no column holds numbers", where=self.source.name,
                             next_step="export the log with its signals as numbers")  # fmt: skip
        return LogTable(
            columns,
            kept,
            sniffed.dialect.shape,
            preamble=sniffed.preamble,
            facts=tuple(facts),
            thinned=assembly.fit.factor,
            stated=dict(sniffed.stated or {}),
        )


def sniffed_of(stream: TextStream, name: str) -> Sniffed:
    """Sniff the head of a stream."""
    text = mended(stream.head)[0].decode("utf-8", "replace").replace("\0", "").removeprefix("\ufeff")
    lines = text.split("\n")
    if len(lines) > 3 and len(stream.head) >= 65_000:
        lines.pop()  # may be cut by the head's end
    lines = [line.rstrip("\r") for line in lines]
    if any(len(line) > _LONGEST_SNIFFED for line in lines):
        lines = ["" if len(line) > _LONGEST_SNIFFED else line for line in lines]
        if sum(bool(line.strip()) for line in lines) < 2:
            raise InputError("a line is longer than 1 MB and no table stands before it", where=name,
                             next_step="export the log with one row a line")  # fmt: skip
    return sniff(lines, name)


def _skipped(blocks: Iterator[tuple[bytes, bool]], lines: int) -> Iterator[tuple[bytes, bool]]:
    """The blocks without their first lines (all in the first block, as the head is)."""
    for block, is_last in blocks:
        if lines:
            parts = block.split(b"\n", lines)
            block = parts[lines] if len(parts) > lines else b""
            lines -= len(parts) - 1
        yield block, is_last


def no_columns(unknown: Sequence[str], names: Sequence[str], where: str) -> InputError:
    """The refusal of columns that are not there."""
    told = ", ".join(f"'{name}'" for name in unknown[:5])
    there = ", ".join(f"'{name}'" for name in names[:12]) + (" …" if len(names) > 12 else "")
    return InputError(f"has no column {told}; it has {there}", where=where, next_step="name columns it has")


def _head_facts(sniffed: Sniffed) -> list[LogFact]:
    made = []
    if sniffed.preamble:
        count = len(sniffed.preamble)
        made.append(LogFact("preamble", f"{count} line{'s' if count > 1 else ''} before the table", count))
    if not sniffed.has_header:
        made.append(LogFact("no header", "there is no header; columns are named by their number", 1))
    if sniffed.twice:
        told = ", ".join(f"'{name}'" for name in sniffed.twice[:8])
        count = len(sniffed.twice)
        names = "name stands" if count == 1 else "names stand"
        said = f"{count} {names} for several columns, told apart by their number: {told}"
        made.append(LogFact("repeated names", said, count))
    return made
