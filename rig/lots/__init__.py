"""Lots that were delivered: which units are drawn, what was found, what becomes of the lot, how the supplier stands."""
