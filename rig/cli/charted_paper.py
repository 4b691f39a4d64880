"""Control charts as files to sign: PDF for paper, HTML for a browser."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rig.cli.documents import made_by, write_paper
from rig.cli.exits import narrate
from rig.control.chart import Watching
from rig.control.check_unit import Account
from rig.control.production import Studied
from rig.papers.control_sheet import charts_paper, check_unit_paper
from rig.papers.paper import Paper
from wiring.plainwords import printable, safe_name


def write_check_unit(
    account: Account, suspects: Sequence[str], folder: Path, *, simulated: bool, force: bool
) -> None:
    """Write the charts of a check unit into a folder, and say where."""
    paper = check_unit_paper(account, suspects, made_by(), simulated=simulated)
    _write(paper, folder / f"check-unit-{safe_name(account.unit.serial)}", force=force)


def write_charts(charts: Sequence[Studied], watching: Watching, folder: Path, *, force: bool) -> None:
    """Write charts over production into a folder, and say where."""
    simulated = any(point.simulated for one in charts for point in one.points)
    _write(
        charts_paper(charts, watching, made_by(), simulated=simulated), folder / "control-charts", force=force
    )


def _write(paper: Paper, stem: Path, *, force: bool) -> None:
    for file in write_paper(paper, stem, one_page=False, force=force):
        narrate(printable(str(file)))
