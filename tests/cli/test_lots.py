"""A lot from the box to the decision, by the commands: the simulated box of 120 units with six faulty ones."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from collections import Counter
from pathlib import Path

from pypdf import PdfReader

from rig.events import LotClosed
from rig.journal import read_journal
from rig.library import Section
from rig.noting import note
from rig.records import open_records
from rig.recount.recount import recount
from tests.cli.shop import Shop

SUPPLIER = "Hazelbourne Supplies"
# What is wrong in the box, as its file says: NPN, dark LED, long blind zone, stores wrongly, dead, used before.
FAULTY = {19: "critical", 42: "minor", 67: "major", 84: "major", 98: "major", 112: "major"}
SMALL = """
name = "small"
title = "Seven units of the box"
sensor_type = "barrel-18-rail"
output_type = "PNP"
restore = true
[sampling]
units = 3
curtail = false
[accept.critical]
most = 0
[accept.major]
most = 0
[accept.minor]
most = 0
[test.supply_current]
defect = "major"
[test.output]
defect = "critical"
[test.led]
defect = "minor"
"""
BOX = """
title = "A small box"
boxed = true
[[unit]]
kind = "barrel-18-rail"
count = {sound}
[[unit]]
kind = "barrel-18-rail"
faults = [{{ kind = "{fault}" }}]
"""

# Runs the lot and ends without any clean-up, as by SIGKILL, once the second unit has its supply.
KILLED = """
import os, rig.chronicle
from rig.cli.main import main
from rig.events import SupplySwitched, UnitStarted
note, begun = rig.chronicle.Chronicle.note, []
def noted(self, event):
    note(self, event)
    begun.append(isinstance(event, UnitStarted))
    if sum(begun) == 2 and isinstance(event, SupplySwitched):
        self._journal.barrier().result()
        os._exit(9)
