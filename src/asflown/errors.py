"""The one family of errors. Each says what was wrong, where, and what to do next."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in an input.

    Attributes
    ----------
    what
        What was found and what was expected, in lower case, without a full stop.
    where
        File, line, field or setting, e.g. ``notes.toml:12 change[3].factor``.
    """

    what: str
    where: str | None = None

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" if self.where else self.what


class AsflownError(Exception):
    """Root of every error asflown raises on purpose.

    Parameters
    ----------
    what
        What happened, in lower case.
    where
        File, line, field or setting.
    next_step
        What the person can do now.
    faults
        All faults found in one input, when there are several.
    """

    #: The exit code of a command that ends in this error (see docs/reference/exit-codes.md).
    exit_code = 1

    def __init__(
        self,
        what: str,
        *,
        where: str | None = None,
        next_step: str | None = None,
        faults: tuple[Fault, ...] = (),
    ) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.next_step = next_step
        self.faults = faults

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        lines = [head, *(f"  {fault}" for fault in self.faults)]
        if self.next_step:
            lines.append(f"next: {self.next_step}")
        return "\n".join(lines)


class InputError(AsflownError):
    """An input cannot be used as it is: exit code 1."""


class UsageError(AsflownError):
    """The command was asked for something that does not exist or makes no sense: exit code 1."""


class NeedsPerson(AsflownError):
    """Something is open that only a person can settle: exit code 2."""

    exit_code = 2


class Stale(NeedsPerson):
    """A plan is sealed to inputs that have moved since: exit code 2."""


class DoesNotFit(AsflownError):
    """Something does not fit (an image, a port plan): exit code 5."""

    exit_code = 5


class Damaged(AsflownError):
    """Something kept is no longer what it was: exit code 6."""

    exit_code = 6


class DeviceError(AsflownError):
    """A board did not do what was asked, or is not there any more: exit code 7.

    Attributes
    ----------
    step
        What was asked, e.g. ``erasing sector 3``.
    trouble
        ``refused``: it said no. ``not allowed``: it said no to the very command, as a protected flash does.
        ``silent``: it said nothing. ``nonsense``: it said something else. ``lost``: the link is gone.
    """

    exit_code = 7

    def __init__(
        self, step: str, what: str, *, trouble: str = "nonsense", next_step: str | None = None
    ) -> None:
        super().__init__(f"{step}: {what}", next_step=next_step)
        self.step = step
        self.trouble = trouble


class StoreError(AsflownError):
    """The store cannot be opened, read or written: exit code 7."""

    exit_code = 7
