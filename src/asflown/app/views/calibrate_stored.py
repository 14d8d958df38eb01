"""The sheet of a calibration that was written into the aircraft's settings."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from asflown.app.calibrate.write import Stored
from asflown.app.views.sheet import Sheet, Table, counted


def stored_sheet(made: Stored) -> Sheet:
    """What each setting held, was to hold, and holds now."""
    one = made.calibration
    lost = [line.name for line in made.lines if not line.is_held]
    return Sheet(
        title=f"Calibration of the {one.what}, written",
        head=(
            ("aircraft", one.aircraft),
            ("date", made.at),
            ("calibration", f"{one.id}, {one.when.value}"),
            ("release", made.release),
            ("link", made.address),
            ("confirmed", made.confirmed),
        ),
        sentence=f"{counted(len(made.lines), 'setting')} written, stored, and read again after a restart."
        if not lost
        else f"NOT held: {', '.join(lost)}.",
        warnings=("propellers stay off until the bench cards are done",),
        tables=(
            Table(
                ("setting", "before#", "written#", "held now#", "unit"),
                tuple(
                    (line.name, _shown(line.before), _shown(line.wanted), _shown(line.after), line.unit)
                    for line in made.lines
                ),
            ),
        ),
        next_act=(
            f"measure it again, and keep it: asflown calibrate {one.what} … --as-left",
            "look at the orientation and the level by hand: asflown bench",
        )
        if not lost
        else ("see what the aircraft refuses, and write it again",),
    )


def _shown(value: Decimal) -> str:
    return f"{float(value):.6g}"


def stored_json(made: Stored) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "aircraft": made.calibration.aircraft,
        "calibration": made.calibration.id,
        "what": made.calibration.what,
        "release": made.release,
        "link": made.address,
        "held": made.is_held,
        "settings": [
            {
                "name": line.name,
                "unit": line.unit,
                "before": float(line.before),
                "written": float(line.wanted),
                "after": float(line.after),
                "held": line.is_held,
            }
            for line in made.lines
        ],
    }