rig.chronicle.Chronicle.note = noted
main(["lot", "run", "L-1", "--bench", "box"])
"""


def small(shop: Shop, *, sound: int = 4, fault: str = "wrong-output-type") -> None:
    shop.keep(Section.RECEIVING, "small", SMALL)
    shop.keep(Section.BENCHES, "box", BOX.format(sound=sound, fault=fault))


def opened(shop: Shop, lot: str, quantity: int, *more: str, seed: int = 1) -> tuple[int, str, str]:
    words = (
        "--supplier",
        SUPPLIER,
        "--note",
        "DN-4471",
        "--type",
        "barrel-18-rail",
        "--quantity",
        str(quantity),
    )
    return shop.run("lot", "open", lot, *words, "--seed", str(seed), *more)


def opened_small(shop: Shop, lot: str = "L-1", quantity: int = 5, *more: str, seed: int = 1) -> None:
    assert opened(shop, lot, quantity, "--plan", "small", *more, seed=seed)[0] == 0


def state(shop: Shop, lot: str = "L-1") -> dict[str, object]:
    told: dict[str, object] = shop.run_json("lot", "show", lot)[1]
    return told


def seed_that_draws(place: int, quantity: int = 5, units: int = 3) -> int:
    from rig.lots.draw import drawn

    return next(seed for seed in range(1000) if place in drawn(quantity, seed)[:units])


def seed_without(place: int, quantity: int = 5, units: int = 3) -> int:
    from rig.lots.draw import drawn

    return next(seed for seed in range(1000) if place not in drawn(quantity, seed)[:units])


def rejected_like_the_first(lot: str) -> None:
    """The decision of another lot in the record, without a bench."""
    journal = Path("../data/journal.sqlite3")
    closed = [one.event for one in read_journal(journal) if isinstance(one.event, LotClosed)]
    note(journal, lot, [(lot, "", dataclasses.replace(closed[0], lot=lot))])


def test_a_box_with_six_faulty_units_by_the_shipped_plan(shop: Shop) -> None:
    assert opened(shop, "LOT-7", 120, seed=3)[0] == 0
    assert shop.run("lot", "run", "LOT-7", "--bench", "delivery", "--by", "Maren")[0] == 1
    told = state(shop, "LOT-7")
    drawn = told["places"]
    assert isinstance(drawn, list)
    assert len(drawn) == 50
    found = {unit["place"]: unit for unit in told["units"] if unit["verdict"] == "bad"}  # type: ignore[attr-defined]
    assert found.keys() == FAULTY.keys() & set(drawn)
    assert len(found) >= 2
    for place, unit in found.items():
        assert FAULTY[place] in unit["defects"].values(), unit
        assert unit["put_aside"]
    code, out, _ = shop.run("lot", "close", "LOT-7", "--by", "Maren")
    assert code == 1
    assert "lot LOT-7 is rejected" in out
    assert "tightened if one of the next 4 lots is rejected" in out
    one = f"LOT-7-{next(iter(found)):04}"
    code, told, _ = shop.run("explain", one)
    assert code == 0
    assert "lot LOT-7 from " in told
    assert "mA, allowed" in told
    told = shop.run("unit", one)[1]
    assert "received in lot LOT-7" in told
    code, _, err = shop.run("report", "LOT-7")
    assert (code, "is a lot; allowed: teachrig lot papers LOT-7" in err) == (2, True)
    with open_records(Path("../data/journal.sqlite3")) as records:
        tries = [one for place in (*found, *drawn[:5]) for one in records.attempts(f"LOT-7-{place:04}")]
        assert all(recount(records.attempt(one)).agrees for one in tries)


def test_a_sound_box_is_accepted_and_says_what_that_does_not_prove(shop: Shop) -> None:
    small(shop)
    opened_small(shop, seed=seed_without(5))
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 0
    code, out, _ = shop.run("lot", "close", "L-1")
    assert code == 0
    assert "is accepted: 0 of 3 units with a defect" in out
    assert "up to 2 more may be in it" in " ".join(out.split())


def test_a_dead_unit_is_to_blame_once_a_sound_one_has_cleared_the_bench(shop: Shop) -> None:
    small(shop, fault="dead")
    opened_small(shop, seed=seed_that_draws(5))
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 1
    dead = next(unit for unit in state(shop)["units"] if unit["place"] == 5)  # type: ignore[attr-defined]
    assert dead["verdict"] == "bad"
    assert dead["settled_by"] == "two tries, and a sound unit between them"
    assert dead["defects"] == {"supply current": "major"}
    assert shop.run("lot", "close", "L-1", "--out", "papers")[0] == 1
    for name, words in (("lot", "1 with a major defect, 0 accepted"), ("complaint", "Place 5: L-1-0005")):
        pdf = PdfReader(f"papers/{name}-L-1.pdf")
        assert len(pdf.pages) == 1
        page = " ".join(pdf.pages[0].extract_text().split())
        assert words in page
        assert "U+" not in page
        assert words in Path(f"papers/{name}-L-1.html").read_text(encoding="utf-8")


def test_a_lot_of_one_is_tested_and_decided(shop: Shop) -> None:
    assert opened(shop, "ONE", 1)[0] == 0
    assert state(shop, "ONE")["places"] == [1]


def test_a_number_that_is_taken_is_refused_and_nothing_is_lost(shop: Shop) -> None:
    small(shop)
    opened_small(shop)
    code, _, said = opened(shop, "L-1", 5, "--plan", "small")
    assert code == 2
    assert "lot L-1 is there already" in said
    assert state(shop)["state"] == "open"


def test_a_box_that_holds_other_units_than_were_entered(shop: Shop) -> None:
    small(shop)
    opened_small(shop, quantity=6)
    code, _, said = shop.run("lot", "run", "L-1", "--bench", "box")
    assert code == 2
    assert "the box holds 5 units, lot L-1 was entered with 6" in said
    assert (
        shop.run("lot", "change", "L-1", "--quantity", "5", "--why", "counted again", "--by", "Maren")[0] == 0
    )
    assert max(state(shop)["places"]) <= 5  # type: ignore[type-var]
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] in (0, 1)
    assert "by Maren: 5 units instead of 6: counted again" in shop.run("lot", "show", "L-1")[1]
    # No lot shrinks until the units with a defect have dropped out of it.
    code, _, said = shop.run("lot", "change", "L-1", "--quantity", "2", "--why", "counted again")
    assert (
        code,
        "3 units of lot L-1 were tested already (given --quantity 2); allowed: 3 or more" in said,
    ) == (2, True)


def test_another_plan_midway_keeps_what_was_tested(shop: Shop) -> None:
    small(shop)
    opened_small(shop, seed=seed_without(5))
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 0
    shop.keep(Section.RECEIVING, "small", SMALL.replace("units = 3", "units = 5"))
    assert shop.run("lot", "change", "L-1", "--plan", "small", "--why", "agreed with the buyer")[0] == 0
    told = state(shop)
    assert (told["good"], told["state"], len(told["left"])) == (3, "open", 2)  # type: ignore[arg-type]
    assert shop.run("lot", "close", "L-1")[0] == 1
    shop.keep(Section.RECEIVING, "small", SMALL + '[test.far_end]\ndefect = "major"\n')
    code, _, said = shop.run("lot", "change", "L-1", "--plan", "small", "--why", "one test more")
    assert code == 2
    assert "also asks for far end of the range, which 3 units were not tested for" in said


def test_a_closed_lot_is_worked_on_only_after_it_was_reopened(shop: Shop) -> None:
    small(shop)
    opened_small(shop, seed=seed_without(5))
    shop.run("lot", "run", "L-1", "--bench", "box")
    assert shop.run("lot", "close", "L-1")[0] == 0
    for act in (("run", "L-1"), ("close", "L-1"), ("change", "L-1", "--quantity", "4", "--why", "so")):
        code, _, said = shop.run("lot", *act)
        assert code == 2
        assert "teachrig lot reopen L-1" in said
    assert shop.run("lot", "reopen", "L-1", "--why", "plug was loose", "--by", "Maren")[0] == 0
    told = state(shop)
    assert (told["state"], told["good"]) == ("can be accepted", 3)
    assert shop.run("lot", "close", "L-1")[0] == 0
    assert "opened once more: plug was loose" in shop.run("lot", "show", "L-1")[1]


def test_a_lot_that_was_cut_off_by_a_kill_goes_on_where_it_stood(shop: Shop) -> None:
    """The program is killed in the middle of the second unit, without a chance to say so."""
    small(shop)
    opened_small(shop, seed=seed_without(5))
    killed = subprocess.run([sys.executable, "-c", KILLED], cwd=Path(__file__).parents[2], check=False)
    assert killed.returncode == 9
    told = state(shop)
    assert (told["good"], len(told["left"])) == (1, 2)  # type: ignore[arg-type]
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 0
    assert (state(shop)["good"], state(shop)["state"]) == (3, "can be accepted")
    begun = [
        one.serial
        for one in read_journal(Path("../data/journal.sqlite3"))
        if one.event.kind == "unit-started"
    ]
    assert sorted(Counter(begun).values()) == [1, 1, 2]


def test_a_trip_leaves_the_lot_open_and_it_goes_on_afterwards(shop: Shop) -> None:
    small(shop)
    pressed = '[[fault]]\nkind = "stop-pressed"\nfrom_unit = 2\nafter_s = 6.0\n'
    shop.keep(Section.BENCHES, "stopped", BOX.format(sound=4, fault="dead") + pressed)
    opened_small(shop, seed=seed_without(5))
    code, _, said = shop.run("lot", "run", "L-1", "--bench", "stopped")
    assert code == 3
    assert "teachrig lot run L-1" in said
    assert (state(shop)["good"], len(state(shop)["left"])) == (1, 2)  # type: ignore[arg-type]
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 0


def test_two_persons_decide_where_the_bench_cannot(shop: Shop) -> None:
    """One unit, dead: no sound one clears the bench, so it stays undecided until two persons say what it is."""
    small(shop, sound=1, fault="dead")
    shop.keep(Section.RECEIVING, "small", SMALL.replace("units = 3", "units = 1"))
    opened_small(shop, quantity=2, seed=seed_that_draws(2, 2, 1))
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 1
    code, _, said = shop.run("lot", "close", "L-1")
    assert code == 1
    assert "the bench is undecided about the units of places 2" in said
    two = ("--by", "Maren", "--released-by", "Tobias", "--reason", "dead on a second bench too")
    assert shop.run("decide", "L-1-0002", "bad", *two)[0] == 0
    assert state(shop)["units"][0]["settled_by"] == "two persons"  # type: ignore[index]
    assert shop.run("lot", "close", "L-1")[0] == 1
    assert "lot L-1 is rejected" in shop.run("lot", "show", "L-1")[1]


def test_a_unit_with_a_defect_is_put_aside_by_an_act_of_its_own(shop: Shop) -> None:
    small(shop)
    opened_small(shop, seed=seed_that_draws(5))
    assert shop.run("lot", "run", "L-1", "--bench", "box", "--by", "Maren")[0] == 1
    aside = [
        one
        for one in read_journal(shop.home.parent / "data" / "journal.sqlite3")
        if one.event.kind == "unit-put-aside"
    ]
    assert [(one.serial, one.event.person) for one in aside] == [("L-1-0005", "Maren")]  # type: ignore[attr-defined]
    sound = next(place for place in state(shop)["places"] if place != 5)  # type: ignore[attr-defined]
    code, _, said = shop.run("lot", "aside", "L-1", str(sound))
    assert code == 2
    assert "is sound" in said


def test_a_lot_is_not_closed_while_a_unit_with_a_defect_may_lie_in_the_box(shop: Shop) -> None:
    """The person falls silent before the unit is put aside; that is said later, by hand."""
    shop.keep(Section.RECEIVING, "small", SMALL.replace("units = 3", "units = 1"))
    silent = '[[fault]]\nkind = "person-silent"\nfrom_unit = 1\nafter_s = 1.0\n'
    shop.keep(Section.BENCHES, "box", BOX.format(sound=1, fault="wrong-output-type") + silent)
    opened_small(shop, quantity=2, seed=seed_that_draws(2, 2, 1))
    assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 1
    code, _, said = shop.run("lot", "close", "L-1")
    assert code == 1
    assert "have not been put aside: places 2" in said
    assert state(shop)["state"] == "cannot be accepted any more"
    assert shop.run("lot", "aside", "L-1", "2", "--by", "Maren")[0] == 0
    assert "lot L-1 is rejected" in shop.run("lot", "close", "L-1")[1]


def test_lots_that_were_rejected_tighten_the_next_and_five_more_stop_it(shop: Shop) -> None:
    plan = SMALL.replace("units = 3\n", 'level = "S-1"\n').replace(
        "[accept.major]\nmost = 0", "[accept.major]\naql_percent = 6.5"
    )
    shop.keep(Section.RECEIVING, "small", plan)
    shop.keep(Section.BENCHES, "box", BOX.format(sound=1, fault="dead").replace("dead", "wrong-output-type"))
    for number in range(1, 8):
        opened_small(shop, f"L-{number}", 2)
        assert state(shop, f"L-{number}")["inspection"] == ("normal" if number < 3 else "tightened")
        if number == 1:
            assert shop.run("lot", "run", "L-1", "--bench", "box")[0] == 1
            assert shop.run("lot", "close", "L-1")[0] == 1
        else:
            rejected_like_the_first(f"L-{number}")
    code, _, said = opened(shop, "L-8", 2, "--plan", "small")
    assert code == 1
    assert "no lot is opened: stopped" in said
    opened_small(shop, "L-8", 2, "--mended", "new supplier of output stages")
    assert state(shop, "L-8")["inspection"] == "tightened"
    code, told = shop.run_json("lot", "supplier", SUPPLIER)
    assert (code, told[0]["defective"], told[0]["stopped"]) == (0, 7, False)
    assert told[0]["faults"][0]["characteristic"] == "output type and rest state"


def test_a_rejected_lot_that_comes_again_does_not_count_for_switching(shop: Shop) -> None:
    small(shop)
    opened_small(shop, seed=seed_that_draws(5))
    code, _, said = opened(shop, "L-2", 5, "--plan", "small", "--resubmits", "L-1")
    assert code == 2
    assert "allowed: there is none" in said
    shop.run("lot", "run", "L-1", "--bench", "box")
    assert shop.run("lot", "close", "L-1")[0] == 1
    opened_small(shop, "L-2", 5, "--resubmits", "L-1")
    assert "comes again" in shop.run("lot", "show", "L-2")[1]


def test_a_plan_that_cannot_be_done_names_every_reason(shop: Shop) -> None:
    small(shop)
    shop.keep(Section.RECEIVING, "small", SMALL.replace('"PNP"', '"push-pull"'))
    opened_small(shop)
    code, _, said = shop.run("lot", "run", "L-1", "--bench", "box")
    assert code == 2
    assert "barrel-18-rail has no push-pull output; allowed: PNP, NPN" in said
