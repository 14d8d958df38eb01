"""Flights: open a log, look at it, measure it, keep what was measured."""
