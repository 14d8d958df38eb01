"""Whether a value can stand under a definition, and at what loss."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from asflown.core.catalog import ParameterDef, ValueKind

#: A change of value below this share is called slight: 0.5 % is under what a pilot or a meter tells
#: apart (common practice, no source).
SLIGHT = Decimal("0.005")


@dataclass(frozen=True)
class Fit:
    """How a value fits.

    Attributes
    ----------
    stored
        What the device would store instead, where it cannot hold the value exactly.
    nearest
        The nearest allowed value, where it is not allowed.
    is_slight
        Whether what is lost is below :data:`SLIGHT`.
    """

    is_allowed: bool
    stored: str | None = None
    nearest: str | None = None
    says: str = ""
    is_slight: bool = True


def check_fit(value: str, definition: ParameterDef) -> Fit:
    """Check a value against the choices, the range and the precision of a parameter. Nothing is clipped."""
    if definition.choice_label(value) is not None:
        return Fit(True)
    if definition.choices and definition.kind in (ValueKind.CHOICE, ValueKind.FLAG):
        allowed = ", ".join(f"{c.value} ({c.label})" for c in definition.choices)
        return Fit(False, says=f"{value} is none of the choices {allowed}")
    from asflown.core.values import in_range, number, stored

    fault = in_range(value, definition)
    if fault is not None:
        return Fit(False, nearest=fault.nearest, says=fault.says)
    held = stored(value, definition)
    before, after = number(value), number(held or "")
    if before is None or after is None or before == after:
        return Fit(True)
    return Fit(True, stored=held, is_slight=abs(after - before) <= abs(before) * SLIGHT)
