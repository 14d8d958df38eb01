"""Terminals drawn from a seed: the form of a setting's line, of banks, of indexes, of remarks and replies."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from asflown.core.record import Key
from asflown.demo.firmware.releases import Firmware
from asflown.demo.grammar import Choose, Command, Nothing, Typed, Write

#: Line forms; ``N`` is the name, ``V`` the value, ``U`` the unit with what parts it from the value.
_FORMS = (
    "let N be V",
    "N = V",
    "N := VU",
    "N: V",
    "put N V",
    'put N "V"',
    "N -> V",
    "have N, V",
    "keep N = V;",
    "| N | V | U |",
)
_BANK_FORMS = ("[B]", "== B ==", "<< B >>", "-- B --")
_INDEX_FORMS = ("[I]", "(I)")
_TITLES = "| name | value | unit |"
_REMARKS = ("#", ";", "//")


@dataclass(frozen=True)
class DrawnTerminal:
    """A terminal whose form was drawn.

    Attributes
    ----------
    form, bank_form, index_form
        Templates, see the module's constants.
    remark
        What begins a remark.
    units
        Whether lines show units (where the form has a place for one).
    answers
        Whether a value taken as typed is answered.
    """

    form: str
    bank_form: str
    index_form: str
    remark: str
    units: bool
    answers: bool
    prompt: str

    @property
    def is_table(self) -> bool:
        """Whether lines are rows of a table with titles."""
        return self.form.startswith("|")

    def print(
        self,
        firmware: Firmware,
        values: Mapping[Key, str],
        board: str,
        in_use: str | None,
        changes_only: bool,
    ) -> Iterator[str]:
        """The lines of a listing."""
        del in_use
        extent = "changed settings only" if changes_only else "all settings"
        yield f"{self.remark} {firmware.family} {firmware.version} on {board}, {extent}"
        if self.is_table:
            yield _TITLES
        bank: str | None = None
        for key, factory in firmware.factory.items():
            value = values.get(key, factory)
            if changes_only and value == factory:
                continue
            if key.bank is not None and key.bank != bank:
                yield self.bank_form.replace("B", key.bank)
            bank = key.bank
            yield self.line(key, value, firmware.by_name[key.name].unit)

    def line(self, key: Key, value: str, unit: str) -> str:
        """One setting."""
        name = key.name + (self.index_form.replace("I", key.index) if key.index is not None else "")
        shown = unit if self.units else ""
        if "VU" in self.form and shown:
            shown = f" {shown}"
        parts = {"N": name, "V": value, "U": shown}
        return re.sub("[NVU]", lambda match: parts[match[0]], self.form)

    @cached_property
    def _line(self) -> re.Pattern[str]:
        index = re.escape(self.index_form).replace("I", r"(?P<index>[0-9]+)")
        parts = {
            "N": rf"(?P<name>[A-Za-z][A-Za-z0-9_.\-]*?)(?:{index})?",
            "V": r"(?P<value>[A-Za-z0-9.+\-]+)",
            "U": r"(?:\s*[^\s|;]+)?",
        }
        escaped = re.sub(r"\\? ", r"\\s+", re.escape(self.form))
        return re.compile(re.sub("[NVU]", lambda match: parts[match[0]], escaped))

    @cached_property
    def _bank(self) -> re.Pattern[str]:
        return re.compile(re.escape(self.bank_form).replace("B", r"([a-z]+ ?[0-9]+)"))

    def read(self, line: str, firmware: Firmware) -> Typed:
        """What a typed line asks for."""
        del firmware
        bare = line.strip()
        if not bare or bare.startswith(self.remark) or " ".join(bare.split()) == _TITLES:
            return Nothing()
        chosen = self._bank.fullmatch(bare)
        if chosen:
            return Choose(chosen[1])
        found = self._line.fullmatch(bare)
        if found:
            return Write(found["name"], found["index"], found["value"])
        return Command(tuple(bare.split()))

    def kept(self, write: Write) -> str:
        """An answer to a value taken as typed, where this terminal gives one."""
        return f"{write.name} is {write.value} now" if self.answers else ""

    def complaint(self, write: Write, says: str) -> str:
        """The setting's name and why."""
        return f"no: {write.name} {says}"


def draw_terminal(rng: random.Random) -> DrawnTerminal:
    """A terminal drawn with a random generator."""
    return DrawnTerminal(
        rng.choice(_FORMS),
        rng.choice(_BANK_FORMS),
        rng.choice(_INDEX_FORMS),
        rng.choice(_REMARKS),
        rng.random() < 0.5,
        rng.random() < 0.5,
        rng.choice(("$ ", "brine> ", "fc:1> ", ">> ")),
    )
