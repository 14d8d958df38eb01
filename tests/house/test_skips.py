"""In CI a test on shared data that was skipped has failed; elsewhere it is skipped."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = {
    "test_by_fixture.py": "def test_it(shared):\n    assert shared.is_dir()\n",
    "test_by_mark.py": "import pytest\n@pytest.mark.shared_data\ndef test_it():\n    pytest.skip('not there')\n",
    "test_by_condition.py": (
        "import pytest\n@pytest.mark.shared_data\n@pytest.mark.skipif(True, reason='not there')\ndef test_it(): ...\n"
    ),
    "test_other.py": "import pytest\ndef test_it():\n    pytest.skip('no such machine')\n",
    "test_expected.py": "import pytest\n@pytest.mark.shared_data\n@pytest.mark.xfail\ndef test_it():\n    assert 0\n",
    "test_whole_file.py": "import pytest\npytest.skip('not there', allow_module_level=True)\n",
}


@pytest.fixture
def run(root, tmp_path):
    """Run one of the files above with the project's own conftest, with no shared folder beside it."""
    folder = tmp_path / "project" / "tests"
    folder.mkdir(parents=True)
    shutil.copy(root / "tests" / "conftest.py", folder)
    (folder / "pytest.ini").write_text("[pytest]\nmarkers =\n    shared_data: x\n")

    def run_one(name: str, *, ci: str, words: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
        (folder / name).write_text(TESTS[name])
        kept = {
            key: value
            for key, value in os.environ.items()
            if not key.startswith(("CI", "PYTEST_", "HYPOTHESIS_"))
        }
        return subprocess.run(
            [
                sys.executable,
                "-m",
                "pytest",
                "-q",
                "-p",
                "no:cacheprovider",
                "-p",
                "no:randomly",
                *words,
                name,
            ],
            cwd=folder,
            env={**kept, "CI": ci},
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    return run_one


@pytest.mark.parametrize(
    "name", ["test_by_fixture.py", "test_by_mark.py", "test_by_condition.py", "test_whole_file.py"]
)
def test_a_skip_in_ci_is_a_failure(run, name):
    done = run(name, ci="true")
    assert done.returncode != 0
    assert "must not be skipped in CI" in done.stdout
    assert "1 skipped" not in done.stdout


def test_a_skip_on_a_worker_is_a_failure_too(run):
    assert run("test_by_fixture.py", ci="1", words=("-n", "1")).returncode == 1


@pytest.mark.parametrize(
    ("name", "told"), [("test_other.py", "1 skipped"), ("test_expected.py", "1 xfailed")]
)
def test_what_has_nothing_to_do_with_shared_data_may_be_skipped(run, name, told):
    done = run(name, ci="true")
    assert done.returncode == 0
    assert told in done.stdout


@pytest.mark.parametrize("name", ["test_by_fixture.py", "test_by_mark.py", "test_by_condition.py"])
def test_a_skip_elsewhere_is_a_skip(run, name):
    done = run(name, ci="")
    assert done.returncode == 0
    assert "1 skipped" in done.stdout


def test_whoever_reads_shared_data_says_so(root):
    silent = []
    for path in sorted((root / "tests").rglob("test_*.py")):
        if path.name == Path(__file__).name:
            continue
        tree = ast.parse(path.read_text("utf-8"))
        names = {node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)}
        marks = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        words = {
            node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
        reads = any(word == "shared" or word.startswith("../shared") for word in words)
        if reads and "shared" not in names and "shared_data" not in marks:
            silent.append(str(path.relative_to(root)))
    assert silent == []
