"""Measuring on the bench: target and output are moved and read until an edge of the unit is known."""
