"""`teachrig calibrate` and what follows: a corrected stage, refused orders, and what certificates say."""

from __future__ import annotations

import asyncio
import json
import re
from typing import Any

import pytest

from hal.bench import open_bench
from hal.simulated import simulate
from hal.simulated.clock import JumpingLoop
from rig.calibration.using import correct_by_calibration
from rig.library import Library, Section
from tests.cli.shop import Shop

BLOCKS = ("--reference", "gauge blocks, set 2", "--reference-error", "0.05")


def bench(shop: Shop, zero_mm: float, scale_percent: float = 0.0) -> str:
    target = f"[target]\nzero_mm = {zero_mm}\nscale_percent = {scale_percent}"
    text = f'title = "test"\nendless = true\n\n{target}\n\n[[unit]]\n'
    return str(shop.keep(Section.BENCHES, "off", text))


def order(shop: Shop, calibration: str) -> str:
    text = Section.ORDERS.shipped()["tipper-point-no"].read_text(encoding="utf-8")
    assert text.count("[checks]") == 1
    text = text.replace("[checks]", f'[checks]\ncalibration = "{calibration}"')
    return str(shop.keep(Section.ORDERS, "own", text))


def test_zero_and_scale_of_the_bench_are_found_and_told_with_their_uncertainty(shop: Shop) -> None:
    holds = bench(shop, zero_mm=-0.15, scale_percent=0.1)
    code, told = shop.run_json("calibrate", "--bench", holds, *BLOCKS, "--places", "21")
    assert code == 0, told["objections"]
    assert told["zero_mm"] == pytest.approx(-0.15, abs=4 * told["u_zero_mm"])
    assert told["scale"] == pytest.approx(1.001, abs=4 * told["u_scale"])
    assert len(told["residuals_mm"]) == 21
    assert told["due"] > told["day"]


def test_the_table_has_the_plot_and_what_follows(shop: Shop) -> None:
    code, out, _ = shop.run("calibrate", *BLOCKS)
    assert code == 0, out
    assert "measured less fitted" in out
    assert sum("|" in line or "*" in line for line in out.splitlines()) >= 11
    assert "the stage is corrected by it" in out


def test_calibrating_again_starts_from_the_raw_scale(shop: Shop) -> None:
    holds = bench(shop, zero_mm=-2.0)
    for _ in range(2):
        _, told = shop.run_json("calibrate", "--bench", holds, *BLOCKS)
        assert told["zero_mm"] == pytest.approx(-2.0, abs=4 * told["u_zero_mm"])


@pytest.mark.parametrize("zero_mm", [-2.0, 2.0])
def test_a_calibrated_stage_puts_the_target_where_it_is_wanted(shop: Shop, zero_mm: float) -> None:
    holds = bench(shop, zero_mm, scale_percent=0.1)
    assert abs(true_mm(shop, holds, 400.0) - 400.0) > 1.0
    shop.run("calibrate", "--bench", holds, *BLOCKS)
    profile = Library(home=None).read_rig("simulated").target
    assert true_mm(shop, holds, 400.0) == pytest.approx(400.0, abs=profile.placement_mm + 0.2)


def test_units_that_are_set_right_are_found_right_once_the_rig_is_calibrated(shop: Shop) -> None:
    holds = bench(shop, zero_mm=-12.0)
    code, told = shop.run_json("verify", "tipper-point-no", "--bench", holds)
    assert (code, told["counts"]["good"]) == (1, 0)
    shop.run("calibrate", "--bench", holds, *BLOCKS)
    code, told = shop.run_json("verify", "tipper-point-no", "--bench", holds, "--anew")
    assert (code, told["counts"]["good"]) == (0, 12)


def true_mm(shop: Shop, holds: str, at_mm: float) -> float:
    """Where the target really stands when work on an order sends it to a place."""

    async def moved() -> float:
        library = Library(home=None)
        profile, bench_file = library.read_rig("simulated"), library.read_bench(holds)
        simulated = simulate(profile, bench_file.as_ordered("barrel-18-rail"), asyncio.get_running_loop())
        async with await open_bench(profile, simulated.pin_factory, simulated.wires) as opened_bench:
            correct_by_calibration(opened_bench, shop.journal)
            await opened_bench.interlock.arm()
            await opened_bench.target.move_to(at_mm)
            assert opened_bench.target.position_mm == at_mm
            return simulated.world.target.true_mm

    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(moved())


def test_a_zero_that_cuts_off_an_end_of_the_way_is_objected_to(shop: Shop) -> None:
    code, told = shop.run_json("calibrate", "--bench", bench(shop, zero_mm=2.0), *BLOCKS)
    assert code == 1
    assert "correct the stage's own zero" in told["objections"][0]


