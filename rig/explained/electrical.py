"""The calculation sheet of a rig: whether its electrical values go together, each with limit and source.

`electrical_sheet` works everything out from the rig profile. A result beyond its limit is flagged, not refused: the
person who builds may know a part better than its usual figures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rig.explained.electrical_board import board_inputs, board_outputs
from rig.explained.electrical_power import coils, fuses, heartbeat
from rig.explained.electrical_wires import inputs, output_channel, supplies, teach_path
from rig.explained.limits import Limited, LimitSheet
from wiring.profile import RigProfile


@dataclass(frozen=True, slots=True)
class ElectricalChapter:
    """Results that belong together."""

    title: str
    results: tuple[Limited, ...]


_CHAPTERS: tuple[Callable[[LimitSheet, RigProfile], None], ...] = (
    supplies,
    teach_path,
    output_channel,
    inputs,
    board_inputs,
    board_outputs,
    coils,
    heartbeat,
    fuses,
)


def electrical_sheet(profile: RigProfile) -> tuple[ElectricalChapter, ...]:
    """Every result, chapter by chapter."""
    sheet = LimitSheet()
    for work_out in _CHAPTERS:
        work_out(sheet, profile)
    return tuple(ElectricalChapter(title, results) for title, results in sheet.chapters() if results)


def out_of_bounds(chapters: tuple[ElectricalChapter, ...]) -> tuple[Limited, ...]:
    """The results that are beyond their limits."""
    return tuple(one for chapter in chapters for one in chapter.results if not one.within)
