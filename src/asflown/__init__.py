"""asflown: take a small multirotor from one flight-controller release to another, and show it."""

__version__ = "0.1.0"
