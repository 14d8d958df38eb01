"""Sensors on the ground: bias, noise, Allan deviation, six positions."""
