"""A control structure as a release declares it: read, kept, and every fault with its line."""

from __future__ import annotations

import json

import pytest

from asflown.core.catalog import Release
from asflown.core.control import Block, BlockKind, ControlStructure
from asflown.demo import releases
from asflown.errors import InputError
from asflown.formats import control_toml, documents, release_folder

GOOD = b"""\
rate_role = "loop.{axis}.rate"
axes = ["roll", "yaw"]
holds = { "filter.kind" = [0, 1] }

[[block]]
name = "calm"
kind = "one-pole low-pass"
inputs = "rate"
roles = { cutoff = "filter.cutoff" }
constants = { rule = "impulse", stages = 2 }
when = { "filter.kind" = [1] }
unless = { "filter.cutoff" = [0] }
axes = ["roll"]

[[block]]
name = "calm"
kind = "delay"
inputs = "rate"
constants = { seconds = 0.0015 }
axes = ["yaw"]

[[block]]
name = "drive"
kind = "gain"
inputs = ["command", "-calm"]
roles = { gain = "loop.{axis}.gain" }
"""


def test_a_structure_is_read_axis_by_axis():
    made = control_toml.read(GOOD).control
    calm = Block(
        "calm",
        BlockKind.ONE_POLE,
        ("rate",),
        {"cutoff": "filter.cutoff"},
        {"rule": "impulse", "stages": 2.0},
        {"filter.kind": (1.0,)},
        {"filter.cutoff": (0.0,)},
    )
    late = Block("calm", BlockKind.DELAY, ("rate",), constants={"seconds": 0.0015})
    holds = {"filter.kind": (0.0, 1.0)}
    assert made == {
        axis: ControlStructure(
            axis,
            (first, Block("drive", BlockKind.GAIN, ("command", "-calm"), {"gain": f"loop.{axis}.gain"})),
            rate_role=f"loop.{axis}.rate",
            holds=holds,
        )
        for axis, first in (("roll", calm), ("yaw", late))
    }


def test_it_is_a_room_of_the_release_and_kept_with_it():
    made = release_folder.read({"release.toml": RELEASE, "control.toml": GOOD}, "reed-3.2")
    assert made.control == control_toml.read(GOOD).control
    assert made.remarks == ()
    assert [original.kind for original in made.originals] == ["control structure", "release"]
    assert dict(release_folder.stated(made))["control structure"] == "roll, yaw"
    again = documents.load(documents.dump(made), Release)
    assert again == made
    assert documents.dump(again) == documents.dump(made)


RELEASE = b'firmware = "reed"\nversion = "3.2"\n'


def test_a_release_kept_before_there_was_such_a_file_still_reads():
    made = release_folder.read({"release.toml": RELEASE}, "reed-3.2")
    assert made.control is None
    tree = json.loads(documents.dump(made))
    del tree["body"]["control"]
    assert documents.load(json.dumps(tree).encode(), Release) == made


@pytest.mark.parametrize(
    ("before", "after", "where", "says"),
    [
        (b'"-calm"', b'"-clam"', "control.toml:25 block[3].inputs", "'clam' is neither a block nor one of"),
        (b'"-calm"', b'"-drive"', "control.toml:25 block[3].inputs", "takes what it makes itself"),
        (
            b"cutoff = ",
            b"corner = ",
            "control.toml:9 block[1].roles",
            "has no corner; it takes cutoff, stages",
        ),
        (
            b'"impulse"',
            b'"sideways"',
            "control.toml:10 block[1].constants",
            "one of backward, impulse, exact",
        ),
        (b"seconds = 0.0015", b"", "control.toml:15 block[2].roles", "needs one of seconds, steps"),
        (b'name = "drive"', b'name = "thrust"', "control.toml:1 block", "no block is called 'drive'"),
        (b'axes = ["yaw"]', b"", "control.toml:16 block[2].name", "'calm' is taken"),
        (b"rate_role", b"rate = 50\nrate_role", "control.toml:1 rate", "a number or a role, one of them"),
        (b'kind = "gain"', b'kind = "mixer"', "control.toml:24 block[3].kind", "comes after the drive"),
        (b'kind = "gain"', b'kind = "magic"', "control.toml:24 block[3].kind", "'magic'"),
        (b"[0, 1]", b"[]", "control.toml:3 holds.filter.kind", "at least 1 item"),
        (b"unless", b"unles", "control.toml:12 block[1].unles", "is no key of this file"),
        (b"rate_role", b"rate = -5\n#", "control.toml:1 rate", "greater than 0"),
    ],
)
def test_a_fault_is_told_with_its_line(before, after, where, says):
    assert before in GOOD
    with pytest.raises(InputError) as caught:
        control_toml.read(GOOD.replace(before, after, 1))
    told = [str(fault) for fault in caught.value.faults]
    assert any(one.startswith(where) and says in one for one in told), told


def test_every_fault_at_once_and_none_twice():
    wrong = GOOD.replace(b'"command", "-calm"', b'"comand", "-clam"').replace(b"gain = ", b"gian = ")
    with pytest.raises(InputError) as caught:
        control_toml.read(wrong)
    told = [fault.what for fault in caught.value.faults]
    assert told == [
        "a gain has no gian; it takes gain, times",
        "a gain needs its gain",
        "'comand' is neither a block nor one of command, rate",
        "'clam' is neither a block nor one of command, rate",
    ]


def test_a_drive_that_one_axis_alone_has_is_said_of_the_other():
    wrong = GOOD.replace(b'[[block]]\nname = "drive"', b'[[block]]\naxes = ["roll"]\nname = "drive"')
    with pytest.raises(InputError) as caught:
        control_toml.read(wrong)
    assert [fault.what.partition(":")[0] for fault in caught.value.faults] == ["yaw"]


@pytest.mark.parametrize("release", ["marram-4.1", "marram-5.0"])
def test_the_worked_examples_releases_declare_all_three_axes(release):
    made = release_folder.read(releases.folders()[release], release)
    assert list(made.control or ()) == ["roll", "pitch", "yaw"]
    roles = {item.role for item in made.catalog.parameters}
    for structure in made.control.values():
        blocks = structure.blocks
        used = {role for block in blocks for role in (*block.parameters.values(), *block.when, *block.unless)}
        assert used | set(structure.holds) | {structure.rate_role} <= roles
