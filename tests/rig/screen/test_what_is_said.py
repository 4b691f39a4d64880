"""The instruction of every moment has room on the smallest screen, to its last word."""

from __future__ import annotations

from pathlib import Path

import pytest

from hal.errors import TripCause, TripKind
from hal.operator import RequestKind
from rig.events import Asked, Stamped
from rig.screen.view.arrangement import Arrangement, said_rows
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import Instruction, instruction
from rig.screen.view.lines import text_of
from rig.screen.view.notices import Barred, ResetWanted
from rig.screen.view.wording import LANGUAGES, Words
from tests.rig.screen.shop import SIZES, bench_at, order_text
from wiring.saying import say

WIDTH, HEIGHT = SIZES["small"]


@pytest.fixture(params=LANGUAGES)
def board(request: pytest.FixtureRequest, tmp_path: Path) -> Board:
    path = tmp_path / "order.toml"
    path.write_text(order_text(3), encoding="utf-8")
    return Board.of(bench_at(tmp_path).order(str(path)).job, Words(request.param))


def cut_off(said: Instruction) -> str:
    """What does not fit below the large word."""
    rows = [text_of(row) for row in said_rows(said.sentence, said.more, WIDTH - 2)]
    assert len(rows) <= Arrangement.of(WIDTH, HEIGHT, len(rows)).said
    return next((row for row in rows if row.endswith("~")), "")


@pytest.mark.parametrize("kind", TripKind)
def test_after_a_trip_cause_remedy_and_way_on_fit_in_full(kind: TripKind, board: Board) -> None:
    board.notice(ResetWanted(TripCause(kind, "", ""), "QOC18-0041", True))
    assert cut_off(instruction(board)) == ""
    board.phase = Phase.FAILED  # such as a lost instrument: the bench has to be opened anew
    assert cut_off(instruction(board)) == ""


@pytest.mark.parametrize("key", ["failed", "not-finished", "none-today", "profile-changed"])
def test_why_no_unit_is_taught_fits_in_full(key: str, board: Board) -> None:
    board.barred = Barred(f"barred.{key}", {"when": "2026-01-05 07:12"})
    assert cut_off(instruction(board)) == ""


@pytest.mark.parametrize("why", ["kept-none", "signal", "not-measured", "no-result", "not-again"])
def test_why_the_check_unit_comes_first_fits_in_full(why: str, board: Board) -> None:
    board.barred = Barred(f"barred.unit-{why}", about="barred-unit")
    assert cut_off(instruction(board)) == ""


def test_a_slow_slide_that_is_asked_for_once_more_fits_in_full(board: Board) -> None:
    hint = say(
        "Once more: {words}. ", words=say("the output changed {changes} times in one slide", changes=3)
    )
    text = say(
        "{hint}Slide the target slowly {way}{end}: {pace}.",
        hint=hint,
        way="away from the unit",
        end=say("; stop when told, at {to_mm:.0f} mm at the latest", to_mm=565.0),
        pace=say("no faster than {slide_mm_s:g} mm a second", slide_mm_s=10.0),
    )
    asked = Asked(RequestKind.SLIDE_OUT, text, 565.0)
    board.take(Stamped(1, 0, "2026-01-05T07:00:00.000Z", "QOC-0190", "QOC18-0041", asked))
    assert cut_off(instruction(board)) == ""
    if board.words.language == "de":
        assert "Noch einmal: der Ausgang wechselte 3-mal" in instruction(board).sentence
