"""Frozen view objects: what a face shows."""
