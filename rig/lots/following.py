"""Follows a lot while its units are tested: how it stands after each event, and which unit comes next. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from rig.events import Stamped, UnitStarted, Verdict
from rig.lots.decision import Standing, standing
from rig.lots.lot import Lot
from rig.lots.units import Try, UnitFound, take_in, units_found

_MOST_TRIES = 2


class Following:
    """Feed it every event of the work, in order.

    Args:
        lot: the lot, with a plan that it can be sampled by.
        tries: what was tried in earlier runs.
        by_hand: what two persons have decided of units.

    """

    def __init__(self, lot: Lot, tries: tuple[Try, ...], by_hand: Mapping[str, Verdict]) -> None:
        self.lot = lot
        self.sampling = lot.sampling
        self.serials = lot.serials()
        self._tries = list(tries)
        self._by_hand = by_hand
        self._in_work: dict[str, Try] = {}

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        if isinstance(stamped.event, UnitStarted):
            one = self._in_work[stamped.serial] = Try(stamped.serial, stamped.utc)
            self._tries.append(one)
        elif stamped.serial in self._in_work:
            take_in(self._in_work[stamped.serial], stamped)

    @property
    def found(self) -> dict[str, UnitFound]:
        """What is held of each unit by now."""
        return units_found(self._tries, self.lot.receiving, self._by_hand)

    @property
    def standing(self) -> Standing:
        """How the lot stands now."""
        return standing(self.lot.receiving, self.sampling, self.serials, self.found)

    def next_serial(self) -> str | None:
        """The unit to test next; None once the lot is decided, or where only a person can decide about the rest.

        First the draw. Then units that the bench was undecided about once more, each behind one that was sound; also
        where the lot is decided without them, if the plan wants the whole sample. Whoever begins anew with a lot that
        hangs on them has looked at them, so each is tested once more then.
        """
        now = self.standing
        if now.decision is not None and (now.curtails or not now.undecided):
            return None
        if now.left:
            return now.left[0]
        found = self.found
        hangs = now.decision is None
        again = [
            one
            for one in now.undecided
            if found[one].tries < _MOST_TRIES or (hangs and one not in self._in_work)
        ]
        if not again:
            return None
        last = self._last_ended
        if last is None or last.verdict is Verdict.GOOD or last.serial not in now.undecided:
            return again[0]
        sound = [serial for serial in self.serials if found[serial].verdict is Verdict.GOOD]
        return sound[-1] if sound else again[0]

    @property
    def _last_ended(self) -> Try | None:
        return next((one for one in reversed(self._tries) if one.counts), None)
