"""What is tested on a unit of a lot, on the simulated bench: each fault shows in its characteristic, and only there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from rig.events import ContactEnded, SettingLeft, UnitStarted
from rig.journal import read_journal
from rig.library import Library, Section
from rig.receiving.planned import CannotReceive, planned
from sequences.receiving import Characteristic
from tests.cli.shop import Shop, opened_elsewhere

# A row of the box, and what has to be found of its unit; the rest of what is tested has to be right, or left out.
UNITS: list[tuple[str, dict[str, str]]] = [
    ("", {}),
    ('faults = [{ kind = "over-current" }]', {"supply current": "bad"}),
    ('faults = [{ kind = "dead" }]', {"supply current": "undecided"}),
    ('faults = [{ kind = "wrong-output-type" }]', {"output type and rest state": "bad"}),
    ('arrives = { mode = "full-range", output_function = "NC" }', {"output type and rest state": "bad"}),
    ('arrives = { mode = "single-point", near_mm = 250 }', {"factory setting": "bad"}),
    # Set nearly to the end of its range: told from a short range by teaching it the whole of it.
    ('arrives = { mode = "single-point", near_mm = 700 }', {"factory setting": "bad"}),
    ("change = { range_mm = 700 }", {"far end of the range": "bad"}),
    ("change = { blind_zone_mm = 80 }", {"end of the blind zone": "bad"}),
    ('faults = [{ kind = "led-dark" }]', {"LED": "undecided"}),
    ('faults = [{ kind = "refuses-teach" }]', {"trial setting": "bad"}),
    ('faults = [{ kind = "stores-wrongly", offset_mm = 25.0 }]', {"trial setting": "bad"}),
    ('faults = [{ kind = "wide-hysteresis", percent = 8.0 }]', {"trial setting": "bad"}),
]


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    return opened_elsewhere(tmp_path, monkeypatch, capsys)


def every_unit(shop: Shop, rows: list[str], *, restore: bool = True) -> list[dict[str, str]]:
    """Test each of these units; what was judged of each, in the order of the box, at its first try."""
    shipped = Section.RECEIVING.shipped()["barrel-18-rail"].read_text(encoding="utf-8")
    plan = shipped.replace("[sampling]", "[sampling]\nall = true").replace(
        "restore = true", f"restore = {str(restore).lower()}"
    )
    shop.keep(Section.RECEIVING, "barrel-18-rail", plan)
    units = "".join(f"[[unit]]\nkind = 'barrel-18-rail'\n{row}\n" for row in rows)
    shop.keep(Section.BENCHES, "box", f"title = 'a box'\nboxed = true\n{units}")
    entered = (
        "--supplier",
        "Hazelbourne",
        "--note",
        "DN-1",
        "--type",
        "barrel-18-rail",
        "--quantity",
        str(len(rows)),
    )
    assert shop.run("lot", "open", "L", *entered)[0] == 0
    shop.run("lot", "run", "L", "--bench", "box")
    return [
        {one["characteristic"]: one["verdict"] for one in explained(shop, place)["characteristics"]}
        for place in range(1, len(rows) + 1)
    ]


def explained(shop: Shop, place: int) -> dict[str, list[dict[str, str]]]:
    code, told = shop.run_json("explain", f"L-{place:04}", "--run", "1")
    assert code == 0, "the record of the unit leads to its verdict"
    return told  # type: ignore[no-any-return]


def test_each_fault_shows_in_its_characteristic_and_in_no_other(shop: Shop) -> None:
    found = every_unit(shop, [row for row, _ in UNITS])
    for (row, wanted), judged in zip(UNITS, found, strict=True):
        assert {name: verdict for name, verdict in judged.items() if verdict != "good"} == wanted, row
    assert list(found[0]) == [str(one) for one in Characteristic]


def left() -> Iterator[tuple[str, bool]]:
    for one in read_journal(Path("../data/journal.sqlite3")):
        if isinstance(one.event, SettingLeft):
            yield one.event.setting, one.event.as_delivered


@pytest.mark.parametrize(
    ("restore", "setting", "contacts"),
    [(True, ("full-range NO", True), 4), (False, ("single-point NO 400 mm", False), 2)],
)
def test_a_unit_leaves_as_the_plan_says(
    shop: Shop, restore: bool, setting: tuple[str, bool], contacts: int
) -> None:
    every_unit(shop, [""], restore=restore)
    assert list(left()) == [setting]
    events = [one.event for one in read_journal(Path("../data/journal.sqlite3"))]
    assert sum(isinstance(one, ContactEnded) for one in events) == contacts
    assert sum(isinstance(one, UnitStarted) for one in events) == 1


def test_a_plan_is_refused_where_type_or_rig_cannot_show_what_it_asks_for() -> None:
    library = Library(None)
    receiving, sensor_type = library.read_receiving("barrel-18-rail")
    rig = library.read_rig("simulated")
    short = rig.model_copy(update={"target": rig.target.model_copy(update={"farthest_mm": 700.0})})
    with pytest.raises(
        CannotReceive, match=r"test\.far_end: the target of this rig does not come to the far end"
    ):
        planned(receiving, sensor_type, short)
    untaught = receiving.model_copy(
        update={"trial": None, "test": receiving.test.model_copy(update={"trial_setting": None})}
    )
    silent = sensor_type.model_copy(update={"led_shows_output": False})
    with pytest.raises(CannotReceive, match=r"test\.led: .* no answer of it is waited for"):
        planned(untaught, silent, rig)
