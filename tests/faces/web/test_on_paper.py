"""Prints: set by weasyprint, read back by poppler; their layout is kept as pictures."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from commanded import made_once, run
from layout import differing, leaves, picture
from PIL import Image
from visitor import Visitor

KEPT = Path(__file__).parents[2] / "golden" / "print"
A4, LETTER, A5, HALF_LETTER = (595.3, 841.9), (612.0, 792.0), (419.5, 595.3), (396.0, 612.0)


def printed(folder: Path, target: Path, *words: str, code: int = 0) -> Path:
    run(folder, *words, "--pdf", str(target), code=code)
    return target


#: Each print: whose store, the command, its exit code.
WANTED = {
    "carry-over": ("planned", ("plan", "plover", "--to", "marl-2.0"), 2),
    "carry-over-foreseen": ("open", ("plan", "tern", "--to", "reed-2.0", "--show", "all"), 2),
    "cards": ("demo", ("cards", "plover"), 0),
    "test-card": ("flown", ("testcard", "tern"), 0),
    "evidence": ("flown", ("flight", "show", "tern-f1"), 0),
    "verdict": ("flown", ("verdict", "tern"), 0),
    "sign-off": ("demo", ("sign", "plover"), 0),
    "logbook": ("demo", ("logbook", "plover"), 0),
    "go-back": ("demo", ("back", "plover"), 0),
    "hand-over": ("demo", ("handover", "plover", "--out"), 0),
}
NAMES = tuple(WANTED)


@pytest.fixture(scope="session")
def all_prints(demo_folder, flown_folder, planned_folder, tmp_path_factory) -> dict[str, Path]:
    """Every sheet that is printed, once."""
    stores = {
        "demo": demo_folder,
        "flown": flown_folder,
        "open": flown_folder / "open",
        "planned": planned_folder,
    }

    def make(to: Path) -> None:
        to.mkdir()
        for name, folder in stores.items():
            shutil.copytree(folder / "store", to / name / "store")
        for name, (whose, words, code) in WANTED.items():
            more = (str(to / "bag"),) if words[-1] == "--out" else ()
            printed(to / whose, to / f"{name}.pdf", *words, *more, code=code)

    to = made_once(tmp_path_factory, "prints", make)
    return {name: to / f"{name}.pdf" for name in NAMES}


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_layout_of_a_print_is_as_kept(name, all_prints):
    """Looked at as a picture when it was kept; ASFLOWN_GOLDEN_UPDATE=1 keeps it anew (look at it then)."""
    got = picture(leaves(all_prints[name])[:3])
    place = KEPT / f"{name}.png"
    if os.environ.get("ASFLOWN_GOLDEN_UPDATE") == "1":
        place.parent.mkdir(parents=True, exist_ok=True)
        got.save(place, optimize=True)
    moved = differing(Image.open(place), got)
    # names of hashes and dates change from run to run, so their words are not equally wide
    assert moved < 0.12, f"{moved:.0%} of the words stand elsewhere"


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_every_page_of_a_print_is_whole(name, all_prints):
    pages = leaves(all_prints[name])
    wanted = A5 if name in ("cards", "test-card") else A4
    for number, page in enumerate(pages, 1):
        assert (page.width, page.height) == pytest.approx(wanted, abs=0.5)
        assert f"page {number} of {len(pages)}" in page.text
        outside = [
            w
            for w, x0, y0, x1, y1 in page.words
            if x0 < 5 or y0 < 5 or x1 > page.width - 5 or y1 > page.height - 5
        ]
        assert not outside, "words run off the leaf"
    assert name == "cards" or "end of sheet" in pages[-1].text


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_a_print_carries_its_data(name, all_prints, tmp_path):
    """``record.json`` is attached, and its hash stands in the foot of every page."""
    pdf = all_prints[name]
    subprocess.run(["pdfdetach", "-saveall", "-o", str(tmp_path), str(pdf)], check=True, capture_output=True)
    [attached] = list(tmp_path.iterdir())
    assert attached.name == "record.json"
    assert json.loads(attached.read_bytes())
    digest = hashlib.sha256(attached.read_bytes()).hexdigest()[:12]
    for page in leaves(pdf):
        assert f"record.json {digest}" in page.text


@pytest.mark.slow
def test_the_same_print_is_the_same_bytes(demo_folder, tmp_path):
    first = printed(demo_folder, tmp_path / "a.pdf", "sign", "plover")
    second = printed(demo_folder, tmp_path / "b.pdf", "sign", "plover")
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.slow
def test_letter_paper(demo_folder, tmp_path):
    whole = printed(demo_folder, tmp_path / "a.pdf", "sign", "plover", "--paper", "letter")
    card = printed(
        demo_folder, tmp_path / "b.pdf", "cards", "plover", "--card", "sticks", "--paper", "letter"
    )
    for pdf, wanted in ((whole, LETTER), (card, HALF_LETTER)):
        assert all((one.width, one.height) == pytest.approx(wanted, abs=0.5) for one in leaves(pdf))


@pytest.mark.slow
def test_what_the_maintenance_entry_says(all_prints):
    text = " ".join(page.text for page in leaves(all_prints["sign-off"]))
    for part in (
        "what",
        "reference",
        "date",
        "name",
        "role",
        "as found",
        "as left",
        "uncertainty",
        "decision rule",
    ):
        assert part in text
    assert "It is not a certificate of airworthiness unless your authority's rules make it one." in text
    assert "signature" in text


@pytest.mark.slow
def test_a_table_that_goes_on_has_its_head_again(all_prints):
    pages = leaves(all_prints["carry-over-foreseen"])
    assert len(pages) > 1
    assert sum("consequence" in page.text for page in pages) > 1


@pytest.mark.slow
def test_the_test_card_stops_first(all_prints):
    """What stops the flying stands above what is flown."""
    [first, *_] = leaves(all_prints["test-card"])
    assert first.text.index("Stop and land") < first.text.index("Each flight, in this order")


@pytest.mark.slow
def test_pages_give_the_same_print(demo_folder, copied, tmp_path):
    folder = copied(demo_folder)
    pdf = printed(folder, tmp_path / "a.pdf", "sign", "plover")
    visitor = Visitor(folder / "store")
    answer = visitor.client.get("/aircraft/plover/sign.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content == pdf.read_bytes()
    assert visitor.client.get("/aircraft/plover/sign.pdf?paper=tabloid").status_code == 400
    page = visitor.get("/aircraft/plover/sign")
    assert "/aircraft/plover/sign.pdf" in page.links


def test_refusals(demo_folder, tmp_path, capsys):
    (tmp_path / "there.pdf").write_bytes(b"mine")
    run(demo_folder, "sign", "plover", "--pdf", str(tmp_path / "there.pdf"), code=1)
    assert (tmp_path / "there.pdf").read_bytes() == b"mine"
    run(demo_folder, "sign", "plover", "--paper", "letter", code=1)


def test_without_what_makes_pdfs_it_is_said(demo_folder, tmp_path, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "weasyprint", None)
    run(demo_folder, "sign", "plover", "--pdf", str(tmp_path / "a.pdf"), code=1)
    assert not (tmp_path / "a.pdf").exists()


@pytest.mark.slow
def test_a_print_fetches_nothing(monkeypatch):
    from asflown.faces.report.pdf import _carried_only

    for url in ("http://192.0.2.1/a.png", "file:///etc/passwd", "ftp://192.0.2.1/a"):
        with pytest.raises(ValueError, match="outside"):
            _carried_only(url)
