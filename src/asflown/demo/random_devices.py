"""Devices, release pairs and terminals drawn from a seed: the names a test needs, in one place."""

from __future__ import annotations

from asflown.demo.drawn.pairs import RandomPair, Truth, random_board, random_pair
from asflown.demo.drawn.terminals import DrawnTerminal, draw_terminal

__all__ = ["DrawnTerminal", "RandomPair", "Truth", "draw_terminal", "random_board", "random_pair"]
