"""Vibration of a flight: spectra, rotor lines, levels, floor, clipping; oscillation that grows.

Arrays in SI units in, frozen results out.
"""
