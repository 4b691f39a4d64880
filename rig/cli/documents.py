"""Papers from the record as files: each as a PDF for paper, and as one HTML file for the office."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from rig.calibration.using import words_of
from rig.cli.exits import Exit, GiveUp
from rig.cli.writing import write_file
from rig.control.check_unit import Account
from rig.control.history import account_before
from rig.decisions import by_hand_words
from rig.events import DecidedByHand
from rig.gauge.course import Study
from rig.gauge.figures import Figures
from rig.papers.certificate import certificate
from rig.papers.certificate_facts import CertificateFacts, NoCertificate, certificate_of
from rig.papers.gauge_study import gauge_study
from rig.papers.paper import Paper
from rig.papers.paper_html import paper_html
from rig.papers.paper_pdf import paper_pdf
from rig.papers.report import report
from rig.papers.report_facts import ByHand, ReportFacts, report_of
from rig.papers.setting_facts import SettingFacts
from rig.papers.tries import NEEDED
from rig.records import Listed, Records
from rig.recount.recount import recount
from rig.software import software_version
from rig.store.private import private_folder
from wiring.plainwords import printable, safe_name
from wiring.profile import RigProfile


def made_by() -> str:
    """What made a paper."""
    return f"teachrig {software_version()}"


def certificate_facts(records: Records, attempts: Sequence[Listed], order: str | None) -> CertificateFacts:
    """What the last attempt at a unit, or the last one for an order, says; raises NoCertificate."""
    own = [one for one in attempts if order is None or one.order == order]
    if not own:
        raise NoCertificate("not begun yet")
    chosen = own[-1]
    attempt = records.attempt(chosen)
    decided = _by_hand(records, chosen)
    later = (*((decided.words,) if decided else ()), *_later(attempts, chosen))
    facts = certificate_of(
        attempt, recount(attempt), person=chosen.person, seal=records.seal(chosen), later=later
    )
    return replace(facts, setting=_calibrated(records, chosen, facts.setting))


def order_facts(records: Records, number: str) -> ReportFacts:
    """What the record says of an order; raises NoReport."""

    def decided(serial: str) -> ByHand | None:
        own = [one for one in records.attempts(serial) if one.order == number]
        return _by_hand(records, own[-1]) if own else None

    facts = report_of(number, records.of_order(number, *NEEDED), decided)
    if facts.setting is None or not facts.units:
        return facts
    own = [one for one in records.attempts(facts.units[-1].last.serial) if one.order == number]
    control = replace(facts.control, check_unit=_check_unit(records, own[-1], facts))
    return replace(facts, setting=_calibrated(records, own[-1], facts.setting), control=control)


def _check_unit(records: Records, last: Listed, facts: ReportFacts) -> Account | None:
    """The check unit of the rig as it stood when the order was last worked on."""
    return account_before(records.database, facts.runs[-1].rig, last.last, last.bench) if facts.runs else None


def _calibrated(records: Records, chosen: Listed, setting: SettingFacts) -> SettingFacts:
    """The setting with what stands of the calibration under which an attempt was made, where there was one."""
    inputs = records.attempt(chosen).inputs
    if inputs is None:
        return setting
    rig = RigProfile.model_validate_json(json.dumps(inputs.rig))
    calibration = records.calibration(chosen, rig.name, rig.nest[0].name)
    if calibration is None:
        return setting
    day = datetime.fromisoformat(chosen.began_utc).date()
    return replace(setting, calibration=words_of(calibration, rig, day))


def _by_hand(records: Records, chosen: Listed) -> ByHand | None:
    decided = records.decision(chosen)
    if decided is None or not isinstance(decided.event, DecidedByHand):
        return None
    words = f"{by_hand_words(decided.event)} ({decided.utc[:10]}). The bench itself was undecided."
    return ByHand(chosen.serial, decided.event.verdict, words)


def _later(attempts: Sequence[Listed], chosen: Listed) -> tuple[str, ...]:
    after = attempts[attempts.index(chosen) + 1 :]
    if not after:
        return ()
    last = after[-1]
    return (
        f"This is not the last that was done with this unit: it was put in again for order {last.order}, and is "
        f"{last.verdict or 'not finished'} since.",
    )


@dataclass(frozen=True, slots=True)
class Sheet:
    """A paper that is ready to be written or printed; `serial` is empty where it is about a whole order, or a lot."""

    paper: Paper
    stem: str
    order: str
    serial: str
    one_page: bool = False

    def pdf(self) -> bytes:
        """Its pages; of one unit, or where one is wanted, one, if its letters may be small enough for that."""
        return paper_pdf(self.paper, one_page=self.one_page or bool(self.serial))


def certificate_sheet(facts: CertificateFacts) -> Sheet:
    """The certificate of a unit."""
    paper = certificate(facts, made_by())
    return Sheet(paper, f"unit-{safe_name(facts.serial)}", facts.setting.order, facts.serial)


def report_sheet(facts: ReportFacts) -> Sheet:
    """The report on an order."""
    return Sheet(report(facts, made_by()), f"report-{safe_name(facts.order)}", facts.order, "")


def write_sheet(sheet: Sheet, pdf: bytes, folder: Path, *, force: bool) -> tuple[Path, ...]:
    """Write a paper into a folder, as PDF and for a browser; returns its files."""
    return _write(sheet.paper, pdf, folder / sheet.stem, force=force)


def write_paper(paper: Paper, stem: Path, *, one_page: bool, force: bool) -> tuple[Path, ...]:
    """Write a paper as PDF and HTML, named `stem`; returns the files."""
    return _write(paper, paper_pdf(paper, one_page=one_page), stem, force=force)


def write_study(study: Study, figures: Figures, folder: Path, *, force: bool) -> tuple[Path, ...]:
    """Write the paper of a gauge study into a folder; returns its files."""
    stem = folder / f"gauge-study-{safe_name(study.design.study)}"
    return write_paper(gauge_study(study, figures, made_by()), stem, one_page=False, force=force)


def _write(paper: Paper, pdf: bytes, stem: Path, *, force: bool) -> tuple[Path, ...]:
    make_folder(stem.parent)
    paths = tuple(stem.with_name(f"{stem.name}{suffix}") for suffix in (".pdf", ".html"))
    for path, content in zip(paths, (pdf, paper_html(paper)), strict=True):
        write_file(path, content, force=force)
    return paths


def make_folder(folder: Path) -> None:
    """Make a folder where there is none."""
    try:
        private_folder(folder)
    except OSError as error:
        words = f"{printable(str(folder))}: no folder can be made there: {error.strerror}"
        raise GiveUp(Exit.BAD_INPUT, words) from None
