"""The carry-over plan: every line, its account, and the hashes it is sealed to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from asflown.core.carry.before import AS_BEFORE
from asflown.core.carry.dispositions import CONVERTED, Disposition, Line
from asflown.core.catalog import Consequence, worst
from asflown.core.finding import Finding
from asflown.core.record import digest_of


class Purpose(StrEnum):
    """Which of the neighbouring jobs a carry-over does."""

    REFIT = "refit"
    NEW_BOARD = "new board"
    SISTER = "sister aircraft"


@dataclass(frozen=True, slots=True)
class Account:
    """Counts by disposition. ``kept + converted + gone + redo + to_decide == found``; new apart.

    Attributes
    ----------
    found
        Settings found, counted from the record, not from the lines.
    implied
        How many of these a changes-only listing left at their factory values.
    new
        Parameters of the new release that no found setting goes into.
    new_to_decide
        How many of these wait for a person.
    """

    found: int
    kept: int
    converted: int
    gone: int
    redo: int
    to_decide: int
    new: int
    new_to_decide: int = 0
    implied: int = 0

    @property
    def adds_up(self) -> bool:
        """Whether each found setting stands in exactly one line."""
        return self.kept + self.converted + self.gone + self.redo + self.to_decide == self.found


def account(lines: Iterable[Line], found: int) -> Account:
    """Count the found settings by what becomes of them."""
    counts = {"kept": 0, "converted": 0, "gone": 0, "redo": 0, "to_decide": 0}
    new = new_to_decide = implied = 0
    for line in lines:
        if line.is_new_only:
            new += len(line.new) or 1
            new_to_decide += (len(line.new) or 1) if line.is_open else 0
            continue
        counts[_column(line.disposition)] += len(line.old)
        implied += sum(item.implied for item in line.old)
    return Account(found=found, new=new, new_to_decide=new_to_decide, implied=implied, **counts)


def _column(disposition: Disposition) -> str:
    if disposition in CONVERTED:
        return "converted"
    return {
        Disposition.KEEP: "kept",
        Disposition.RETIRE: "gone",
        Disposition.REDO: "redo",
        Disposition.DECIDE: "to_decide",
        Disposition.ADOPT: "converted",
    }[disposition]


@dataclass(frozen=True, slots=True)
class Sealed:
    """One input a plan is sealed to: its name in words, and its hash."""

    name: str
    sha256: str


@dataclass(frozen=True)
class Group:
    """Open lines that one cause explains, decided together.

    Attributes
    ----------
    seconds
        Estimated time to decide it: 20 s to read the question and 5 s a line
        (common practice, no source).
    """

    id: str
    lines: tuple[Line, ...]

    @property
    def consequence(self) -> Consequence:
        """The worst consequence among its lines."""
        return worst(*(line.consequence for line in self.lines))

    @property
    def seconds(self) -> int:
        """Estimated time to decide it, s."""
        return 20 + 5 * len(self.lines)

    @property
    def option_ids(self) -> tuple[str, ...]:
        """Options every line of the group has, in the first line's order."""
        common = set.intersection(*({o.id for o in line.ways} for line in self.lines))
        words = tuple(o.id for o in self.lines[0].ways if o.id in common)
        return (AS_BEFORE, *words) if self.is_mixed_before else words

    @property
    def is_as_before(self) -> bool:
        """Whether every line can be settled as it was decided before."""
        return all(line.before is not None and line.before.option is not None for line in self.lines)

    @property
    def is_mixed_before(self) -> bool:
        """Whether every line can be settled as before, though no one option says so for all."""
        words = {line.before.option for line in self.lines if line.before is not None}
        return self.is_as_before and (len(words) > 1 or "value" in words)


@dataclass(frozen=True)
class Plan:
    """The plan for the settings in a refit.

    Attributes
    ----------
    is_provisional
        Whether the new release's names and factory values are not yet known from the board itself
        or a stated catalog; nothing can be written from a provisional plan.
    provisional_why
        Why, in words.
    inputs
        The named hashes it is sealed to.
    lapsed
        Decisions that no longer find the line they were made about; never dropped silently.
    """

    aircraft: str
    purpose: Purpose
    from_release: str | None
    to_release: str
    found: int
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...] = ()
    is_provisional: bool = False
    provisional_why: str | None = None
    inputs: tuple[Sealed, ...] = ()
    lapsed: tuple[str, ...] = ()
    route: tuple[str, ...] = ()

    @cached_property
    def account(self) -> Account:
        """Counts by disposition."""
        return account(self.lines, self.found)

    @cached_property
    def open_groups(self) -> tuple[Group, ...]:
        """Groups still to decide, safety first."""
        groups: dict[str, list[Line]] = {}
        for line in self.lines:
            if line.is_open:
                groups.setdefault(line.group, []).append(line)
        made = (Group(name, tuple(lines)) for name, lines in groups.items())
        return tuple(sorted(made, key=lambda group: (group.consequence.rank, group.id)))

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """Findings that must be settled before the job goes on."""
        return tuple(finding for finding in self.findings if finding.blocks)

    @cached_property
    def digest(self) -> str:
        """SHA-256 over what the plan says."""
        return digest_of(
            {
                "aircraft": self.aircraft,
                "purpose": self.purpose,
                "from": self.from_release,
                "to": self.to_release,
                "found": self.found,
                "provisional": self.is_provisional,
                "inputs": [[s.name, s.sha256] for s in self.inputs],
                "lines": [
                    [
                        line.id,
                        line.disposition,
                        [[str(f.key), f.value] for f in line.old],
                        [[str(n.key), n.value] for n in line.new],
                    ]
                    for line in self.lines
                ],
            }
        )

    def reverse(self) -> Plan:
        """The plan from as left back to as found.

        Raises
        ------
        ValueError
            When a line is still open.
        """
        lines = tuple(line.reverse() for line in self.lines)
        found = sum(len(line.old) for line in lines)
        return replace(
            self,
            from_release=self.to_release,
            to_release=self.from_release or "",
            found=found,
            lines=lines,
            route=tuple(reversed(self.route)),
        )
