"""Published studies: AIAG, Measurement Systems Analysis, 4th edition, chapter III B.

Ten parts, three people, three trials.

The data and the printed answers stand alike in seven public files; what is marked recomputed was worked out from them
with more digits than the handbook prints.
"""

from __future__ import annotations

from rig.gauge.values import Values

# Person, then trials 1 to 3 of parts 1 to 10.
_ROWS = """
0.29 -0.56 1.34 0.47 -0.80  0.02 0.59 -0.31 2.26 -1.36
0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25
0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31
0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68
0.25 -1.22 0.94 1.03 -1.20  0.22 0.55  0.08 2.12 -1.62
0.07 -0.68 1.34 0.20 -1.28  0.06 0.83 -0.34 2.19 -1.50
0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
-0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77
-0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16
"""
_READ = [[float(one) for one in row.split()] for row in _ROWS.split("\n") if row]
HANDBOOK = Values(
    tuple(
        tuple(tuple(_READ[3 * person + trial][part] for trial in range(3)) for person in range(3))
        for part in range(10)
    )
)

# The handbook's example of linearity, five reference values, twelve readings of each (from memory; slope and
# intercept come out as printed, -0.1317 and 0.7367).
LINEARITY = {
    2.0: (2.7, 2.5, 2.4, 2.5, 2.7, 2.3, 2.5, 2.5, 2.4, 2.4, 2.6, 2.4),
    4.0: (5.1, 3.9, 4.2, 5.0, 3.8, 3.9, 3.9, 3.9, 3.9, 4.0, 4.1, 3.8),
    6.0: (5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1),
    8.0: (7.6, 7.7, 7.8, 7.7, 7.8, 7.8, 7.8, 7.7, 7.8, 7.5, 7.6, 7.7),
    10.0: (9.1, 9.3, 9.5, 9.3, 9.4, 9.5, 9.5, 9.5, 9.6, 9.2, 9.3, 9.4),
}
