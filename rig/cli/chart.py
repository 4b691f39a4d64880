"""`teachrig chart`: whether production, or the check unit, is in control, and how capable the work is."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from rig.cli.asking import asked_store, nothing
from rig.cli.charted import capability_as_dict, chart_as_dict, print_capability, print_chart, print_rules
from rig.cli.checkunit import show
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.writing import STANDARD_OUTPUT, write_lines
from rig.control.chart import Watching
from rig.control.production import Each, Point, Studied, deviations, rows_of, studied
from rig.control.rules import rules_named
from rig.control.said import control_words, false_alarm_words
from rig.csvtext import csv_lines
from wiring.check_unit import RunRule
from wiring.plainwords import printable

_MOST_DRAWN = 6


def command(options: Namespace) -> int:
    """Chart what was asked for; 0 if it is in control, 1 on a signal."""
    if options.rules:
        with reader_may_leave():
            print_rules(Page())
        return Exit.DONE
    if options.check_unit:
        return show(options)
    watching = Watching(_rules(options.rule or ["careful"]), ranges=options.ranges)
    each = None if options.each is None else Each(options.each)
    with asked_store(options) as (connection, wanted):
        points = deviations(connection, wanted)
    charts = studied(points, each, watching)
    with reader_may_leave():
        _tell(options, charts, watching, points)
    if options.out is not None and charts:
        from rig.cli.charted_paper import write_charts  # what makes papers takes longer to load than the rest

        write_charts(charts, watching, options.out, force=options.force)
    return Exit.DONE if all(one.chart.in_control for one in charts) else Exit.NOT_ALL_GOOD


def _rules(names: Sequence[str]) -> tuple[RunRule, ...]:
    try:
        return rules_named(names)
    except ValueError as wrong:
        raise GiveUp(Exit.BAD_INPUT, f"--rule: {wrong}") from None


def _tell(options: Namespace, charts: Sequence[Studied], watching: Watching, points: Sequence[Point]) -> None:
    if options.csv is not None:
        _write(options, charts)
    elif options.json:
        print_json({"each": options.each, "charts": [_as_dict(one) for one in charts]})
    elif not nothing(charts):
        _print(charts, watching, Page())
        simulated = sum(one.simulated for one in points)
        if simulated:
            every_one = "all" if simulated == len(points) else f"{simulated} of {len(points)}"
            narrate(f"SIMULATED: {every_one} of these come from a simulated bench, their units are made up")


def _write(options: Namespace, charts: Sequence[Studied]) -> None:
    rows = [row for one in charts for row in rows_of(one)]
    names = list(rows[0]) if rows else []
    lines = csv_lines(names, ([row[name] for name in names] for row in rows))
    if options.csv == STANDARD_OUTPUT:
        for line in lines:
            print(line, end="")
    else:
        count = write_lines(Path(options.csv), lines, force=options.force)
        narrate(f"{count - 1} rows: {printable(options.csv)}")


def _print(charts: Sequence[Studied], watching: Watching, page: Page) -> None:
    if len(charts) > 1:
        page.table(_COLUMNS, [_row(one) for one in charts])
    if alarms := false_alarm_words(watching):
        page.say(f"watched by {', '.join(watching.rules)} and EWMA; {alarms}")
    for one in charts[:_MOST_DRAWN]:
        page.heading(f"{printable(one.title)}: deviation from the set point at the machine")
        print_chart(one.chart, page, one.unit)
        if one.capability is not None:
            page.say("")
            print_capability(one.capability, page, one.unit)
    if (more := len(charts) - _MOST_DRAWN) > 0:
        page.say(f"\n{more} more are not drawn; ask for fewer")


_COLUMNS = ("chart of", ">values", ">mean", ">st. dev.", "unit", ">Cp or Pp", ">Cpk or Ppk", "in control")


def _row(one: Studied) -> tuple[str, ...]:
    base, capable = one.chart.baseline, one.capability
    figures = ("-", "-") if capable is None else (f"{capable.potential:.2f}", f"{capable.actual:.2f}")
    spread = "-" if base is None else f"{base.sigma:.3f}"
    return (
        printable(one.title),
        str(len(one.values)),
        "-" if base is None else f"{base.centre:+.3f}",
        spread,
        one.unit,
        *figures,
        control_words(one.chart),
    )


def _as_dict(one: Studied) -> dict[str, object]:
    return {
        "group": one.group,
        "edge": one.edge,
        "unit": one.unit,
        "serials": [point.serial for point in one.points],
        **chart_as_dict(one.chart),
        "capability": None if one.capability is None else capability_as_dict(one.capability),
    }
