"""Which side comes next, whether it was still enough, and for how long: in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asflown.app.views.sheet import Sheet, Table, counted

if TYPE_CHECKING:
    from asflown.app.calibrate.accelerometer import Placed


def guide_sheet(put: Placed) -> Sheet:
    """The positions so far, and the next one."""
    from asflown.app.calibrate.accelerometer import CAUTIONS

    why = put.why_not
    return Sheet(
        title="Positions of the accelerometer",
        head=(
            ("logs", ", ".join(one.name for one in put.motions) or "none yet"),
            ("wanted", f"{put.seconds_wanted:.0f} s still in each position"),
        ),
        sentence=f"{counted(len(put.positions), 'position')} so far; {why or 'enough to compute from'}.",
        warnings=CAUTIONS,
        tables=(
            Table(
                ("side", "off it, deg#", "still, s#", "is it enough"),
                tuple(_rows(put)),
                empty="no rest of 2 s or more was found",
            ),
            Table(
                ("log at, s#", "lasted, s#", "why it is not used"),
                tuple((f"{one.start:.1f}", f"{one.seconds:.1f}", one.why) for one in put.unused),
                title="Not used",
                empty="nothing: every rest counts",
            ),
        ),
        notes=(
            "words are of the log's axes: x forward, y right, z down; where the sheet calls a side by its"
            " opposite, the log's axes point the other way: the computing does not mind",
        ),
        next_act=tuple(next_steps(put)),
    )


def _rows(put: Placed) -> list[tuple[str, str, str, str]]:
    wanted = put.seconds_wanted
    return [
        (
            name,
            f"{off:.1f}",
            f"{one.seconds:.1f}",
            "yes" if one.seconds >= wanted - 0.5 else f"too short: {wanted:.0f} s are wanted",
        )
        for (name, off), one in zip(put.sides, put.positions, strict=True)
    ]


def next_steps(put: Placed) -> list[str]:
    """What to do next, best first."""
    seconds = f"{put.seconds_wanted:.0f} s, hands off where it stands by itself"
    if put.lacking:
        first, *others = put.lacking
        made = [f"lay it {first.name} ({first.says}) and keep it still for {seconds}"]
        return [*made, f"after that: {', '.join(one.name for one in others)}"] if others else made
    made = ["enough: the same without --guide"]
    if put.between:
        a, b = put.between[0]
        made.append(
            f"for the skew of the axes too, prop it half-way between {a.name} and {b.name}, about 45 degrees,"
            f" for {put.seconds_wanted:.0f} s"
        )
    return made


def guide_json(put: Placed) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "positions": [
            {"side": name, "off_deg": off, "seconds": one.seconds, "start": one.start, "mean": list(one.mean)}
            for (name, off), one in zip(put.sides, put.positions, strict=True)
        ],
        "unused": [{"start": one.start, "seconds": one.seconds, "why": one.why} for one in put.unused],
        "seconds_wanted": put.seconds_wanted,
        "missing": [side.name for side in put.lacking],
        "enough": not put.why_not,
        "why": put.why_not,
        "next": next_steps(put),
    }
