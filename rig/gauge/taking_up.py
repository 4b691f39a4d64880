"""Taking a study up: by what its units are measured, whether this is its rig, and what it comes to at its end."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hal.simulated.already_set import already_set
from hal.simulated.benchfile import BenchFile
from rig.events import OrderInputs, StudyOpened
from rig.gauge.course import Course, Study
from rig.gauge.figures import Figures, figures_of
from rig.gauge.history import note_on_study, study_named
from rig.gauge.scale import scale_of
from rig.gauge.told import conclusion_event
from rig.gauge.verdict import conclude
from rig.planning.plan import Plan
from rig.recount.attempt import rebuilt
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.saying import say

KEPT = "kept-ten"
"""What a simulated bench holds for a study where nothing else is said."""

_LARGEST_SEED = 2**63


@dataclass(frozen=True, slots=True)
class Files:
    """What a study was opened with."""

    order: Order
    sensor_type: SensorType
    rig: RigProfile


def files_of(study: Study) -> Files:
    """The files of a study, from its record; raises NotRebuilt."""
    assert isinstance(study.opened.event, StudyOpened), "that is what opens a study"
    inputs = OrderInputs(**study.opened.event.inputs)
    return Files(
        rebuilt("order", Order, inputs.order),
        rebuilt("sensor type", SensorType, inputs.sensor_type),
        rebuilt("rig profile", RigProfile, inputs.rig),
    )


def other_rig(study: Study, files: Files, profile: RigProfile) -> str:
    """Why a study cannot go on with a rig profile; empty if it can."""
    if profile == files.rig:
        return ""
    return say(
        "rig profile {rig} is not the one that study {study} was opened with; allowed: that one (--rig), or a new "
        "study: teachrig study gauge open",
        rig=profile.name,
        study=study.design.study,
    )


def furnished(bench_file: BenchFile, course: Course, plan: Plan) -> BenchFile:
    """A simulated bench whose units come set, for the trials that are left: chance goes on where it was left.

    Raises ValueError for a bench that holds too few units.
    """
    ready, wanted = sum(row.count for row in bench_file.unit), len(course.design.units)
    if ready < wanted and not bench_file.endless:
        words = "the simulated bench holds {ready} units, the study wants {wanted}"
        raise ValueError(say(words, ready=ready, wanted=wanted))
    seed = (bench_file.seed + len(course.readings) + sum(course.failed.values())) % _LARGEST_SEED
    points_mm = [at_mm * plan.scale for _, at_mm in plan.set_points]
    seeded = bench_file.model_copy(update={"seed": seed})
    return already_set(seeded, plan.mode, plan.output_function, points_mm)


def figures_from(study: Study) -> Figures | None:
    """The figures of a study by its record alone; None while a value is missing. Raises NotRebuilt."""
    return figures_of(study.course, scale_of(study.course, files_of(study).rig))


def conclude_if_whole(journal: Path, number: str) -> Study:
    """A study of the record, with what it comes to entered once it has all its values.

    Raises JournalError, and NotRebuilt.
    """
    study = study_named(journal, number)
    assert study is not None, "it was run"
    figures = figures_from(study)
    if figures is None or study.concluded is not None:
        return study
    note_on_study(journal, conclusion_event(figures, conclude(figures)))
    concluded = study_named(journal, number)
    assert concluded is not None, "it was there just now"
    return concluded
