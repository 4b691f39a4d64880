"""A gauge study led through by the screen: only the right person with the right unit, left and gone on with."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from rig.cli.main import main
from rig.gauge.desk import Asks
from rig.library import Library
from rig.screen.orders import recent_orders
from rig.screen.setup import Bench, CannotStart
from rig.screen.studies import STUDY, study_lines, study_rows
from rig.screen.study_work import StudyWork, study_setup
from rig.screen.view.board import Phase
from rig.screen.view.lines import text_of
from rig.screen.view.study import study_plots, study_tally
from rig.screen.view.wording import Words
from rig.session import JOURNAL_NAME

PATIENCE_S = 60.0
OPEN = ("study", "gauge", "open", "spares-window-measured", "--units", "Q-1,Q-2", "--people", "Maren,Tobias")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    assert main([*OPEN, "--repeats", "2", "--seed", "4", "--data", str(tmp_path)]) == 0
    library = Library(None)
    journal = tmp_path / JOURNAL_NAME
    return Bench(library, library.read_rig("simulated"), "kept-ten", journal, quickest_s=0.0, real_time=False)


def begun(bench: Bench, language: str = "en") -> StudyWork:
    return StudyWork(study_setup(bench, None), Words(language))


def until(work: StudyWork, true: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end_s, (work.board.phase, work.board.ended_by, work.board.failure)
        work.pump()
        time.sleep(0.005)


def one_trial(work: StudyWork) -> None:
    """As the screen asks: who, which unit, put in, taken out."""
    until(work, lambda: work.board.phase.takes_serial)
    while (wanted := work.wanted) is not None and wanted.asks is Asks.LEVEL:
        work.enter(wanted.name)
    assert wanted is not None
    work.enter(wanted.name)
    for phase in (Phase.FIT, Phase.TAKE_OUT):
        until(work, lambda phase=phase: work.board.phase is phase)  # type: ignore[misc]
        work.enter("")


def test_it_leads_through_a_study_that_is_left_and_gone_on_with(bench: Bench) -> None:
    work = begun(bench)
    first = work.course.left[0]
    assert first.level.upper() == work.instruction().large
    refused = work.enter("Ilse")
    assert refused is not None
    assert (refused.serial, refused.key) == (None, "study.not-person")
    work.enter(first.level.lower())
    assert work.instruction().large == first.unit
    refused = work.enter(next(unit for unit in ("Q-1", "Q-2") if unit != first.unit))
    assert refused is not None
    assert refused.key == "study.not-unit"
    assert work.board.phase is Phase.READY  # nothing was begun

    for _ in range(3):
        one_trial(work)
    until(work, lambda: work.board.phase is Phase.SCAN)
    assert "3 of 8 trials" in text_of(study_tally(work.board, work.course, 100))
    assert work.board.edges == ()  # nobody is told what was measured
    assert work.leave("left")

    again = begun(bench)
    assert len(again.course.left) == 5
    assert again.course.left[0] == again.course.design.trials[3]
    for _ in range(5):
        one_trial(again)
    until(again, lambda: again.board.phase is Phase.ENDED)
    assert again.figures is not None
    said = again.instruction()
    assert said.large in ("FIT", "RESERVE", "NOT FIT")
    assert "% of the tolerance of 12 mm" in said.sentence
    plots = [text_of(one) for one in study_plots(again.figures, Words("en"), 30)]
    assert any("A Maren, B Tobias" in one for one in plots)
    over = again.enter("Q-1")
    assert over is not None
    assert over.key == "study.over"
    assert begun(bench).board.phase is Phase.ENDED
    assert "%" in begun(bench, "de").instruction().sentence


def test_what_stands_against_it_is_said(bench: Bench, tmp_path: Path) -> None:
    with pytest.raises(CannotStart, match="knows no such gauge study"):
        study_setup(bench, "GAUGE-9")
    library = Library(None)
    other = Bench(library, library.read_rig("hand-gauge"), "kept-ten", tmp_path / JOURNAL_NAME)
    with pytest.raises(CannotStart, match="is not the one that study"):
        study_setup(other, None)
    few = Bench(library, library.read_rig("simulated"), "hopper-unit", tmp_path / JOURNAL_NAME)
    with pytest.raises(CannotStart, match="the simulated bench holds 1 units"):
        study_setup(few, None)


def test_an_open_study_stands_among_the_orders_and_is_no_order_to_be_taught(bench: Bench) -> None:
    words = Words("en")
    (heading, row) = study_rows(bench.journal, words)
    assert "gauge studies" in text_of(heading.line)
    assert "0 of 8 trials" in text_of(row.line)
    told = "\n".join(
        text_of(one) for one in study_lines(bench.journal, row.key.removeprefix(STUDY), words, 60)
    )
    assert "Maren, Tobias" in told
    assert "QOC-0118" in told
    work = begun(bench)
    one_trial(work)
    until(work, lambda: work.board.phase is Phase.SCAN)
    assert work.leave("left")
    assert recent_orders(bench) == []
    assert "1 of 8 trials" in text_of(study_rows(bench.journal, words)[1].line)
