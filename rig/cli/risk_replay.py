"""One unit of a study played again: its bench, everything that happened, the truth."""

from __future__ import annotations

from dataclasses import asdict

from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.events import OrderInputs, Stamped
from rig.risk.case import Case
from rig.risk.draw import draw_unit
from rig.risk.trial import Outcome, try_unit


def print_replay(case: Case, seed: int, page: Page, *, as_json: bool) -> None:
    """Try one unit again and print how it went."""
    events: list[Stamped] = []
    outcome = try_unit(case, seed, events.append)
    told = [one for one in events if not isinstance(one.event, OrderInputs)]
    if as_json:
        print_json(_as_dict(case, outcome, told))
    else:
        _print(case, outcome, told, page)


def _print(case: Case, outcome: Outcome, events: list[Stamped], page: Page) -> None:
    bench = draw_unit(case, outcome.seed).bench_file
    page.say(
        f"unit with seed {outcome.seed} of order {case.order.number}: {outcome.details or outcome.fault}"
    )
    page.say(
        f"air {bench.air.temperature_c:.2f} \u00b0C, {bench.air.humidity_percent:.0f} %, "
        f"{bench.air.pressure_kpa:.2f} kPa; "
        f"scale off by {bench.target.zero_mm:+.3f} mm and {bench.target.scale_percent:+.4f} %; "
        f"light {bench.light.ambient}{' that leaks in' if bench.light.leaks else ''}"
    )
    page.heading("what happened")
    page.table((">s", "event", ""), [(f"{one.at_s:.3f}", one.event.kind, _figures(one)) for one in events])
    page.heading("what it is")
    page.pairs(
        [
            ("verdict", f"{outcome.verdict or 'none'}: {outcome.words}"),
            ("really", ", ".join(outcome.defects) or "sound"),
            ("when checking began", ", ".join(outcome.before) or "sound"),
            ("so", outcome.result),
        ]
    )


def _figures(stamped: Stamped) -> str:
    shown = {key: value for key, value in stamped.body().items() if value not in (None, "")}
    return ", ".join(f"{key} {value}" for key, value in shown.items())


def _as_dict(case: Case, outcome: Outcome, events: list[Stamped]) -> dict[str, object]:
    return {
        "order": case.order.number,
        "outcome": {**asdict(outcome), "result": str(outcome.result)},
        "bench": draw_unit(case, outcome.seed).bench_file.model_dump(mode="json", exclude_none=True),
        "events": [{"at_s": one.at_s, "kind": one.event.kind, **one.body()} for one in events],
    }
