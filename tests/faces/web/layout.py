"""A PDF as a picture of its text: each word a dark bar where it stands. Read by poppler, which set none of it."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from PIL import Image, ImageChops, ImageDraw

#: Points of a picture for each typographic point (1/72 inch).
SCALE = 0.5
_NS = "{http://www.w3.org/1999/xhtml}"


@dataclass(frozen=True)
class Leaf:
    """One page: its size in points, and each word with its corners."""

    width: float
    height: float
    words: tuple[tuple[str, float, float, float, float], ...]

    @property
    def text(self) -> str:
        return " ".join(word for word, *_ in self.words)


def leaves(pdf: Path) -> list[Leaf]:
    said = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, check=True).stdout
    found = []
    for page in ElementTree.fromstring(said).iter(f"{_NS}page"):
        words = tuple(
            (word.text or "", *(float(word.attrib[name]) for name in ("xMin", "yMin", "xMax", "yMax")))
            for word in page.iter(f"{_NS}word")
        )
        found.append(Leaf(float(page.attrib["width"]), float(page.attrib["height"]), words))  # type: ignore[arg-type]
    return found


def picture(pages: list[Leaf]) -> Image.Image:
    """The pages beside each other, a line between."""
    width = int(sum(page.width * SCALE + 1 for page in pages))
    made = Image.new("1", (width, int(max(page.height for page in pages) * SCALE)), 1)
    draw, left = ImageDraw.Draw(made), 0
    for page in pages:
        for _, x0, y0, x1, y1 in page.words:
            draw.rectangle((left + x0 * SCALE, y0 * SCALE, left + x1 * SCALE, y1 * SCALE), fill=0)
        left += int(page.width * SCALE)
        draw.line((left, 0, left, made.height), fill=0)
        left += 1
    return made


def differing(first: Image.Image, second: Image.Image) -> float:
    """Share of the words' area that stands elsewhere; 1 where the pages are of another size or number."""
    if first.size != second.size:
        return 1.0
    moved = ImageChops.logical_xor(first, second).histogram()[-1]
    return moved / max(1, first.histogram()[0])
