"""Constants of charts for single values, each from its closed form; the spread is told from ranges of two.

For ranges of two neighbours everything follows from |x - y| of two normal values, whose mean is 2/sqrt(pi) and whose
second moment is 2 standard deviations squared. The figures agree with printed tables (NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.2; from memory also ISO 7870-2).
"""

from __future__ import annotations

import math

D2 = 2 / math.sqrt(math.pi)
"""Mean of a moving range of two, in standard deviations: 1.128."""
D3 = math.sqrt(2 - D2**2)
"""Standard deviation of a moving range of two, in standard deviations: 0.853."""
"""From the mean range to three standard deviations: 2.659 (printed as 2.66)."""
D4 = 1 + 3 * D3 / D2
"""Upper limit of a moving range in mean ranges: 3.267; the lower one is 0."""

# Neighbouring ranges share a value: correlation -1/2 of the two differences. The expectation of the product of the
# absolute values of two normal differences with correlation r is known in closed form (Isserlis' theorem for |x||y|).
_R = -0.5
_BOTH = (4 / math.pi) * (math.sqrt(1 - _R**2) + _R * math.asin(_R))
_SHARED = _BOTH - D2**2
RANGES_PER_FREEDOM = (D3**2 + 2 * _SHARED) / D2**2 * 2
"""How many moving ranges are worth one degree of freedom: 1.65, since the variance of their mean is known."""


def freedom_of_ranges(count: int) -> float:
    """Degrees of freedom that the mean of so many moving ranges is worth, at least one."""
    return max(1.0, count / RANGES_PER_FREEDOM)
