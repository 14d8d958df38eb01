"""Boards by wire: finding them, and talking with their boot loaders. No judgement."""
