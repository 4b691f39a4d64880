"""The screen of a gauge study: the working screen, which at the end shows what the study comes to."""

from __future__ import annotations

from collections.abc import Mapping

from rig.screen.study_work import StudyWork
from rig.screen.view.arrangement import Arrangement
from rig.screen.view.board import Phase
from rig.screen.view.lines import Line
from rig.screen.view.study import study_plots, study_tally
from rig.screen.widgets import LinesView
from rig.screen.working import WorkingScreen


class StudyScreen(WorkingScreen):
    """The trials of one study."""

    work: StudyWork

    def __init__(self, work: StudyWork) -> None:
        super().__init__(work)

    def commands(self) -> Mapping[str, str]:
        """Those of an order, whose list of units a study does not have."""
        return {name: key for name, key in super().commands().items() if name != "units"}

    def tally(self, width: int) -> Line:
        """How the study stands."""
        return study_tally(self.work.board, self.work.course, width)

    def _paint_panels(self, arrangement: Arrangement, width: int) -> None:
        figures = self.work.figures
        ended = self.work.board.phase is Phase.ENDED and figures is not None
        for name in ("#ruler", "#middle"):
            self.query_one(name).display = not (ended and name == "#ruler")
        super()._paint_panels(arrangement, width)
        if ended and figures is not None:
            steps = self.query_one("#steps", LinesView)
            self.query_one("#states", LinesView).display = False
            steps.show(study_plots(figures, self.words, steps.size.height))
