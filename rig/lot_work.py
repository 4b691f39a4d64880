"""Work on the units of a lot: which comes next follows from what was found; whatever is not sound is put aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from hal.bench import Bench
from hal.errors import TripCause
from hal.operator import Operator, Request, RequestKind
from hal.simulated.benchfile import BenchFile
from hal.target.target import PATIENCE_S
from hal.waits import Waits
from rig.chronicle import Chronicle
from rig.events import PersonSignedIn, UnitPutAside
from rig.lots.following import Following
from rig.lots.lot import Lot
from rig.receiving.job import DrawnUnits, receiving_job
from rig.receiving.planned import Planned
from rig.sequencer.desk import Desk
from rig.sequencer.findings import Finding
from rig.sequencer.order_run import Job, OrderResult
from rig.session import Session
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile


class LotDesk:
    """Hands the units over as they were drawn, until the lot is decided; a trip ends the work.

    Attributes:
        serials: the units of the sample that were not tested when the work began.

    """

    patience_s: float | None = PATIENCE_S

    def __init__(
        self,
        following: Following,
        operator: Operator,
        chronicle: Chronicle,
        signed_in: PersonSignedIn | None,
    ) -> None:
        self.signed_in = signed_in
        self.serials: Sequence[str] = following.standing.left
        self._following = following
        self._operator = operator
        self._chronicle = chronicle

    async def next_serial(self, _: Waits, /) -> str | None:
        """The next of the draw, or one that is tested once more."""
        return self._following.next_serial()

    async def put_aside(self, serial: str, finding: Finding, _: Waits, /) -> None:
        """Ask for it, and record that it was done."""
        text = f"Put unit {serial} to those that are not sound, apart from the box; then say done."
        await self._operator.ask(Request(RequestKind.CONFIRM, text, serial=serial), timeout_s=self.patience_s)
        person = "" if self.signed_in is None else self.signed_in.person
        self._chronicle.note(UnitPutAside(finding.verdict, person))

    async def wants_reset(self, _cause: TripCause, _in_work: str | None, /) -> bool:
        """Never: nobody is there to say that the cause is gone."""
        return False


@dataclass(frozen=True, kw_only=True)
class LotSession(Session):
    """Units of a lot on one bench.

    Attributes:
        following: how the lot stands, which hears of every event.

    """

    following: Following

    async def work(self, bench: Bench, chronicle: Chronicle) -> OrderResult:
        """Unit after unit, as the lot asks for them."""
        chronicle.watch(self.following.take)
        desk: Desk = self.desk or LotDesk(self.following, bench.operator, chronicle, self.signed_in)
        return await Session.work(replace(self, desk=desk), bench, chronicle)

    @property
    def waits_for_people(self) -> bool:
        """Only where a person at a screen hands the units over."""
        return self.desk is not None


def lot_job(lot: Lot, planned: Planned, sensor_type: SensorType, rig: RigProfile) -> Job:
    """Test the units of a lot that are drawn."""
    units = DrawnUnits(lot.number, lot.opened.supplier, lot.serials())
    return receiving_job(units, planned, sensor_type, rig)


def misfit_of_box(bench_file: BenchFile, lot: Lot) -> str:
    """Why a simulated box is not that of a lot; empty if it is."""
    held = sum(row.count for row in bench_file.unit)
    if not bench_file.boxed or held == lot.quantity:
        return ""
    return (
        f"the box holds {held} units, lot {lot.number} was entered with {lot.quantity}; allowed: teachrig lot change "
        f"{lot.number} --quantity {held} --why WORDS, or the right --bench"
    )
