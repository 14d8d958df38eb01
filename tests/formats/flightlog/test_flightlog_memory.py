"""A log larger than the memory it may take is read within it."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import polars as pl
import pytest

PROGRAM = """
import json, resource, sys
from asflown.adapters.log_file import LogFile
from asflown.formats.flightlog import read_log
import asflown.formats.flightlog.delimited, asflown.formats.flightlog.parquet_arrow
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
table = read_log(LogFile(sys.argv[1]), limit_bytes=60_000_000)
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps([table.rows, table.thinned, len(table.columns), (peak - before) / 1024]))
"""


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_peak_memory_follows_the_limit(tmp_path, kind):
    """A log of 2.4 million rows at 8 kHz: 460 MB of text; numbers may take 60 MB."""
    rng = np.random.default_rng(5)
    count = 300_000
    names = [f"gyro_{number} [deg/s]" for number in range(18)]
    path = tmp_path / f"flight.{kind}"
    frames = []
    with path.open("wb") as stream:
        for part in range(8):
            time = (np.arange(count, dtype=np.int64) + part * count) * 125
            columns = {name: rng.normal(0, 300, count) for name in names}
            frame = pl.DataFrame({"time_us": time, **columns})
            if kind == "csv":
                frame.write_csv(stream, include_header=part == 0, float_precision=5)
            else:
                frames.append(frame.cast({name: pl.Float32 for name in names}))
        if kind == "parquet":
            pl.concat(frames).write_parquet(stream)
            frames.clear()
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path)], capture_output=True, text=True, check=True, timeout=200
    )
    rows, thinned, columns, grown = json.loads(done.stdout)
    assert thinned == 4  # 2.4e6 rows of 80 bytes into 60 MB
    assert rows == 600_000
    assert columns == 19
    assert grown < 400  # MB
