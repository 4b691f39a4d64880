"""Tests of the rooms of the same names, and what they share."""
