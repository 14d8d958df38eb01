"""Calibrations that a change of firmware throws away: computed, kept as found and as left."""
