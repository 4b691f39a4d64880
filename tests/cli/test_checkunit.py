"""`teachrig checkunit`: from a set unit to its charts; a signal stops orders until somebody has looked and measured."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime

import pytest

from hal.errors import NoAnswer
from rig.control.at_desk import WhileInControl
from rig.control.gate import Leave
from rig.library import Section
from rig.sequencer.desk import Listed
from tests.cli.shop import Shop

UNIT = "QOC18-0071"


def test_a_signal_stops_orders_until_somebody_has_looked(shop: Shop) -> None:
    text = Section.ORDERS.shipped()["press-point-no"].read_text(encoding="utf-8")
    text = text.replace("quantity = 4", "quantity = 1").replace(
        ', "QOC18-0072", "QOC18-0073", "QOC18-0074"', ""
    )
    order = str(shop.keep(Section.ORDERS, "one", text))
    assert shop.run("run", order)[0] == 0
    assert shop.run("checkunit", "keep", UNIT, "--by", "Maren")[0] == 0
    code, told = shop.run_json("checkunit", "measure", "--by", "Maren")
    assert (code, told["measured"]) == (0, 1)
    first, second = shop.run_json("checkunit", "measure")[1]["charts"]["outer"]["values"]
    assert first == told["charts"]["outer"]["values"][0] != second

    other = text.replace('"QOC18-0071"', '"QOC18-0072"').replace("QOC-0109", "QOC-0110")
    assert shop.run("run", str(shop.keep(Section.ORDERS, "two", other)))[0] == 0

    text = 'title = "off"\nendless = true\n\n[target]\nscale_percent = 0.6\n\n[[unit]]\n'
    off = str(shop.keep(Section.BENCHES, "off", text))
    code, told = shop.run_json("checkunit", "measure", "--bench", off)
    assert code == 1
    assert "beyond-uncertainty" in told["open_signals"]
    assert told["judged_since_trusted"] == ["QOC18-0072"]
    for command in ("run", "verify"):
        code, _, err = shop.run(command, order, "--anew")
        assert code == 3
        assert "gave a signal" in err

    for act in (("keep", UNIT), ("give-up", "--by", "Tobias", "--why", "cable torn")):
        code, _, err = shop.run("checkunit", *act)
        assert (code, "nobody has looked into" in err) == (2, True)

    looked = ("--by", "Tobias", "--found", "belt of the stage slack, tightened", "--cause", "rig")
    assert shop.run("checkunit", "look", *looked)[0] == 0
    code, _, err = shop.run("checkunit", "look", *looked)
    assert (code, "no signal" in err) == (2, True)
    assert shop.run("checkunit", "show")[0] == 1, "it was not measured again"
    assert shop.run("checkunit", "measure", "--by", "Tobias")[0] == 0
    code, out, _ = shop.run("checkunit", "show")
    assert code == 0
    assert "belt of the stage slack, tightened" in " ".join(out.split())
    assert shop.run("run", order, "--anew")[0] == 0
    assert shop.run("audit")[0] == 0
    assert shop.run("checkunit", "give-up", "--by", "Tobias", "--why", "cable torn")[0] == 0
    assert shop.run("checkunit", "show")[0] == 2


def test_an_order_that_asks_for_the_check_unit_is_refused_on_a_rig_that_keeps_none(shop: Shop) -> None:
    text = Section.ORDERS.shipped()["tipper-point-no"].read_text(encoding="utf-8")
    own = shop.keep(Section.ORDERS, "own", text.replace("[checks]", '[checks]\ncheck_unit = "needed"'))
    code, _, err = shop.run("run", str(own))
    assert code == 3
    assert "keeps none" in err


def test_only_a_good_unit_with_a_set_point_is_kept(shop: Shop) -> None:
    assert shop.run("run", "infeed-full-range")[0] == 0
    full_range = shop.run_json("units", "--verdict", "good")[1]["units"][0]["serial"]
    for serial, words in (("NOBODY", "no unit NOBODY"), (full_range, "has no set point")):
        code, _, err = shop.run("checkunit", "keep", serial)
        assert code == 2
        assert words in err
    code, _, err = shop.run("checkunit", "measure")
    assert code == 2
    assert "keeps no check unit" in err
    code, _, err = shop.run("checkunit", "keep", full_range, "--rule", "seven")
    assert code == 2
    assert "allowed: careful, four, eight" in err


def test_an_order_in_work_ends_before_the_next_unit_when_a_new_shift_begins() -> None:
    moments = [datetime(2026, 3, 4, hour, tzinfo=UTC) for hour in (13, 14)]
    desk = WhileInControl(Listed(("A", "B")), Leave(until=moments[1]), now=lambda: moments.pop(0))
    assert asyncio.run(desk.next_serial(None)) == "A"  # type: ignore[arg-type]
    with pytest.raises(NoAnswer, match="a new shift began at 14:00"):
        asyncio.run(desk.next_serial(None))  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.parametrize(("bench", "signal"), [("sound", False), ("creeping-scale", True)])
def test_a_sound_rig_stays_in_control_and_a_creeping_scale_is_found(
    shop: Shop, bench: str, signal: bool
) -> None:
    assert shop.run("run", "press-point-no")[0] == 0
    assert shop.run("checkunit", "keep", UNIT)[0] == 0
    codes = []
    while len(codes) < 45 and 1 not in codes:
        codes.append(shop.run("checkunit", "measure", "--bench", bench)[0])
    told = shop.run_json("checkunit", "show")[1]
    assert (1 in codes) is signal, told["open_signals"]
    if signal:
        # The scale creeps from the twentieth on, by 0.06 mm a shift at this set point; the rig reads within 0.5 mm.
        assert 20 < len(codes) < 36
        assert "beyond-uncertainty" not in told["open_signals"]
    else:
        (chart,) = told["charts"].values()
        assert chart["limits_fixed"]
        assert chart["in_control"]
