"""`teachrig sampling`: designs a sampling plan for received lots, and explains it, without a lot."""

from __future__ import annotations

import math
import sys
from argparse import Namespace
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.sampling_data import CURVE_COLUMNS, as_dict, curve_rows
from rig.cli.sampling_text import print_designed, print_proof
from rig.cli.writing import STANDARD_OUTPUT, write_lines
from rig.csvtext import csv_lines
from rig.sampling.design import Point, plan_by_two_points, zero_acceptance_plan
from rig.sampling.designed import Designed
from rig.sampling.estimate import Seen
from rig.sampling.plan import Decision, NoSuchPlan, SinglePlan, whole_lot
from rig.sampling.proof import Proof, proof_of, seen_of
from rig.sampling.sequential import SequentialPlan
from rig.sampling.sequential_design import sequential_plan
from rig.sampling.standard import Level, Severity, standard_plan
from rig.sampling.variables import VariablesPlan, variables_plan
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Design and explain."""
    _check_together(options)
    try:
        designed = _designed(options)
    except NoSuchPlan as refused:
        raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    follows = None if options.found is None else _follows(designed, options)
    with reader_may_leave():
        if options.csv is not None:
            _write_csv(designed, options)
        if options.json:
            print_json(as_dict(designed) | ({} if follows is None else {"found": follows.as_dict()}))
        elif follows is not None:
            print_proof(designed, follows.proof, Page())
        elif options.csv is None:
            print_designed(designed, Page())
    rejected = follows is not None and follows.decision is Decision.REJECTED
    return Exit.NOT_ALL_GOOD if rejected else Exit.DONE


@dataclass(frozen=True, slots=True)
class _Follows:
    decision: Decision
    seen: Seen
    proof: Proof

    def as_dict(self) -> dict[str, Any]:
        return {"decision": self.decision, **asdict(self.seen), **asdict(self.proof)}


def _follows(designed: Designed, options: Namespace) -> _Follows:
    """What follows from what was found."""
    plan, (bad, tested) = designed.plan, options.found
    if isinstance(plan, VariablesPlan) or designed.lot_size is None:
        words = "--found is about one lot, judged by counting; add --lot N, and leave out --by values"
        raise GiveUp(Exit.BAD_INPUT, words)
    assert isinstance(plan, SinglePlan | SequentialPlan)
    try:
        known = seen_of(plan, tested, bad)
    except ValueError as wrong:
        raise GiveUp(Exit.BAD_INPUT, f"--found: {wrong}") from None
    if known is None:
        words = f"--found: {bad} bad of {tested} tested decides nothing yet; test on"
        raise GiveUp(Exit.BAD_INPUT, words)
    seen, decision = known
    return _Follows(decision, seen, proof_of(plan, seen, decision, designed.lot_size))


def _check_together(options: Namespace) -> None:
    standard, points = options.aql is not None, options.good is not None or options.poor is not None
    for wrong, words in (
        (
            not (standard or points or options.plan or options.zero),
            "nothing says what the plan is for; allowed: --lot with --aql, --good with --poor, --zero with --poor, "
            "or --plan",
        ),
        (standard and options.lot is None, "--aql needs the size of the lot; add --lot N"),
        (
            standard and (points or options.isolated),
            "--aql looks a plan up; --good, --poor and --isolated design one",
        ),
        (options.plan and points, "--plan is a plan already; --good and --poor design one"),
        (
            options.zero and (options.poor is None or options.good is not None),
            "--zero needs --poor, and no --good",
        ),
        (
            points and not options.zero and not (options.good and options.poor),
            "two points make a plan; give --good and --poor, or --zero and --poor",
        ),
        (options.isolated and options.lot is None, "--isolated is about one lot; add --lot N"),
        (
            options.by != "counting" and (options.isolated or not (options.good and options.poor)),
            f"--by {options.by} needs --good and --poor, of the process",
        ),
        (options.tightened and not standard, "--tightened belongs to --aql"),
        (
            options.csv == STANDARD_OUTPUT and options.json,
            "--csv and --json both want standard output; give --csv a FILE",
        ),
    ):
        if wrong:
            raise GiveUp(Exit.BAD_INPUT, words)


def _designed(options: Namespace) -> Designed:
    lot_size: int | None = options.lot
    isolated = lot_size if options.isolated else None
    if options.aql is not None:
        severity = Severity.TIGHTENED if options.tightened else Severity.NORMAL
        found = standard_plan(options.lot, options.aql, level=Level(options.level), severity=severity)
        return Designed(found.plan, lot_size, standard=found)
    if options.plan:
        return Designed(_within(SinglePlan(*options.plan), lot_size), lot_size, isolated=options.isolated)
    poor = Point(*options.poor)
    if options.zero:
        plan = _within(zero_acceptance_plan(poor, isolated), lot_size)
        return Designed(plan, lot_size, poor=poor, isolated=options.isolated)
    good = Point(*options.good)
    match options.by:
        case "values" | "values-known-spread":
            measured = variables_plan(good, poor, known_spread=options.by == "values-known-spread")
            return Designed(measured, lot_size, good, poor)
        case "unit-by-unit":
            steps = sequential_plan(good, poor)
            return Designed(steps if lot_size is None else steps.for_lot(lot_size), lot_size, good, poor)
    counted = plan_by_two_points(good, poor, isolated)
    if lot_size is not None and counted.sample_size >= lot_size:
        # So many as make a good lot: the number of a larger sample would let a small lot pass whatever is in it.
        counted = whole_lot(lot_size, math.floor(good.share_bad * lot_size + 1e-9))
    return Designed(counted, lot_size, good, poor, isolated=options.isolated)


def _within(plan: SinglePlan, lot_size: int | None) -> SinglePlan:
    return plan if lot_size is None else plan.for_lot(lot_size)


def _write_csv(designed: Designed, options: Namespace) -> None:
    lines = csv_lines(CURVE_COLUMNS, curve_rows(designed))
    if options.csv == STANDARD_OUTPUT:
        sys.stdout.writelines(lines)
        return
    count = write_lines(Path(options.csv), lines, force=options.force)
    narrate(f"{count - 1} rows: {printable(options.csv)}")
