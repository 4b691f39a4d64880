"""Measuring: where each edge of a unit's zone switches, how far apart, how repeatably and how fast.

`posterior`, `search` and `looks` need numpy: import them, and `measure`, only when something is to be measured.
"""
