"""Devices nobody designed: terminals, parameters and release pairs drawn from a seed."""
