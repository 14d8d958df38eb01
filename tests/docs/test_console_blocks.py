"""The documentation shows what really happens. ASFLOWN_DOCS_UPDATE=1 (`make docs-update`) rewrites it."""

from __future__ import annotations

import os
from itertools import count
from pathlib import Path

import pytest
from console_blocks import Ran, Step, blocks, differences, line_matches, matches, rewritten, run_page

ROOT = Path(__file__).resolve().parents[2]
PAGES = tuple(
    page
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md")))
    if "_build" not in page.parts and page.is_file()
)
UPDATE = bool(os.environ.get("ASFLOWN_DOCS_UPDATE"))
#: The exit code of a fault in asflown itself.
FAULT = 70


@pytest.fixture
def new_folder(tmp_path):
    numbers = count(1)

    def make() -> Path:
        folder = tmp_path / str(next(numbers))
        folder.mkdir()
        return folder

    return make


def _is_faulty(one: Ran) -> bool:
    """Whether asflown itself failed, also inside the worked example, which then ends in 1."""
    return one.exit_code == FAULT or any("a fault in asflown itself:" in line for line in one.printed)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_page_tells_the_truth(page, new_folder):
    text = page.read_text("utf-8")
    done = run_page(text, new_folder)
    faulty = [one.step.command for _, ran in done for one in ran if _is_faulty(one)]
    assert not faulty, f"a fault in asflown itself, nothing of it goes onto a page: {faulty}"
    if UPDATE:
        page.write_text(rewritten(text, done), "utf-8")
        return
    wrong = differences(str(page.relative_to(ROOT)), tuple(one for _, ran in done for one in ran))
    assert not wrong, "\n".join(["a page shows something else; `make docs-update` rewrites it", *wrong])


PAGE = """\
# A page

```{code-block} text
:caption: made/before.txt

one
two
```

```console
$ cat made/before.txt
one
two
$ export WHAT="a $((1 + 1))"; cd made; echo $ASFLOWN_STORE
~/store
```

```console
# continues
$ echo $WHAT; ls
a 2
before.txt
$ cat <<'END'
> - a line
>
> END
- a line

$ false  # exit 1
$ date +%Y-%m-%dT%H:%M
20…T…:…
$ seq 1 30
1
…
30
```

<!-- not run: it would install something -->

```console
$ exit 99
```

<!-- continues -->
```console
$ pwd
~/made
```

```console
$ ls
```
"""


def test_a_true_page_has_no_differences(new_folder):
    done = run_page(PAGE, new_folder)
    assert differences("page.md", tuple(one for _, ran in done for one in ran)) == []
    assert sum(len(ran) for _, ran in done) == 9
    assert rewritten(PAGE, done) == PAGE


@pytest.mark.parametrize(
    ("true", "false", "said"),
    [
        ("a 2\n", "a 3\n", "  page:    a 3"),
        ("$ false  # exit 1", "$ false", "  exit code 1, the page says 0"),
        ("…\n30\n", "…\n31\n", "  page:    31"),
        ("one\ntwo\n$", "one\n$", "  printed: two"),
        ("~/made\n", "", "  printed: ~/made"),
    ],
)
def test_a_false_page_is_told_and_mended(new_folder, true, false, said):
    page = PAGE.replace(true, false)
    assert page != PAGE
    done = run_page(page, new_folder)
    assert said in differences("page.md", tuple(one for _, ran in done for one in ran))
    mended = rewritten(page, done)
    again = run_page(mended, new_folder)
    assert differences("page.md", tuple(one for _, ran in again for one in ran)) == []


def test_rewriting_keeps_what_passes_out_of_the_page():
    step = Step(1, "asflown found x", ("record … kept", "gone"))
    printed = ("record 12 kept", "at 2026-03-07T09:12:44+01:00, sha256 0123456789abcdef", "last")
    page = "```console\n$ asflown found x\nrecord … kept\ngone\n```"
    done = ((blocks(page)[0], (Ran(step, printed, 2),)),)
    assert rewritten(page, done) == (
        "```console\n$ asflown found x  # exit 2\nrecord … kept\nat …, sha256 …\nlast\n```"
    )


@pytest.mark.parametrize(
    ("shown", "printed", "same"),
    [
        (("a", "…", "b"), ("a", "b"), True),
        (("a", "…", "b"), ("a", "x", "b", "b"), True),
        (("a", "…", "b"), ("a", "b", "x"), False),
        (("…",), (), True),
        (("…", "a"), ("b", "a", "a"), True),
        (("a",), ("a", "", ""), True),
        (("a",), ("a", "b"), False),
        ((), ("a",), False),
        (("…", "…", "b"), ("b",), True),
    ],
)
def test_any_lines(shown, printed, same):
    assert matches(shown, printed) is same


def test_any_within_a_line():
    assert line_matches("kept … of … lines (a+b)", "kept 1 of 2 lines (a+b)")
    assert not line_matches("kept … of … lines", "kept 1 of 2 line")


def test_output_before_a_command_is_refused():
    with pytest.raises(ValueError, match="line 2: a console block starts with"):
        blocks("```console\nhello\n```")


@pytest.mark.parametrize(
    ("printed", "code", "faulty"),
    [
        (("record kept",), 0, False),
        (("asflown: nothing is written yet",), 2, False),
        ((), FAULT, True),
        (("asflown: asflown: a fault in asflown itself: KeyError",), 1, True),
    ],
)
def test_a_fault_of_asflown_is_no_output(printed, code, faulty):
    assert _is_faulty(Ran(Step(1, "asflown x", ()), printed, code)) is faulty
