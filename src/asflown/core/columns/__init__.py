"""Which column of a log is which canonical signal, in which unit: from names and data, with reasons."""

from asflown.core.columns.apply import apply_layout
from asflown.core.columns.check import check, merge
from asflown.core.columns.propose import propose

__all__ = ["apply_layout", "check", "merge", "propose"]
