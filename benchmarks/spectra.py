"""Power spectra of a long log against scipy.signal.welch, in one run: ``python benchmarks/spectra.py``."""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import time

import numpy as np
import scipy.signal

from asflown.core.signal.spectrum import Segmenting, cross_spectra, power_spectra

ROWS, COLUMNS, RATE, LENGTH = 1_000_000, 22, 1000.0, 4096


def best(work, repeats=5):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        found = work()
        times.append(time.perf_counter() - start)
    return min(times), found


def main():
    values = np.random.default_rng(0).normal(size=(COLUMNS, ROWS)).astype(np.float32)
    cut = Segmenting(LENGTH)
    ours, found = best(lambda: power_spectra(values, RATE, cut))
    theirs, (_, expected) = best(lambda: scipy.signal.welch(values, RATE, nperseg=LENGTH), repeats=3)
    pair, _ = best(lambda: cross_spectra(values[:3], values[3:6], RATE, cut))
    print(f"{ROWS} rows, {COLUMNS} columns, float32, segments of {LENGTH}, half overlapped, one thread")
    print(f"power_spectra        {ours:.3f} s")
    print(f"scipy.signal.welch   {theirs:.3f} s   ({theirs / ours:.1f} times ours)")
    print(f"cross_spectra 3 x 3  {pair:.3f} s")
    print(f"largest relative difference {np.max(np.abs(found.power / expected - 1.0)[:, 1:]):.1e}")


if __name__ == "__main__":
    main()
