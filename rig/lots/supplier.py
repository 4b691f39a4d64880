"""The history of a supplier with one type, as rows and figures: share of defective units, faults, drift of figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from rig.deciding.rule import SHOWN
from rig.events import LotClosed
from rig.lots.history import History, PastLot
from rig.sampling.estimate import Ending, Seen, process_bounds
from rig.sampling.plan import Decision
from rig.statistics.binomial import Bounds

_FEWEST_LOTS = 3
_MANY_ERRORS = 3.0


@dataclass(frozen=True, slots=True)
class LotRow:
    """One decided lot: its share of defective units among those tested, with 95 % bounds."""

    lot: str
    day: str
    delivery_note: str
    quantity: int
    inspection: str
    tested: int
    defective: int
    decision: str
    bounds: Bounds


@dataclass(frozen=True, slots=True)
class Drift:
    """How the mean of a measured figure went from lot to lot; `moved` says whether the last stands out.

    `means` are of the lots in their order, each with the standard error of the mean.
    """

    figure: str
    means: tuple[tuple[str, float, float], ...]
    moved: bool

    def in_words(self, latest: int = 0) -> tuple[str, str]:
        """The figure and its means as a meter shows them, of so many of the latest lots; 0: of all."""
        what, _, unit = self.figure.rpartition(", ")
        shown, factor = SHOWN.get(unit, (unit, 1.0))
        means = ", ".join(f"{lot} {factor * mean:.4g}" for lot, mean, _ in self.means[-latest:])
        return f"{what}, {shown}", f"{means}{'; the last one has moved' if self.moved else ''}"


def lot_rows(history: History) -> tuple[LotRow, ...]:
    """The decided lots in order."""
    return tuple(_row(one) for one in history.closed)


def _row(one: PastLot) -> LotRow:
    closed = one.closed
    assert closed is not None, "only decided lots are asked for"
    return LotRow(
        closed.lot,
        one.closed_utc[:10],
        one.opened.delivery_note,
        closed.quantity,
        closed.inspection,
        closed.tested,
        closed.defective,
        closed.decision,
        process_bounds(Seen(closed.tested, closed.defective, _ending(closed))),
    )


def _ending(closed: LotClosed) -> Ending:
    """Why testing ended, as far as it bears on the share of units with a defect of any class."""
    rejected_early = closed.early and closed.decision == Decision.REJECTED and closed.defective > 0
    return Ending.REJECTED_EARLY if rejected_early else Ending.WHOLE


def faults_ranked(history: History) -> tuple[tuple[str, int, int], ...]:
    """Each characteristic with defects: units, and in how many lots; the most frequent first."""
    units: Counter[str] = Counter()
    lots: Counter[str] = Counter()
    for one in history.closed:
        for characteristic, count in (one.closed.found if one.closed else {}).items():
            units[characteristic] += count
            lots[characteristic] += 1
    return tuple((name, count, lots[name]) for name, count in units.most_common())


def drifts(history: History) -> Iterator[Drift]:
    """Every figure that was measured in two lots or more.

    A mean has moved where it lies more than three standard errors of the difference from the mean of all lots before,
    their own spread from lot to lot counted in (common practice, no source).
    """
    figures: dict[str, list[tuple[str, float, float]]] = {}
    for one in history.closed:
        for name, (count, mean, spread) in (one.closed.measured if one.closed else {}).items():
            figures.setdefault(name, []).append((one.opened.lot, mean, spread / count**0.5))
    for name, means in figures.items():
        if len(means) > 1:
            yield Drift(name, tuple(means), _moved(means))


def _moved(means: list[tuple[str, float, float]]) -> bool:
    *before, (_, last, error) = means
    if len(before) < _FEWEST_LOTS - 1:
        return False
    values = [mean for _, mean, _ in before]
    middle = sum(values) / len(values)
    between = sum((one - middle) ** 2 for one in values) / (len(values) - 1)
    within = sum(one**2 for _, _, one in before) / len(before)
    doubt = (error**2 + max(between, within) * (1 + 1 / len(values))) ** 0.5
    return bool(abs(last - middle) > _MANY_ERRORS * doubt)
