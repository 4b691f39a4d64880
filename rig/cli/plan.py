"""`teachrig plan`: what would be done, and why, before anything moves."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rig.cli.exits import Exit, GiveUp
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    in_measured_air,
    open_library,
    read_order,
    read_profile,
    sound_bench,
)
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.plan_text import print_plan
from rig.cli.refusals import refusal_text, refusals_as_dict
from rig.cli.sweep import print_sweep
from rig.cli.worked_out import print_explained
from rig.explained.explain import explain
from rig.journal import JOURNAL_NAME
from rig.library import Library, Section
from rig.planning.compile import make_plan
from rig.planning.headroom import headroom
from rig.planning.planned import Planned, planned
from rig.planning.refusal import PlanRefused
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.tomlfile import DataFileError


def command(options: Namespace) -> int:
    """Print the plan of an order, its figures worked out, or what a sweep makes of it."""
    if options.csv is not None and options.sweep is None:
        raise GiveUp(Exit.BAD_INPUT, "--csv writes the table of a sweep; allowed: with --sweep")
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    rig = _as_it_is(read_profile(options.rig, library), options, library)
    try:
        plan = make_plan(order, sensor_type, rig, known=_known_types(library))
    except PlanRefused as refused:
        if options.json:
            print_json(refusals_as_dict(order, rig, refused))
        raise GiveUp(Exit.BAD_INPUT, refusal_text(order, rig, refused)) from None
    made = planned(order, sensor_type, rig, plan)
    if options.sweep is not None:
        print_sweep(made, options)
    elif options.json:
        print_json(_as_dict(made, explained=options.explain))
    else:
        page = Page()
        print_plan(made, page)
        if options.explain:
            print_explained(made, page)
    return Exit.DONE


def _as_it_is(rig: RigProfile, options: Namespace, library: Library) -> RigProfile:
    """The rig as it is calibrated, and in the air of now where that is asked for."""
    if options.air_now and rig.air.probe is None:
        words = f"--air-now: rig {rig.name} has no probe (air.probe); allowed: leave it out, the air is as typed in"
        raise GiveUp(Exit.BAD_INPUT, words)
    rig = as_calibrated_or_give_up(rig, data_folder(options.data) / JOURNAL_NAME)
    return in_measured_air(rig, sound_bench(rig, library)) if options.air_now else rig


def _known_types(library: Library) -> Iterator[SensorType]:
    """Every type that can be read; a broken file of another type is no reason to say nothing of the rest."""
    shown = Library(library.home)
    for name in shown.entries(Section.TYPES):
        try:
            yield shown.read_type(name)
        except DataFileError:
            continue


def _as_dict(made: Planned, *, explained: bool) -> dict[str, Any]:
    order = made.case.order
    data = {
        "order": order.number,
        "customer": order.customer,
        "quantity": order.quantity,
        "rig": made.case.rig.name,
        "output_type": made.setting.output_type,
        **asdict(made.plan),
        "set_point_budgets": [
            {"point": point or "range end", **asdict(budget)} for point, budget in made.budgets()
        ],
        "limits": [{**asdict(one), "left": one.left} for one in headroom(made)],
    }
    if explained:
        data["explained"] = [asdict(chapter) for chapter in explain(made)]
    return data
