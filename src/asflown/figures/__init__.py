"""Descriptions of figures; drawn elsewhere."""
