"""The work on one lot as the screen drives it: the draw says which place comes next, until the lot is decided."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from rig.events import DocumentMade, Event, PersonSignedIn, Stamped, UnitPutAside, Verdict
from rig.journal import JournalError
from rig.lot_papers import lot_papers, write_lot_papers
from rig.lots.draw import place_of
from rig.lots.following import Following
from rig.lots.lot import NoLot
from rig.lots.record import open_lots
from rig.lots.report import closing
from rig.lots.sampling import tightens
from rig.noting import note
from rig.sampling.plan import NoSuchPlan
from rig.screen.lot_desk import LotScanDesk, LotScreenSession
from rig.screen.lot_setup import LotSetup
from rig.screen.view.board import Phase
from rig.screen.view.instruction import Instruction
from rig.screen.view.lots import LotSteps, LotView, lot_instruction
from rig.screen.view.notices import Notice, SerialWanted, WorkEnded
from rig.screen.view.serials import Scan, read_scan
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.store.private import private_folder

_LONGEST = 40


class LotWork(OrderWork):
    """One lot, from its record so far to its decision."""

    session_class = LotScreenSession

    def __init__(self, setup: LotSetup, words: Words) -> None:
        super().__init__(setup, words)
        record = setup.record
        self.lot = record.lot
        self._following = Following(record.lot, record.tries, record.by_hand)
        self._marks = dict(record.lot.marks)
        self._aside = set(record.lot.aside)
        self._closed = "" if record.lot.closed is None else record.lot.closed.decision
        self._next_lot = ""
        self._view: LotView | None = None
        self.board.steps = LotSteps(record.lot.receiving.test.asked, setup.job.plan, words)
        self._settle()

    # -- what the screen shows -----------------------------------------------------------------------------------

    @property
    def view(self) -> LotView:
        """How the lot stands."""
        if self._view is None:
            found, serial = self._following.found, self._following.next_serial()
            known = found.get(serial or "")
            bad = [one.serial for one in found.values() if one.verdict is Verdict.BAD]
            self._view = LotView(
                standing=self._following.standing,
                next_serial=None if self._closed else serial,
                tried=0 if known is None else known.tries,
                sound=known is not None and known.verdict is Verdict.GOOD,
                not_aside=tuple(one for one in bad if one not in self._aside),
                closed=self._closed,
                next_lot=self._next_lot,
            )
        return self._view

    def instruction(self) -> Instruction:
        """The next thing to do."""
        return lot_instruction(self.board, self.view)

    @property
    def enter_counts(self) -> bool:
        """Enter alone also says that the unit of the place that is drawn bears no serial."""
        return super().enter_counts or (self.board.phase.takes_serial and self.view.next_serial is not None)

    @property
    def can_close(self) -> bool:
        """Whether the decision can be entered."""
        view = self.view
        ended = self.board.phase is Phase.ENDED and not self._closed
        return ended and view.standing.decision is not None and not view.not_aside

    # -- what comes from the engine ------------------------------------------------------------------------------

    def _take(self, one: Stamped | Notice) -> None:
        if isinstance(one, Stamped):
            self._following.take(one)
            if isinstance(one.event, UnitPutAside):
                self._aside.add(one.serial)
        self._view = None
        super()._take(one)
        if isinstance(one, SerialWanted) and self.view.next_serial is None:
            self.end_of_draw()
        if isinstance(one, WorkEnded):
            self._settle()

    def _settle(self) -> None:
        """Nothing is left to test of a lot that is decided, though units of its sample may be."""
        if self.board.phase in (Phase.READY, Phase.ENDED):
            self.board.phase = Phase.READY if self.view.next_serial is not None else Phase.ENDED

    # -- what the person says ------------------------------------------------------------------------------------

    def enter(self, text: str) -> Scan | None:
        """Take in the serial of the unit that was drawn, or that it bears none."""
        serial = self.view.next_serial
        if self.board.phase.takes_serial and serial is not None:
            return self._drawn(text, serial)
        if self.board.phase is Phase.ENDED:
            return None
        return super().enter(text)

    def _drawn(self, text: str, serial: str) -> Scan | None:
        read = read_scan(text)
        if read.why:
            return Scan(None, "scan.unreadable", {"why": read.why})
        place, given = place_of(serial), read.text
        if given and given != str(place):
            refusal = self._refused(given, serial)
            if refusal is not None:
                return refusal
            self._marks[serial] = given
        self.hand_over(serial)
        if self.board.barred is not None:
            return Scan(None, "scan.barred", {"serial": serial})
        key = "lot.named" if given and given != str(place) else "lot.unnamed"
        return Scan(serial, key, {"place": place, "mark": given[:_LONGEST]})

    def _refused(self, given: str, serial: str) -> Scan | None:
        for other, mark in self._marks.items():
            if other != serial and mark.casefold() == given.casefold():
                return Scan(None, "lot.twice", {"mark": given[:_LONGEST], "place": place_of(other)})
        if given.isdecimal() and int(given) in map(place_of, self._following.serials):
            return Scan(None, "lot.other-place", {"given": given, "place": place_of(serial)})
        return None

    def put_aside(self) -> None:
        """Take note that a unit that is not good is where it belongs, or enter the decision where all is done."""
        if self.can_close:
            self._close()
            return
        serial, before_start = self.board.serial, self.board.phase is Phase.ASIDE and not self.running
        judged = self.board.judged
        super().put_aside()
        if before_start and judged is not None:
            self._note(serial, UnitPutAside(judged.verdict, self._person))
            self._aside.add(serial)
            self._settle()
        self._view = None

    def _close(self) -> None:
        """Enter the decision, and write the papers; whatever is in the way is noticed."""
        journal = self.setup.journal
        if journal is None:
            return
        try:
            with open_lots(journal) as lots:
                record = lots.record(self.lot.number)
            decision = record.standing.decision
            if decision is None:
                return
            self._enter_in_record(journal, "", closing(record, decision, self._person))
            self._closed = str(decision)
            self._write_papers(journal)
        except (JournalError, NoLot, NoSuchPlan, OSError) as why:
            self.noticed.append(str(why))
        self._view = None

    def _write_papers(self, journal: Path) -> None:
        with open_lots(journal) as lots:
            record = lots.record(self.lot.number)
            history = lots.history(self.lot.opened.supplier, self.lot.opened.sensor_type)
        if tightens(self.lot.receiving):
            self._next_lot = "stopped" if history.standing.stopped else str(history.standing.severity)
        folder = journal.parent / "papers"
        private_folder(folder)
        files = write_lot_papers(lot_papers(journal, record, history), folder)
        self._enter_papers(journal, files)
        self.noticed.append(self.board.words("lot.papers", folder=str(folder), count=len(files)))

    def _enter_papers(self, journal: Path, files: list[Path]) -> None:
        made = [
            DocumentMade("lot report", sha256(one.read_bytes()).hexdigest(), "", str(one)) for one in files
        ]
        note(journal, "papers", [(self.lot.number, "", one) for one in made])

    def _enter_in_record(self, journal: Path, serial: str, event: Event) -> None:
        note(journal, f"lot-{self.lot.number}", [(self.lot.number, serial, event)])

    def _note(self, serial: str, event: UnitPutAside) -> None:
        if self.setup.journal is None:
            return
        try:
            self._enter_in_record(self.setup.journal, serial, event)
        except JournalError as why:
            self.noticed.append(str(why))

    @property
    def _person(self) -> str:
        signed_in: PersonSignedIn | None = self._signed_in
        return "" if signed_in is None else signed_in.person

    # -- the desk ------------------------------------------------------------------------------------------------

    def make_desk(self, serials: tuple[str, ...], first: str | None) -> LotScanDesk:
        """A desk for the units of the draw."""
        desk = LotScanDesk(serials, self._inbox.put, first=first, signed_in=self._signed_in)
        if first is not None and first in self._marks:
            desk.marks[first] = self._marks[first]
        return desk

    def hand_over(self, serial: str) -> None:
        """Begin with a unit, and let its own serial be recorded."""
        desk = self._desk
        if isinstance(desk, LotScanDesk) and self.running and serial in self._marks:
            desk.marks[serial] = self._marks[serial]
        super().hand_over(serial)
