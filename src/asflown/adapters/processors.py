"""The processor tables that come with asflown."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asflown.core.ports.processor import Processor

_FOLDER = "processors"


@lru_cache(maxsize=1)
def processor_names() -> tuple[str, ...]:
    """Names of all processors there is a table for."""
    folder = files("asflown.data") / _FOLDER
    return tuple(sorted(item.name[:-5] for item in folder.iterdir() if item.name.endswith(".json")))


@lru_cache(maxsize=8)
def load_processor(part: str) -> Processor | None:
    """The table of a part, whatever its package; ``None`` where there is none."""
    from asflown.core.ports.processor import split
    from asflown.formats.processor_table import read

    name = split(part)[0]
    if name not in processor_names():
        return None
    return read((files("asflown.data") / _FOLDER / f"{name}.json").read_bytes())
