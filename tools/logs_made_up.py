"""Flight logs for fuzzing: valid ones of every kind that is read, and ones made up of odd cells and lines."""

from __future__ import annotations

import gzip
import io
import math
import random
from collections.abc import Callable

_NAMES = [
    "time", "time_us", "t [s]", "stamp", "gyro x [deg/s]", "gyro_y (rad/s)", "rate.yaw", "accel z [m/s2]",
    "motor[1]", "motor[2]", "Voltage/V", "mode", "armed", "note", "", "a", "a", "temp [°C]", "rpm_1",
    "alt (m)",
]  # fmt: skip
_SEPARATORS = [",", ",", ";", "\t", "|", " ", "  ", ", "]
_ODD = [
    "", "-", "nan", "NaN", "inf", "-inf", "NA", "x", "0x1F", "1e400", "1e-400", "true", "#", '"', '""', "'",
    '"a,b"', "1,5", "1.234,5", "1,234.5", "12:34:56.7", "23:59:60", "99:99", "2026-03-07T09:12:44Z",
    "2026-02-30", "9999-99-99", "1_0", "+-1", "1.2.3", "--", "9" * 400, "\0", "µ", "\ufeff", "\r", "\t",
    " 5 ",
]  # fmt: skip
_LINES = [
    "",
    "#",
    "# restart",
    "// x",
    "%",
    ";",
    "key: value",
    "log = 3",
    ",,,",
    '"',
    "\0" * 30,
    "1",
    "x" * 3000,
]
_ENCODINGS = ["utf-8"] * 8 + ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "cp1252"]


def valid_logs() -> list[bytes]:
    """One small valid log of each kind."""
    import polars as pl

    rows = range(40)
    rate = [math.sin(0.3 * row) for row in rows]
    header = ["time_us", "gyro x [deg/s]", "mode", "Voltage/V"]
    mode = ["hold" if row < 20 else "free" for row in rows]
    volts = [16.8 - 0.01 * row for row in rows]
    body = [(1000 * row, round(rate[row], 4), mode[row], round(volts[row], 2)) for row in rows]

    def text(sign: str, end: str = "\n", comma: bool = False) -> str:
        lines = [header, *([str(cell) for cell in row] for row in body)]
        made = end.join(sign.join(line) for line in lines) + end
        return made.replace(".", ",") if comma else made

    plain = text(",")
    frame = pl.DataFrame(body, schema=header, orient="row")
    parquet, file, stream = io.BytesIO(), io.BytesIO(), io.BytesIO()
    frame.write_parquet(parquet)
    frame.write_ipc(file)
    frame.write_ipc_stream(stream)
    clock = "".join(f"23:59:{row + 20:02d}.5,{row}\n" for row in rows)
    dates = "".join(f"2026-03-07T09:12:{row:02d}.250+01:00;{row},5\n" for row in rows)
    preamble = "firmware: reed 3\nlogged at: 2026-03-07\n# bench\n"
    return [
        plain.encode(), text(";", comma=True).encode(), text("\t", "\r\n").encode(), text("|").encode(),
        text("  ").replace("gyro x ", "gyro_x").encode(), (preamble + plain).encode(),
        (plain + preamble + plain).encode(), text(",", "\r").encode(), plain.encode("utf-16"),
        ("stamp,n\n" + clock).encode(), ("stamp;n\n" + dates).encode(),
        gzip.compress(plain.encode(), mtime=0),
        ("time,rate,volt\ns,deg/s,V\n" + "".join(f"{row},{row}.5,{row}\n" for row in rows)).encode(),
        plain.replace("hold", '"hold, high"').encode(), parquet.getvalue(), file.getvalue(),
        stream.getvalue(),
    ]  # fmt: skip


def invented_log(rng: random.Random) -> bytes:
    """A log with a random way of writing, random columns, and some odd cells and lines."""
    width = rng.choice((1, 2, 3, 4, 6, 12))
    sign = rng.choice(_SEPARATORS)
    cells = [rng.choice(_CELLS) for _ in range(width)]
    odd_cells, odd_lines = rng.choice((0.0, 0.0, 0.02, 0.3)), rng.choice((0.0, 0.0, 0.05, 0.3))
    lines = [rng.choice(_LINES) for _ in range(rng.choice((0, 0, 1, 4)))]
    header = sign.join(rng.choice(_NAMES) for _ in range(width))
    lines += [header] * rng.choice((0, 1, 1, 1))
    for row in range(rng.choice((0, 1, 5, 40, 200))):
        if rng.random() < odd_lines:
            lines.append(rng.choice([*_LINES, header, header[:3]]))
            continue
        values = [rng.choice(_ODD) if rng.random() < odd_cells else cell(row, rng) for cell in cells]
        values = values[: rng.randint(0, width)] if rng.random() < odd_lines else values
        lines.append(sign.join(values))
    text = rng.choice(("\n", "\n", "\n", "\r\n", "\r")).join(lines) + rng.choice(("\n", "\n", ""))
    data = text.encode(rng.choice(_ENCODINGS), "replace")
    return gzip.compress(data, mtime=0) if rng.random() < 0.05 else data


Cell = Callable[[int, random.Random], str]
_CELLS: tuple[Cell, ...] = (
    lambda row, rng: str(row * 1000),
    lambda row, rng: f"{row * 0.001:.3f}",
    lambda row, rng: f"{rng.gauss(0, 300):.4f}",
    lambda row, rng: f"{rng.gauss(0, 300):.2f}".replace(".", ","),
    lambda row, rng: f"{rng.gauss(0, 1e9):.6g}",
    lambda row, rng: rng.choice(("hold", "free", "")),
    lambda row, rng: str(row // 50),
    lambda row, rng: f"12:{row // 60 % 60:02d}:{row % 60:02d}.{rng.randrange(1000):03d}",
    lambda row, rng: f"2026-03-07 09:{row // 60 % 60:02d}:{row % 60:02d}",
    lambda row, rng: "",
    lambda row, rng: hex(row),
    lambda row, rng: str(1_700_000_000_000_000 + row * 1000),
)
