"""No name of an existing product stands in the tree."""

from __future__ import annotations

import subprocess
import sys


def test_no_borrowed_names(root, shared):
    done = subprocess.run(
        [sys.executable, str(shared / "tools" / "names_check"), str(root)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.stdout == ""
    assert done.returncode == 0
