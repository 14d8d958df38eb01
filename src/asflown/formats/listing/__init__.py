"""Settings listings: read by learning their shape from the text itself, and written in that shape."""

from __future__ import annotations

from asflown.formats.listing.reading import read
from asflown.formats.listing.text import LIMIT
from asflown.formats.listing.writing import write

__all__ = ["LIMIT", "read", "write"]