def test_a_plan_counts_by_the_calibration_while_it_holds(shop: Shop) -> None:
    def zero_row() -> dict[str, float]:
        _, told = shop.run_json("plan", "tipper-point-no")
        rows: list[dict[str, Any]] = told["set_point_budgets"][0]["rows"]
        return next(row for row in rows if row["source"].startswith("zero of the nest"))

    before = zero_row()
    assert before["standard_uncertainty"] == pytest.approx(0.2 / 3**0.5)  # the profile's limit
    shop.run("calibrate", *BLOCKS, "--places", "21")
    assert zero_row()["standard_uncertainty"] < before["standard_uncertainty"]
    _, out, err = shop.run("plan", "tipper-point-no", "--explain")
    assert "by the calibration in force" in out
    assert "distances by calibration: zero within" in err
    assert "distances by calibration" in shop.run("run", "tipper-point-no")[2]
    assert shop.run("explain", "QOC18-0041")[0] == 0, (
        "the record leads to the verdict by what the run counted"
    )


def test_where_a_gauge_is_fitted_it_is_the_gauge_that_is_calibrated(shop: Shop) -> None:
    """Where a hand has put the target is known to 1 mm, what the gauge shows of it to 0.1 mm."""
    code, told = shop.run_json("calibrate", "--rig", "hand-gauge", *BLOCKS)
    assert code == 0, told["objections"]
    assert all(shown != round(shown) for shown in told["shown_mm"][1:])
    assert told["scatter_mm"] < 0.1


def test_a_calibration_whose_time_is_over_counts_no_more_and_is_told(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert shop.run("calibrate", *BLOCKS, "--valid-days", "1")[0] == 0
    monkeypatch.setattr("rig.calibration.calibration.Calibration.overdue", lambda *_: True)
    code, _, err = shop.run("plan", "tipper-point-no")
    assert code == 0
    assert "note: outside its calibration: the calibration of rig simulated was due on" in err
    assert "distances by calibration" not in err


def test_each_nest_has_its_own_calibration(shop: Shop) -> None:
    two = two_nests(shop)
    code, out, _ = shop.run("calibrate", "--rig", two, "--nest", "B", *BLOCKS)
    assert (code, "nest B" in out) == (0, True)
    assert "distances by calibration" not in shop.run("plan", "tipper-point-no", "--rig", two)[2]
    assert shop.run("calibrate", "--rig", two, *BLOCKS)[0] == 0
    assert "distances by calibration" in shop.run("plan", "tipper-point-no", "--rig", two)[2]
    code, _, err = shop.run("calibrate", "--rig", two, "--nest", "C", *BLOCKS)
    assert (code, "allowed: A, B" in err) == (2, True)


def two_nests(shop: Shop) -> str:
    text = Section.RIGS.shipped()["simulated"].read_text(encoding="utf-8")
    first = text[text.index("[[nest]]") :]
    spare = iter((2, 3, 6, 9, 10, 11, 12, 14, 15, 20))
    second = re.sub(r"GPIO\d+", lambda _: f"GPIO{next(spare)}", first.replace('"A"', '"B"'))
    return str(shop.keep(Section.RIGS, "two", f"{text}\n{second}"))


def test_of_several_nests_it_is_said_in_which_one_orders_are_worked(shop: Shop) -> None:
    code, _, err = shop.run("run", "tipper-point-no", "--rig", two_nests(shop))
    assert code == 0
    assert "note: orders are worked in nest A; not used: B" in err
    assert "not used" not in shop.run("run", "tipper-point-no", "--anew")[2]


def test_an_order_that_needs_a_calibrated_rig_is_refused_until_it_is(shop: Shop) -> None:
    own = order(shop, "needed")
    code, _, err = shop.run("run", own)
    assert code == 3
    assert "teachrig calibrate --rig simulated" in err
    assert shop.run("calibrate", *BLOCKS)[0] == 0
    assert shop.run("run", own)[0] == 0


def test_an_order_may_go_on_without_and_its_certificate_says_so_either_way(shop: Shop) -> None:
    own = order(shop, "marked")
    assert shop.run("run", own)[0] == 0
    assert "Not calibrated" in certificate(shop)
    assert shop.run("calibrate", *BLOCKS)[0] == 0
    assert "Not calibrated" in certificate(shop), "what was done before is not calibrated by what came after"
    assert shop.run("run", own, "--anew")[0] == 0
    assert "Distances calibrated on" in certificate(shop)
    assert shop.run("audit")[0] == 0


def certificate(shop: Shop) -> str:
    code, told = shop.run_json("certificate", "QOC18-0041")
    assert code == 0
    return json.dumps(told)


@pytest.mark.parametrize("error", ["0", "x", "-1", "nan"])
def test_a_reference_without_an_error_is_none(shop: Shop, error: str) -> None:
    with pytest.raises(SystemExit) as end:
        shop.run("calibrate", "--reference", "rule", "--reference-error", error)
    assert end.value.code == 2
