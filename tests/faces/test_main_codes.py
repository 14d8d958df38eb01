"""The entry point: help, usage errors, faults, Ctrl-C, broken pipes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from asflown.errors import AsflownError, Damaged, DoesNotFit, Fault, InputError, NeedsPerson, StoreError
from asflown.faces.cli.commands import COMMANDS, EXIT_CODES
from asflown.faces.cli.main import main

ASFLOWN = Path(sys.executable).with_name("asflown")


def test_help_lists_every_command_and_every_code(capsys):
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    for command in COMMANDS:
        assert f"  {command.name} " in text
        assert command.says in text
    for code, says in EXIT_CODES:
        assert f"  {code:<4} {says}" in text


def test_no_command_shows_the_help_and_is_bad_usage(capsys):
    assert main([]) == 1
    assert "Usage: asflown" in capsys.readouterr().out


def test_version(capsys):
    from asflown import __version__

    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"asflown {__version__}\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["plann"], "plann"),
        (["completion"], "SHELL"),
        (["completion", "tcsh"], "tcsh"),
        (["completion", "bash", "--nope"], "--nope"),
        (["completion", "bash", "more"], "more"),
    ],
)
def test_bad_usage_is_code_1_with_a_next_step_and_no_traceback(words, says, capsys):
    assert main(words) == 1
    out = capsys.readouterr()
    assert out.out == ""
    assert says in out.err
    assert out.err.startswith("asflown: ")
    assert "next: see `asflown" in out.err
    assert "Traceback" not in out.err


def test_an_error_as_json_is_one_object_on_standard_error(capsys):
    assert main(["completion", "tcsh", "--json"]) == 1
    out = capsys.readouterr()
    assert out.out == ""
    error = json.loads(out.err)["error"]
    assert error["kind"] == "UsageError"
    assert error["exit_code"] == 1
    assert set(error) == {"kind", "what", "where", "faults", "next", "exit_code"}


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (InputError("x"), 1),
        (NeedsPerson("x"), 2),
        (DoesNotFit("x"), 5),
        (Damaged("x"), 6),
        (StoreError("x"), 7),
    ],
)
def test_every_error_has_its_code(error: AsflownError, code, monkeypatch, capsys):
    def broken(**_):
        raise error

    monkeypatch.setattr("asflown.faces.cli.main.build", lambda: lambda words: broken())
    assert main(["plan"]) == code
    assert capsys.readouterr().err == "asflown: x\n"


def test_all_faults_of_one_input_are_printed(monkeypatch, capsys):
    error = InputError(
        "two faults",
        where="notes.toml",
        faults=(Fault("a", "line 1"), Fault("b", "line 2")),
        next_step="mend",
    )

    def broken(words):
        raise error

    monkeypatch.setattr("asflown.faces.cli.main.build", lambda: broken)
    assert main(["plan"]) == 1
    assert capsys.readouterr().err == (
        "asflown: notes.toml: two faults\n  line 1: a\n  line 2: b\nnext: mend\n"
    )


def test_a_fault_of_our_own_is_code_70_and_says_how_to_report(monkeypatch, capsys):
    def broken(words):
        raise RuntimeError("something nobody thought of")

    monkeypatch.setattr("asflown.faces.cli.main.build", lambda: broken)
    monkeypatch.delenv("ASFLOWN_TRACE", raising=False)
    assert main(["plan"]) == 70
    err = capsys.readouterr().err
    assert "ASFLOWN_TRACE=1" in err
    assert "something nobody thought of" in err
    assert "Traceback" not in err
    monkeypatch.setenv("ASFLOWN_TRACE", "1")
    assert main(["plan"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_ctrl_c_is_code_130(monkeypatch, capsys):
    def broken(words):
        raise KeyboardInterrupt

    monkeypatch.setattr("asflown.faces.cli.main.build", lambda: broken)
    assert main(["plan"]) == 130
    assert "what was finished before is kept" in capsys.readouterr().err


def test_a_reader_that_goes_away_is_quiet():
    shell = f"'{ASFLOWN}' --help | true; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False)
    assert done.stderr == ""
    assert done.returncode == 0


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_knows_every_command(shell, capsys):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    for command in COMMANDS:
        assert command.name in script


def test_every_command_has_help_with_an_example(capsys):
    from asflown.faces.cli.main import build

    seen = 0
    for path in _paths(build(), ()):
        assert main([*path, "--help"]) == 0
        text = capsys.readouterr().out
        assert text.startswith(f"Usage: asflown {' '.join(path)}")
        if "COMMAND" not in text.splitlines()[0]:
            assert "Example: asflown" in text, path
            assert "--store" in text, path
            assert "--json" in text, path
            assert "--plain" in text, path
            seen += 1
    assert seen >= 15


def _paths(app, before):
    for name in app:
        if not name.startswith("-"):
            yield (*before, name)
            yield from _paths(app[name], (*before, name))


def test_the_real_program_has_the_same_codes():
    env = {k: v for k, v in os.environ.items() if not k.startswith("ASFLOWN")}
    for words, code in ((["--help"], 0), ([], 1), (["plann"], 1)):
        done = subprocess.run([ASFLOWN, *words], capture_output=True, text=True, check=False, env=env)
        assert done.returncode == code
        assert "\x1b" not in done.stdout + done.stderr
