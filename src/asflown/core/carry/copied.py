"""What copying number for number would have done."""

from __future__ import annotations

from asflown.core.carry.options import describe
from asflown.core.catalog import ParameterDef


def if_copied(value: str, meant: str | None, new: ParameterDef) -> str | None:
    """Say what the found number would mean in the new release, where that differs.

    Parameters
    ----------
    value
        The value as found.
    meant
        The new value that means the same; ``None`` where it is not known.

    Returns
    -------
    str or None
        One sentence; ``None`` where a copy would have done no harm.
    """
    if meant is None or meant == value:
        return None
    from asflown.core.values import number

    head = f"copied as {value} it would mean {describe(value, new)} where {describe(meant, new)} is meant"
    a, b = number(value), number(meant)
    if not new.choices and not new.bits and a and b:
        ratio = float(a / b)
        times = f"{1 / ratio:.4g} times too small" if abs(ratio) < 1 else f"{ratio:.4g} times too large"
        return f"{head}: {times}"
    return head
