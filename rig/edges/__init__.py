"""Where a switching edge lies: the task, the search for it, the figures that come out. Pure: no bench.

`posterior`, `search` and `looks` need numpy: import them only when something is to be measured.
"""
