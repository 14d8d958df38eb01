"""Why a firmware may have complained about a setting, told from the carry-over and the catalog."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from asflown.core.carry.dispositions import Disposition, Line
from asflown.core.carry.weigh import check_fit
from asflown.core.catalog import Catalog, Consequence, ParameterDef
from asflown.core.plan import Plan
from asflown.core.record import Key
from asflown.core.replies import Reply, WrittenLine

UNEXPLAINED = "unexplained"


@dataclass(frozen=True, slots=True)
class Explained:
    """A complaint with what is known about its setting.

    Attributes
    ----------
    says
        The explanation, or :data:`UNEXPLAINED`.
    """

    reply: Reply
    says: str
    consequence: Consequence

    @property
    def is_explained(self) -> bool:
        """Whether something was found that explains it."""
        return self.says != UNEXPLAINED


@dataclass(frozen=True)
class Grounds:
    """What explanations are taken from.

    Attributes
    ----------
    catalog
        Of the release the listing was written to; ``None`` where not stated.
    release
        Its name.
    complained
        Names the firmware complained about, or that do not show: a setting that needs one of them
        may have been refused for that.
    """

    plan: Plan
    catalog: Catalog | None
    release: str
    complained: frozenset[str] = frozenset()

    @cached_property
    def by_old(self) -> dict[Key, Line]:
        """Carry-over line by found key."""
        return {item.key: line for line in self.plan.lines for item in line.old}

    @cached_property
    def by_new(self) -> dict[Key, Line]:
        """Carry-over line by key in the new release."""
        return {item.key: line for line in self.plan.lines for item in line.new}

    def explain(self, reply: Reply) -> Explained:
        """Explain one complaint, or say that it is unexplained."""
        written = reply.after
        if written is None or written.key is None:
            return Explained(reply, UNEXPLAINED, Consequence.UNKNOWN)
        line = self.by_new.get(written.key) or self.by_old.get(written.key)
        parameter = self.catalog.by_name.get(written.key.name) if self.catalog else None
        consequence = line.consequence if line else Consequence.UNKNOWN
        if parameter is not None and consequence is Consequence.UNKNOWN:
            consequence = parameter.consequence
        reasons = self._reasons(written, written.key, parameter, line)
        return Explained(reply, next(reasons, UNEXPLAINED), consequence)

    def _reasons(
        self, written: WrittenLine, key: Key, parameter: ParameterDef | None, line: Line | None
    ) -> Iterator[str]:
        """The reasons that hold, likeliest first."""
        if self.catalog is not None and parameter is None:
            yield f"{self.release} has no such name: {self._became(key)}"
        if self.catalog is None and line is not None and key not in self.by_new:
            yield f"not a name the plan has for {self.release}: {self._became(key)}"
        if parameter is not None:
            yield from _unfit(written, parameter)
            yield from self._needs(parameter)
        if line is not None and line.disposition is Disposition.RENAME and key not in self.by_new:
            yield self._became(key)

    def _became(self, key: Key) -> str:
        """What the carry-over says of an old name."""
        line = self.by_old.get(key)
        if line is None:
            return "the carry-over does not know it either"
        now = ", ".join(str(item.key) for item in line.new)
        text = f"disposition {line.disposition}" + (f" to {now}" if now and now != str(key) else "")
        text += f", consequence {line.consequence}"
        return text + (f" ({line.consequence_why})" if line.consequence_why else "")

    def _needs(self, parameter: ParameterDef) -> Iterable[str]:
        wanted = (*parameter.needs, *((parameter.unit_from,) if parameter.unit_from else ()))
        for name in wanted:
            if name in self.complained:
                yield f"it needs {name}, which was refused or not written"


def _unfit(written: WrittenLine, parameter: ParameterDef) -> Iterable[str]:
    if parameter.read_only:
        yield "the device shows this setting and does not take it"
    if parameter.redo:
        yield f"the device makes this value itself: {parameter.redo}"
    if written.value is None:
        return
    fit = check_fit(written.value, parameter)
    if not fit.is_allowed:
        near = f"; the nearest allowed is {fit.nearest}" if fit.nearest is not None else ""
        yield f"value not allowed: {fit.says}{near}"
    elif fit.stored is not None:
        yield f"the device cannot store {written.value} exactly; it stores {fit.stored}"
