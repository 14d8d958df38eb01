"""The table of exit codes on the page, in ``--help`` and in the errors is one table."""

from __future__ import annotations

import re

from asflown import errors
from asflown.faces.cli.commands import EXIT_CODES

ROW = re.compile(r"^\| (\d+) \| ([^|]+) \|", re.MULTILINE)


def test_page_and_help_agree(root):
    page = (root / "docs" / "reference" / "exit-codes.md").read_text("utf-8")
    assert [(int(code), says.strip()) for code, says in ROW.findall(page)] == list(EXIT_CODES)


def test_every_error_ends_in_a_code_of_the_table():
    kinds = [kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, Exception)]
    assert len(kinds) >= 8
    assert {kind.exit_code for kind in kinds} <= {code for code, _ in EXIT_CODES}


def test_page_names_every_error_that_has_a_code_of_its_own(root):
    page = (root / "docs" / "reference" / "exit-codes.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| (\d+) \| [^|]+ \| ([^|]*) \|", page, re.MULTILINE))
    for kind in vars(errors).values():
        if (
            isinstance(kind, type)
            and issubclass(kind, errors.AsflownError)
            and kind is not errors.AsflownError
        ):
            assert f"`{kind.__name__}`" in rows[str(kind.exit_code)], kind.__name__
