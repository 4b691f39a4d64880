"""`teachrig selfcheck` as its user meets it: table, JSON, exit codes, and what becomes of it at the next order."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from rig.events import SelfCheckEnded, SelfCheckStarted, Stamped
from rig.journal import Journal
from rig.library import Section
from rig.selfcheck.history import history_of, last_check, run_name
from tests.cli.shop import Shop


def note_check(shop: Shop, rig: str, outcome: str) -> None:
    """Leave a self-check of a rig in the record."""
    journal = Journal(shop.journal, run_name(rig))
    utc = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    for number, event in enumerate(
        (SelfCheckStarted(rig, "0" * 64, simulated=False, software="test"), SelfCheckEnded(rig, outcome)),
        start=1,
    ):
        journal.record(Stamped(number, number, utc, "", "", event))
    journal.close()


def bench(shop: Shop, fault: str) -> str:
    text = f'title = "test"\n\n[[unit]]\n\n[[fault]]\n{fault}\n'
    return str(shop.keep(Section.BENCHES, "broken", text))


def test_a_sound_bench_passes_and_every_part_is_told(shop: Shop) -> None:
    code, out, err = shop.run("selfcheck")
    assert code == 0, out + err
    for part in ("teach contact of nest A", "heartbeat", "stop button"):
        assert f"+  {part}" in out
    assert "units may be taught on it" in out
    assert "SIMULATED BENCH" in err
    assert "TRIPPED" not in err


def test_a_broken_bench_fails_and_says_what_to_do_where(shop: Shop) -> None:
    code, out, _ = shop.run("selfcheck", "--bench", bench(shop, 'kind = "selector-stuck"'))
    assert code == 3
    assert "x  rail selector of nest A" in out
    assert "-K12:11" in out.partition("what to do")[2]
    assert "no unit is taught on it" in out


def test_a_bench_that_cannot_be_opened_has_failed_too(shop: Shop) -> None:
    broken = bench(shop, 'kind = "supply-sag"\nvoltage_v = 12.0')
    code, told = shop.run_json("selfcheck", "--bench", broken)
    assert code == 3
    assert told["outcome"] == "failed"
    assert {one["outcome"] for one in told["checks"][1:]} == {"not done"}
    assert "-T1" in told["checks"][0]["check"]
    found = last_check(shop.journal, "simulated")
    assert found is not None
    assert found.outcome == "failed"


def test_json_has_every_figure_with_its_limits(shop: Shop) -> None:
    code, told = shop.run_json("selfcheck")
    assert (code, told["rig"], told["outcome"], told["simulated"]) == (0, "simulated", "passed", True)
    figures = {(one["part"], figure["name"]): figure for one in told["checks"] for figure in one["figures"]}
    operate = figures["teach contact of nest A", "operate"]
    assert operate["value"] <= operate["high"] == pytest.approx(0.012)


def test_the_next_one_finds_what_earlier_ones_measured(shop: Shop) -> None:
    for _ in range(3):
        assert shop.run("selfcheck")[0] == 0
    history = history_of(shop.journal, "simulated")
    assert len(history.figures["load relay of nest A", "operate"]) == 3
    assert history.last is not None
    assert history.last.outcome == "passed"
    assert last_check(shop.journal, "another") is None


def test_the_record_stays_whole(shop: Shop) -> None:
    assert shop.run("selfcheck")[0] == 0
    assert shop.run("audit")[0] == 0


@pytest.mark.parametrize("outcome", ["failed", "not done"])
def test_no_unit_is_taught_on_a_board_whose_last_self_check_failed(shop: Shop, outcome: str) -> None:
    note_check(shop, "single-nest", outcome)
    code, _, err = shop.run("run", "tipper-point-no", "--rig", "single-nest")
    assert code == 3
    assert "teachrig selfcheck --rig single-nest" in err


def test_a_board_without_a_self_check_today_gets_a_note(shop: Shop) -> None:
    _, _, err = shop.run("run", "tipper-point-no", "--rig", "single-nest")
    assert "note: there was no self-check today" in err


def test_the_simulated_bench_teaches_whatever_its_self_check_said(shop: Shop) -> None:
    note_check(shop, "simulated", "failed")
    code, _, err = shop.run("run", "tipper-point-no")
    assert "self-check" not in err
    assert code == 0


def test_bench_and_real_time_belong_to_the_simulated_bench(shop: Shop) -> None:
    code, _, err = shop.run("selfcheck", "--rig", "single-nest", "--bench", "sound")
    assert code == 2
    assert "belong to the simulated bench" in err
