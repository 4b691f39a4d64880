"""The account of a unit's last attempt on this order, followed from its readings to its verdict."""

from __future__ import annotations

from collections.abc import Iterator

from rig.screen.page import PageScreen
from rig.screen.record import last_attempt
from rig.screen.view.lines import Line, Role, Span, line
from rig.screen.work import OrderWork


class ExplainScreen(PageScreen):
    """Made from the record alone; nothing of it comes from what the screen has seen."""

    def __init__(self, work: OrderWork, serial: str) -> None:
        super().__init__()
        self._serial = serial
        self._attempt = last_attempt(work.setup.journal, work.setup.job.order.number, serial)

    def heading(self) -> Line:
        """The unit."""
        return line(Span(f" {self.words('account.title', serial=self._serial)}", Role.STRONG))

    def page(self, width: int, /) -> Iterator[Line]:
        """The account, or that there is none."""
        from rig.screen.view.account import account  # what it works out loads much, and few units need it

        if self._attempt is None:
            yield line(Span(self.words("unit.nothing"), Role.DIM))
        else:
            yield from account(self._attempt, self.words, width)
