"""The stick's curve as a release declares it: read, kept, and every fault with its line."""

from __future__ import annotations

import pytest

from asflown.core.catalog import Release
from asflown.core.stick import DeadBand, StickForm, StickShape
from asflown.demo import releases
from asflown.errors import InputError
from asflown.formats import control_toml, documents, release_folder

GOOD = b"""\
[[stick]]
form = "expo"
roles = { full_rate = "stick.{axis}.full", expo = "stick.{axis}.soft" }
constants = { dead_band = 0.02 }
dead_band_rule = "cut"
axes = ["roll", "pitch"]

[[stick]]
form = "table"
points = [[0, 0], [0.5, "stick.{axis}.half"], [1, 1]]
constants = { full_rate = 3.5 }
axes = ["yaw"]
"""


def test_a_curve_is_read_axis_by_axis_and_kept():
    made = control_toml.read(GOOD)
    assert made.control == {}
    soft = {
        axis: StickShape(
            axis,
            StickForm.EXPO,
            {"full_rate": f"stick.{axis}.full", "expo": f"stick.{axis}.soft"},
            {"dead_band": 0.02},
            rule=DeadBand.CUT,
        )
        for axis in ("roll", "pitch")
    }
    points = ((0.0, 0.0), (0.5, "stick.yaw.half"), (1.0, 1.0))
    yaw = StickShape("yaw", StickForm.TABLE, {}, {"full_rate": 3.5}, points)
    assert made.stick == {**soft, "yaw": yaw}
    release = release_folder.read(
        {"release.toml": b'firmware = "reed"\nversion = "3.2"\n', "control.toml": GOOD}, "reed-3.2"
    )
    assert (release.control, release.stick) == (None, made.stick)
    assert dict(release_folder.stated(release))["stick shape"] == "roll, pitch, yaw"
    assert documents.load(documents.dump(release), Release) == release


@pytest.mark.parametrize(
    ("before", "after", "where", "says"),
    [
        (b"expo = ", b"bow = ", "control.toml:3 stick[1].roles", "has no bow; it takes full_rate, expo"),
        (b"expo = ", b"bow = ", "control.toml:3 stick[1].roles", "needs its expo"),
        (b"full_rate = 3.5", b"", "control.toml:8 stick[2].roles", "needs its full_rate"),
        (b'"yaw"', b'"yaw", "roll"', "control.toml:12 stick[2].axes", "of roll is declared twice"),
        (b"[[0, 0]", b"[[0.2, 0]", "control.toml:10 stick[2].points", "goes from a deflection of 0"),
        (b"[0.5,", b"[1.0,", "control.toml:10 stick[2].points", "rise from point to point"),
        (b"[0.5,", b"[1.5,", "control.toml:10 stick[2].points", "less than or equal to 1"),
        (b'"cut"', b'"bent"', "control.toml:5 stick[1].dead_band_rule", "'stretched', 'shifted' or 'cut'"),
        (
            b"dead_band = 0.02",
            b"full_rate = 2",
            "control.toml:3 stick[1].roles",
            "by a role and as a constant",
        ),
        (b'form = "expo"\n', b'form = "linear"\n', "control.toml:3 stick[1].roles", "linear has no expo"),
    ],
)
def test_a_fault_is_told_with_its_line(before, after, where, says):
    assert before in GOOD
    with pytest.raises(InputError) as caught:
        control_toml.read(GOOD.replace(before, after, 1))
    told = [str(fault) for fault in caught.value.faults]
    assert any(one.startswith(where) and says in one for one in told), told


def test_a_file_that_declares_nothing_is_refused():
    with pytest.raises(InputError) as caught:
        control_toml.read(b"rate = 2000\n")
    assert "neither a block nor a stick" in caught.value.faults[0].what


@pytest.mark.parametrize("release", ["marram-4.1", "marram-5.0"])
def test_the_worked_examples_roles_are_in_its_catalog(release):
    made = release_folder.read(releases.folders()[release], release)
    roles = {item.role for item in made.catalog.parameters}
    assert list(made.stick) == ["roll", "pitch", "yaw"]
    assert {role for shape in made.stick.values() for role in shape.parameters.values()} <= roles
