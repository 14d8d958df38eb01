"""The file a person pins a firmware's terminal in."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from asflown.formats.written import Written

_Words = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f]+$")]
_Seconds = Annotated[float, Field(gt=0, le=300, allow_inf_nan=False)]


class TerminalFile(Written):
    """The words of one firmware's text terminal, looked up in its manual."""

    firmware: Annotated[str, Field(min_length=1, max_length=60)]
    listing: _Words = Field(description="prints every setting")
    store: _Words | None = Field(
        default=None, description="keeps what is in use, so that it stays after a restart"
    )
    restart: _Words | None = Field(default=None, description="restarts the board")
    enter: _Words | None = Field(default=None, description="to type once before anything else")
    prompt: _Words | None = Field(
        default=None, description="what it prints when it waits; left out: found out"
    )
    complaint: list[_Words] = Field(default=[], description="texts that stand only in a refusal")
    never: list[_Words] = Field(default=[], description="patterns of lines that must never be sent")
    line_end: Literal["cr", "lf", "crlf"] = "crlf"
    quiet: _Seconds = Field(default=1.0, description="seconds without a character: an answer is whole")
    restarts_in: _Seconds = Field(default=20.0, description="seconds a restart may take")
    speed: Annotated[int, Field(strict=True, ge=300, le=12_500_000)] = Field(
        default=115_200, description="bits a second of a serial line"
    )
