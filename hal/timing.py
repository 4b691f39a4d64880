"""How fine time is."""

GRAIN_S = 1e-6
"""Two times closer than this are the same time: clocks, and sums of floats, are no finer."""
