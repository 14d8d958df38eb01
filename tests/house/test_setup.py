"""The set-up script on machines that lack something, acted out with programs of our own on the path."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

#: Plays Python: says whether it is usable, and makes an environment whose pip writes down what it is asked.
PYTHON = """#!/bin/bash
case "$*" in
  *ensurepip*) [ -e "$MACHINE/has-venv" ] ;;
  --version) echo "Python 3.11.2" ;;
  "-m venv --clear "*) mkdir -p .venv/bin && cp "$0" .venv/bin/python && echo made >>"$MACHINE/log" ;;
  *pip*install*-e*) echo "own" >>"$MACHINE/log"; cp "$0" .venv/bin/asflown ;;
  *pip*install*) [ ! -e "$MACHINE/pip-fails" ] || exit 1; echo "locked" >>"$MACHINE/log" ;;
esac
"""
APT = '#!/bin/bash\necho "apt $1" >>"$MACHINE/log"\n[ "$1" != install ] || touch "$MACHINE/has-venv"\n'
NEEDED = ("bash", "cat", "cp", "cut", "dirname", "flock", "mkdir", "rm", "sha256sum", "touch")


class Machine:
    """A copy of the project's set-up, and a path with nothing on it but what a test puts there."""

    def __init__(self, root: Path, folder: Path) -> None:
        self.folder = folder
        self.project = folder / "project"
        for name in ("tools/setup", "requirements/dev.txt", "pyproject.toml"):
            (self.project / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(root / name, self.project / name)
        (folder / "bin").mkdir()
        for name in NEEDED:
            found = shutil.which(name)
            assert found, name
            (folder / "bin" / name).symlink_to(found)

    def has(self, name: str, script: str) -> None:
        path = self.folder / "bin" / name
        path.write_text(script)
        path.chmod(0o755)

    def set_up(self, *words: str, **variables: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self.project / "tools" / "setup"), *words],
            cwd=self.folder,
            env={"PATH": str(self.folder / "bin"), "MACHINE": str(self.folder), **variables},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    def log(self) -> list[str]:
        path = self.folder / "log"
        return path.read_text().split("\n")[:-1] if path.exists() else []


@pytest.fixture
def machine(root, tmp_path):
    made = Machine(root, tmp_path)
    made.has("python3.11", PYTHON)
    made.has("id", "#!/bin/bash\necho 0\n")
    return made


def test_it_sets_up_once(machine):
    (machine.folder / "has-venv").touch()
    first = machine.set_up()
    assert (first.returncode, first.stderr) == (0, "")
    assert machine.log() == ["made", "locked", "own"]
    second = machine.set_up()
    assert (second.returncode, second.stdout) == (0, "")
    assert machine.log() == ["made", "locked", "own"]


def test_moved_requirements_are_installed_into_the_same_environment(machine):
    (machine.folder / "has-venv").touch()
    machine.set_up()
    with (machine.project / "requirements" / "dev.txt").open("a") as file:
        file.write("# more\n")
    assert machine.set_up().returncode == 0
    assert machine.log() == ["made", "locked", "own", "locked", "own"]


def test_a_moved_project_is_installed_again(machine):
    (machine.folder / "has-venv").touch()
    machine.set_up()
    machine.project = machine.project.rename(machine.folder / "elsewhere")
    assert machine.set_up().returncode == 0
    assert machine.log() == ["made", "locked", "own", "locked", "own"]
    assert machine.set_up().stdout == ""


def test_a_failed_install_is_tried_again(machine):
    (machine.folder / "has-venv").touch()
    (machine.folder / "pip-fails").touch()
    assert machine.set_up().returncode != 0
    (machine.folder / "pip-fails").unlink()
    assert machine.set_up().returncode == 0
    assert machine.log() == ["made", "locked", "own"]


def test_root_gets_the_debian_packages(machine):
    machine.has("apt-get", APT)
    assert machine.set_up().returncode == 0
    assert machine.log() == ["apt update", "apt install", "made", "locked", "own"]


def test_anybody_else_is_told_what_to_run(machine):
    machine.has("apt-get", APT)
    machine.has("id", "#!/bin/bash\necho 1000\n")
    done = machine.set_up()
    assert done.returncode == 1
    assert "Debian packages are missing: python3 python3-venv" in done.stderr
    assert "next: run as root: apt-get update && apt-get install -y" in done.stderr
    assert machine.log() == []


def test_another_system_is_told_what_is_missing(machine):
    done = machine.set_up()
    assert done.returncode == 1
    assert "next: install Python 3.11 with its venv module" in done.stderr


def test_a_python_with_nothing_behind_it_is_passed_over(machine):
    (machine.folder / "has-venv").touch()
    machine.has("python3", PYTHON)
    machine.has("python3.11", "#!/bin/bash\nexit 127\n")
    assert machine.set_up().returncode == 0
    assert machine.log() == ["made", "locked", "own"]


def test_an_unusable_python_asked_for_is_refused(machine):
    done = machine.set_up(ASFLOWN_PYTHON="no-such-python")
    assert done.returncode == 1
    assert "ASFLOWN_PYTHON=no-such-python is no Python 3.11 or later with venv" in done.stderr
    assert "next: " in done.stderr
    assert machine.log() == []


DPKG = '#!/bin/bash\n[ -e "$MACHINE/has-venv" ] || exit 1\necho "install ok installed"\n'


def test_tests_need_a_browser_and_the_libraries_of_pdfs(machine):
    machine.has("apt-get", APT)
    machine.has("dpkg-query", DPKG)
    (machine.folder / "bin" / "grep").symlink_to(shutil.which("grep"))
    done = machine.set_up("tests")
    assert done.returncode == 0, done.stderr
    assert "installing Debian packages: chromium libpango-1.0-0" in done.stdout
    assert machine.log()[:2] == ["apt update", "apt install"]
    machine.set_up("tests")
    assert machine.log().count("apt install") == 1
