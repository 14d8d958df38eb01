"""Disk, clock, links: input and output only, no judgement."""
