"""How likely a sample holds at most so many bad units: the binomial and the hypergeometric distribution, exactly."""

from __future__ import annotations

import math

from rig.statistics.binomial import beta_below

_NEGLIGIBLE = 1e-17


def chance_up_to(most: int, sample_size: int, share_bad: float) -> float:
    """Probability of at most `most` bad ones in a sample from a process of which a share is bad (type B)."""
    if most < 0 or most >= sample_size:
        return 0.0 if most < 0 else 1.0
    return beta_below(1 - share_bad, sample_size - most, most + 1)


def chance_of(count: int, sample_size: int, share_bad: float) -> float:
    """Probability of exactly `count` bad ones in such a sample."""
    if not 0 <= count <= sample_size:
        return 0.0
    if share_bad in (0.0, 1.0):
        return float(count == sample_size * share_bad)
    log = _log_choose(sample_size, count)
    return math.exp(log + count * math.log(share_bad) + (sample_size - count) * math.log1p(-share_bad))


def lot_chance_up_to(most: int, sample_size: int, bad: int, lot_size: int) -> float:
    """Probability of at most `most` bad ones in a sample drawn from a lot that holds `bad` ones (type A)."""
    fewest, greatest = max(0, sample_size - (lot_size - bad)), min(sample_size, bad)
    if most < fewest or most >= greatest:
        return 0.0 if most < fewest else 1.0
    # Summed from the side of the smaller tail, away from the middle, so that no term vanishes before its time.
    middle = (sample_size + 1) * (bad + 1) // (lot_size + 2)
    if most < middle:
        return math.fsum(_terms(range(most, fewest - 1, -1), sample_size, bad, lot_size))
    return 1 - math.fsum(_terms(range(most + 1, greatest + 1), sample_size, bad, lot_size))


def lot_chance_of(count: int, sample_size: int, bad: int, lot_size: int) -> float:
    """Probability of exactly `count` bad ones in such a sample."""
    if not max(0, sample_size - (lot_size - bad)) <= count <= min(sample_size, bad):
        return 0.0
    log = _log_choose(bad, count) + _log_choose(lot_size - bad, sample_size - count)
    return math.exp(log - _log_choose(lot_size, sample_size))


def _terms(counts: range, sample_size: int, bad: int, lot_size: int) -> list[float]:
    terms: list[float] = []
    for count in counts:
        terms.append(lot_chance_of(count, sample_size, bad, lot_size))
        if terms[-1] < _NEGLIGIBLE * terms[0]:
            break
    return terms


def _log_choose(of: int, chosen: int) -> float:
    return math.lgamma(of + 1) - math.lgamma(chosen + 1) - math.lgamma(of - chosen + 1)
